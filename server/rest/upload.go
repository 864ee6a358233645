package rest

import (
	"errors"
	"io"
	"net/http"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/encoding/protojson"

	pb "platarium/proto/platarium/v1"
)

// chunk is how many bytes go in one message; the contract takes 1 MiB.
const chunk = 1 << 20

// upload takes the bytes of an original at the address that is their sha256. Nothing but the length is looked at here: the services count and hash what comes.
type upload struct{ *call }

func (u upload) answer(w http.ResponseWriter, r *http.Request) error {
	if r.ContentLength < 0 {
		return &httpError{http.StatusLengthRequired, refusal(codes.InvalidArgument, "LENGTH_REQUIRED", "say the length of the file in Content-Length")}
	}
	if r.Header.Get(IdempotencyKey) != "" {
		return invalid(IdempotencyKey, "isn't needed: a file is stored once, at the address that is its sha256")
	}
	header := &pb.UploadHeader{Size: r.ContentLength}
	for _, v := range u.template.Vars {
		header.Sha256 = v.Value(r.PathValue)
	}
	if err := parameters(r.URL, header.ProtoReflect(), append(u.route.Elsewhere(), "sha256")); err != nil {
		return err
	}
	s, err := u.open(r, grpc.StreamDesc{ClientStreams: true})
	if err != nil {
		return err
	}
	if err := send(s, header, r.Body); err != nil {
		return err
	}
	var res pb.UploadOriginalResponse
	if err := s.RecvMsg(&res); err != nil {
		return err
	}
	b, err := protojson.Marshal(&res)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(b, '\n')) // a caller who is gone hears nothing
	return nil
}

// send sends header and bytes until they end, or the services have heard enough: then the reason comes with their answer.
func send(s grpc.ClientStream, header *pb.UploadHeader, from io.Reader) error {
	err := s.SendMsg(&pb.UploadOriginalRequest{Part: &pb.UploadOriginalRequest_Header{Header: header}})
	buf := make([]byte, chunk)
	for left := header.GetSize(); err == nil && left > 0; {
		n, ended := io.ReadFull(from, buf[:min(left, chunk)])
		if ended != nil {
			return refusal(codes.InvalidArgument, "BODY", "the file ended early")
		}
		left -= int64(n)
		// The codec copies the message before SendMsg returns: the buffer can be used again.
		err = s.SendMsg(&pb.UploadOriginalRequest{Part: &pb.UploadOriginalRequest_Chunk{Chunk: buf[:n]}})
	}
	if errors.Is(err, io.EOF) { // the services have ended the stream
		return nil
	}
	return errors.Join(err, s.CloseSend())
}
