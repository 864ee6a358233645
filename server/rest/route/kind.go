package route

import (
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
)

// Kind is how a method is answered.
type Kind int

// Kinds of answers.
const (
	Unary  Kind = iota // a message as JSON
	Lines              // a stream of messages, one JSON object a line
	Ranges             // bytes of a file, of which parts can be asked for
	File               // bytes of a file made for this request
	Upload             // takes bytes, answers with JSON
)

// KindOf tells how a method is answered, by what it takes and gives.
func KindOf(m protoreflect.MethodDescriptor) Kind {
	bytes := (&pb.DownloadResponse{}).ProtoReflect().Descriptor().FullName()
	switch {
	case m.IsStreamingClient():
		return Upload
	case !m.IsStreamingServer():
		return Unary
	case m.Output().FullName() != bytes:
		return Lines
	case m.Input().Fields().ByName("offset") != nil:
		return Ranges
	default:
		return File
	}
}

// Elsewhere names fields of the request that HTTP has its own place for: Range, Content-Length.
func (r Route) Elsewhere() []string {
	switch r.Method {
	case pb.TransferService_Download_FullMethodName:
		return []string{"offset", "length"}
	case pb.TransferService_UploadOriginal_FullMethodName:
		return []string{"size"}
	default:
		return nil
	}
}

// Parameter says whether a field can stand in a query: scalars, enums, lists of them, and masks.
func Parameter(f protoreflect.FieldDescriptor) bool {
	return !f.IsMap() && (f.Message() == nil || f.Message().FullName() == "google.protobuf.FieldMask" && !f.IsList())
}
