package taxaimport

import (
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

// refusal tells the archive's word about one record from a failure of the whole.
func refusal(err error) (Fault, bool) {
	st, ok := status.FromError(err)
	if err == nil || !ok {
		return Fault{}, false
	}
	switch st.Code() {
	case codes.InvalidArgument, codes.NotFound, codes.AlreadyExists, codes.FailedPrecondition, codes.Aborted:
	default:
		return Fault{}, false
	}
	var violations []*pb.FieldViolation
	for _, d := range st.Details() {
		if br, ok := d.(*errdetails.BadRequest); ok {
			for _, v := range br.GetFieldViolations() {
				violations = append(violations, &pb.FieldViolation{Field: v.GetField(), Description: v.GetDescription()})
			}
		}
	}
	return faultOf(st.Message(), violations), true
}

// faultOf puts the archive's word into the terms of a row. The archive's descriptions say themselves what was found.
func faultOf(message string, violations []*pb.FieldViolation) Fault {
	if len(violations) == 0 {
		return Fault{Reason: "the archive refused it: " + message}
	}
	texts := make([]string, len(violations))
	for i, v := range violations {
		texts[i] = v.GetField() + " " + v.GetDescription()
	}
	return Fault{Column: violations[0].GetField(), Reason: "the archive refused it: " + strings.Join(texts, "; ")}
}
