package api

import (
	"context"
	"errors"
	"fmt"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"

	"platarium/indexer"
	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/rights/odrl"
	"platarium/storage"
	"platarium/storage/journal"
	"platarium/storage/original"
)

// domain stands in ErrorInfo.
const domain = "platarium"

// row maps one sentinel to what the caller sees.
type row struct {
	is     error
	code   codes.Code
	reason string
	hide   bool // the text names insides; the sentinel's own text is sent
}

// table maps sentinels, the more special first. What isn't here is Internal.
var table = []row{
	{errNoKey, codes.Unauthenticated, "NO_KEY", false},
	{archive.ErrDenied, codes.Unauthenticated, "KEY_DENIED", true},
	{errRole, codes.PermissionDenied, "ROLE", false},
	{errTooOften, codes.ResourceExhausted, "TOO_OFTEN", false},
	{errPageToken, codes.InvalidArgument, "PAGE_TOKEN", false},
	{errUpload, codes.InvalidArgument, "UPLOAD", false},
	{errPending, codes.FailedPrecondition, "PREVIEW_PENDING", false},
	{errNoPreview, codes.FailedPrecondition, "NO_PREVIEW", false},
	{errMark, codes.InvalidArgument, "HEAD", false},
	{errNoDelivery, codes.FailedPrecondition, "NO_DELIVERY", false},
	{errWithheld, codes.FailedPrecondition, "WITHHELD", false},
	{archive.ErrAhead, codes.FailedPrecondition, "COMMIT_AHEAD", false},
	{odrl.ErrNotAgreed, codes.FailedPrecondition, "NOT_AGREED", false},
	{archive.ErrNotFound, codes.NotFound, "NOT_FOUND", false},
	{archive.ErrExists, codes.AlreadyExists, "ALREADY_EXISTS", false},
	{archive.ErrStale, codes.Aborted, "STALE_ETAG", false},
	{archive.ErrRequestReused, codes.InvalidArgument, "REQUEST_ID_REUSED", false},
	{archive.ErrNoOriginal, codes.FailedPrecondition, "ORIGINAL_MISSING", false},
	{archive.ErrForgotten, codes.FailedPrecondition, "CONTACT_FORGOTTEN", false},
	{archive.ErrDelivered, codes.FailedPrecondition, "BRIEF_DELIVERED", false},
	{archive.ErrTogether, codes.Aborted, "ATOMIC_BATCH", false},
	{archive.ErrLastOwner, codes.FailedPrecondition, "LAST_OWNER", false},
	{journal.ErrReadOnly, codes.FailedPrecondition, "READ_ONLY", false},
	{journal.ErrUnknownOutcome, codes.Unavailable, "OUTCOME_UNKNOWN", true},
	{journal.ErrTooLarge, codes.InvalidArgument, "TOO_LARGE", false},
	{journal.ErrClosed, codes.Unavailable, "SHUTTING_DOWN", true},
	{journal.ErrBroken, codes.DataLoss, "JOURNAL_BROKEN", true},
	{indexer.ErrClosed, codes.Unavailable, "SHUTTING_DOWN", true},
	{indexer.ErrLocked, codes.Internal, "INTERNAL", true},
	{journal.ErrCheckpoint, codes.DataLoss, "CHECKPOINT_DAMAGED", true},
	{journal.ErrFormat, codes.Internal, "INTERNAL", true},
	{journal.ErrForeign, codes.Internal, "INTERNAL", true},
	{original.ErrDamaged, codes.DataLoss, "ORIGINAL_DAMAGED", true},
	{original.ErrTooLarge, codes.InvalidArgument, "UPLOAD", true},
	{storage.ErrChecksum, codes.DataLoss, "CHECKSUM", true},
	{storage.ErrDoubtful, codes.Unavailable, "STORE_UNCLEAR", true},
	{storage.ErrNotExist, codes.DataLoss, "OBJECT_MISSING", true},
	{storage.ErrExist, codes.Internal, "INTERNAL", true},
	{storage.ErrKey, codes.Internal, "INTERNAL", true},
	{storage.ErrUnsuitable, codes.Internal, "INTERNAL", true},
	{context.Canceled, codes.Canceled, "CANCELLED", true},
	{context.DeadlineExceeded, codes.DeadlineExceeded, "DEADLINE", true},
}

