package server

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/status"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// desk starts a server whose calendar stands at the first of June 2026.
func desk(t *testing.T) *running {
	t.Helper()
	conf := newConfig(t)
	conf.Clock = june
	return start(t, conf)
}

func june() time.Time { return time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC) }

// ok takes a result that has no error.
func ok[T any](t testing.TB) func(T, error) T {
	t.Helper()
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func (r *running) picture(t *testing.T, id string, change func(*pb.Picture)) string {
	t.Helper()
	p := &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "Plate " + id}
	if change != nil {
		change(p)
	}
	return ok[*pb.Picture](t)(r.owner.Archive.CreatePicture(t.Context(), &pb.CreatePictureRequest{Picture: p, PictureId: id})).GetName()
}

func (r *running) party(t *testing.T, id string) string {
	t.Helper()
	return ok[*pb.Party](t)(r.owner.Licensing.CreateParty(t.Context(), &pb.CreatePartyRequest{Party: &pb.Party{DisplayName: "House " + id}, PartyId: id})).GetName()
}

// agreement is an executed licence for books in German-speaking countries through 2027.
func agreement(id, to string, works ...string) *pb.CreateGrantRequest {
	return &pb.CreateGrantRequest{GrantId: id, Grant: &pb.Grant{
		Licensee: to, Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: "2026-01-10",
		Scope: &pb.Scope{Works: works, Media: []string{"print.book"}, Territories: []string{"DE", "AT"}, Languages: []string{"*"}, From: "2026-01-15", To: "2027-12-31"},
	}}
}

func exclusively(req *pb.CreateGrantRequest) *pb.CreateGrantRequest {
	req.Grant.Exclusivity = pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE
	return req
}

func (r *running) grant(t *testing.T, req *pb.CreateGrantRequest) *pb.Grant {
	t.Helper()
	return ok[*pb.Grant](t)(r.owner.Licensing.CreateGrant(t.Context(), req))
}

// printing is a book that appeared in Germany.
func printing(id, by, grant string, copies int64, works ...string) *pb.CreateUseRequest {
	return &pb.CreateUseRequest{UseId: id, Use: &pb.Use{User: by, Grant: grant, Title: "Fishes of the Lake", Copies: copies, Scope: &pb.Scope{
		Works: works, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2026-03-01",
	}}}
}

func (r *running) use(t *testing.T, req *pb.CreateUseRequest) *pb.CreateUseResponse {
	t.Helper()
	return ok[*pb.CreateUseResponse](t)(r.owner.Licensing.CreateUse(t.Context(), req))
}

// as dials with a new key of some role; a publisher's acts for a party.
func (r *running) as(t *testing.T, role pb.Role, party string) *client.Client {
	t.Helper()
	made := ok[*pb.CreateKeyResponse](t)(r.owner.Admin.CreateKey(t.Context(), &pb.CreateKeyRequest{Key: &pb.Key{DisplayName: "test", Role: role, Party: party}}))
	return dial(t, r.address, made.GetSecret())
}

// wantReason fails unless an error left the server with this reason.
func wantReason(t *testing.T, err error, reason string) {
	t.Helper()
	for _, d := range status.Convert(err).Details() {
		if info, is := d.(*errdetails.ErrorInfo); is {
			if info.GetReason() != reason {
				t.Errorf("got %v with reason %s; want %s", err, info.GetReason(), reason)
			}
			return
		}
	}
	t.Errorf("got %v; want reason %s", err, reason)
}

// eventually waits for something that happens behind the writes.
func (r *running) eventually(t *testing.T, happened func() bool, what string) {
	t.Helper()
	for deadline := time.Now().Add(30 * time.Second); !happened(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("it didn't come to pass: %s", what)
		}
	}
}

// subjectOf is the id of the record that a refusal names as standing in the way.
func subjectOf(err error) string {
	for _, d := range status.Convert(err).Details() {
		if p, is := d.(*errdetails.PreconditionFailure); is && len(p.GetViolations()) == 1 {
			_, id, _ := strings.Cut(p.GetViolations()[0].GetSubject(), "/")
			return id
		}
	}
	return ""
}
