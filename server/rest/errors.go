package rest

import (
	"errors"
	"fmt"
	"net/http"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/protoadapt"
)

// domain stands in ErrorInfo, as in errors of the services.
const domain = "platarium"

// httpError is an error whose HTTP status isn't that of its code.
type httpError struct {
	status int
	err    error
}

func (e *httpError) Error() string { return e.err.Error() }
func (e *httpError) Unwrap() error { return e.err }

// refusal is an error found before the services were asked, in the form of theirs.
func refusal(code codes.Code, reason, text string, more ...protoadapt.MessageV1) error {
	st, err := status.New(code, text).WithDetails(append([]protoadapt.MessageV1{&errdetails.ErrorInfo{Reason: reason, Domain: domain}}, more...)...)
	if err != nil {
		return status.Error(code, text)
	}
	return st.Err()
}

// invalid is the error for one field, parameter or header.
func invalid(field, format string, args ...any) error {
	text := fmt.Sprintf(format, args...)
	return refusal(codes.InvalidArgument, "INVALID_FIELD", field+": "+text, &errdetails.BadRequest{
		FieldViolations: []*errdetails.BadRequest_FieldViolation{{Field: field, Description: text}},
	})
}

func errNoRoute(r *http.Request) error {
	return refusal(codes.NotFound, "NO_ROUTE", "nothing is at "+r.URL.Path+"; /v1/openapi.json lists what there is")
}

// statuses are the HTTP statuses of codes, as google/rpc/code.proto gives them.
var statuses = map[codes.Code]int{
	codes.OK:                 http.StatusOK,
	codes.Canceled:           499,
	codes.Unknown:            http.StatusInternalServerError,
	codes.InvalidArgument:    http.StatusBadRequest,
	codes.DeadlineExceeded:   http.StatusGatewayTimeout,
	codes.NotFound:           http.StatusNotFound,
	codes.AlreadyExists:      http.StatusConflict,
	codes.PermissionDenied:   http.StatusForbidden,
	codes.Unauthenticated:    http.StatusUnauthorized,
	codes.ResourceExhausted:  http.StatusTooManyRequests,
	codes.FailedPrecondition: http.StatusBadRequest,
	codes.Aborted:            http.StatusConflict,
	codes.OutOfRange:         http.StatusBadRequest,
	codes.Unimplemented:      http.StatusNotImplemented,
	codes.Internal:           http.StatusInternalServerError,
	codes.Unavailable:        http.StatusServiceUnavailable,
	codes.DataLoss:           http.StatusInternalServerError,
}

// fail answers with an error. Nothing must have been written yet.
func fail(w http.ResponseWriter, err error) {
	st := status.Convert(err)
	code, ok := statuses[st.Code()]
	if !ok {
		code = http.StatusInternalServerError
	}
	if own := (*httpError)(nil); errors.As(err, &own) {
		st, code = status.Convert(own.err), own.status
	}
	if code == http.StatusUnauthorized {
		w.Header().Set("WWW-Authenticate", `Bearer realm="platarium"`)
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(code)
	_, _ = w.Write(statusJSON(st)) // a caller who is gone hears nothing
}

// statusJSON is a status as JSON; without its details if they can't be written, which their types' being known here prevents.
func statusJSON(st *status.Status) []byte {
	b, err := protojson.Marshal(st.Proto())
	if err != nil {
		b, _ = protojson.Marshal(status.New(st.Code(), st.Message()).Proto())
	}
	return append(b, '\n')
}