// statusOf turns an error into what the caller sees; nil for nil.
func statusOf(err error) *status.Status {
	if err == nil {
		return nil
	}
	if violations := violationsOf(err); violations != nil {
		return invalid(err, violations)
	}
	var inUse *archive.InUseError
	if errors.As(err, &inUse) {
		return detailed(codes.FailedPrecondition, "IN_USE", inUse.Error(), precondition("IN_USE", inUse.By))
	}
	var collision *archive.CollisionError
	if errors.As(err, &collision) {
		names := make([]string, len(collision.With))
		for i, c := range collision.With {
			names[i] = c.Grant
		}
		return detailed(codes.FailedPrecondition, "GRANT_COLLISION", collision.Error(), precondition("GRANT_COLLISION", names))
	}
	for _, r := range table {
		if errors.Is(err, r.is) {
			text := err.Error()
			if r.hide {
				text = r.is.Error()
			}
			return detailed(r.code, r.reason, text)
		}
	}
	var transport interface{ GRPCStatus() *status.Status }
	if errors.As(err, &transport) { // made by gRPC itself, such as a message that is too large; what it was wrapped in stays inside
		st := transport.GRPCStatus()
		return detailed(st.Code(), "TRANSPORT", st.Message())
	}
	return detailed(codes.Internal, "INTERNAL", "something went wrong in the server; its log has the details")
}

func internal(s *status.Status) bool {
	return s.Code() == codes.Internal || s.Code() == codes.Unknown || s.Code() == codes.DataLoss
}

// violationsOf lists the fields at fault, if that is what err is about.
func violationsOf(err error) []archive.Violation {
	var bad *archive.InvalidError
	if errors.As(err, &bad) {
		return bad.Violations
	}
	var field *indexer.FieldError
	if errors.As(err, &field) {
		return []archive.Violation{{Field: field.Field, Description: fmt.Sprintf("found %s; want %s", field.Found, field.Want)}}
	}
	return nil
}

func invalid(err error, violations []archive.Violation) *status.Status {
	br := &errdetails.BadRequest{}
	for _, v := range violations {
		br.FieldViolations = append(br.FieldViolations, &errdetails.BadRequest_FieldViolation{Field: v.Field, Description: v.Description})
	}
	return detailed(codes.InvalidArgument, "INVALID_FIELD", err.Error(), br)
}

func precondition(kind string, subjects []string) *errdetails.PreconditionFailure {
	p := &errdetails.PreconditionFailure{}
	for _, s := range subjects {
		p.Violations = append(p.Violations, &errdetails.PreconditionFailure_Violation{Type: kind, Subject: s})
	}
	return p
}

func detailed(code codes.Code, reason, text string, more ...protoadapt.MessageV1) *status.Status {
	st := status.New(code, text)
	with, err := st.WithDetails(append([]protoadapt.MessageV1{&errdetails.ErrorInfo{Reason: reason, Domain: domain}}, more...)...)
	if err != nil {
		return st
	}
	return with
}

// problemOf is statusOf for one item of a batch.
func problemOf(err error) *pb.Problem {
	st := statusOf(err)
	p := &pb.Problem{Code: int32(st.Code()), Message: st.Message()}
	for _, d := range st.Details() {
		switch d := d.(type) {
		case *errdetails.ErrorInfo:
			p.Reason = d.GetReason()
		case *errdetails.BadRequest:
			for _, v := range d.GetFieldViolations() {
				p.Violations = append(p.Violations, &pb.FieldViolation{Field: v.GetField(), Description: v.GetDescription()})
			}
		}
	}
	return p
}

// field makes the error for one field of a request.
func field(name, format string, args ...any) error {
	return &archive.InvalidError{Violations: []archive.Violation{{Field: name, Description: fmt.Sprintf(format, args...)}}}
}
