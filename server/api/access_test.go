package api

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
)

// Every method of the contract is in the table of roles, and nothing else is.
func TestEveryMethodIsListed(t *testing.T) {
	methods := map[string]bool{}
	for _, m := range contract() {
		methods[m.full] = true
		if who, ok := allowed[m.full]; !ok {
			t.Errorf("%s isn't in the table of roles: say who may call it", m.full)
		} else if who == nobody || who&^everybody != 0 {
			t.Errorf("%s is open to the roles %b", m.full, who)
		}
	}
	if len(methods) < 45 {
		t.Errorf("only %d methods were found in the contract", len(methods))
	}
	for m := range allowed {
		if !methods[m] {
			t.Errorf("%s is in the table of roles and not in the contract", m)
		}
	}
}

// What changes something, or tells of the studio's own affairs, is nobody's but the studio's, whatever the table says.
func TestPublishersOnlyRead(t *testing.T) {
	reading := []string{"Get", "List", "Search", "Match", "Parse", "Check", "Download", "Export", "Deliver"} // Deliver reads too, but that it was called is put on record
	for _, m := range contract() {
		name := m.full[strings.LastIndexByte(m.full, '/')+1:]
		reads := false
		for _, prefix := range reading {
			reads = reads || strings.HasPrefix(name, prefix)
		}
		if allowed[m.full].has(pb.Role_ROLE_PUBLISHER) && !reads {
			t.Errorf("publishers may call %s, whose name doesn't say that it only reads", name)
		}
		for _, word := range []string{"Part", "Specimen", "Key", "Revision", "Alarm"} {
			if strings.Contains(name, word) && allowed[m.full].has(pb.Role_ROLE_PUBLISHER) {
				t.Errorf("publishers may call %s", name)
			}
		}
	}
}

// A role that may not call a method is denied, one that may is not, and whoever has no key that stands isn't known.
func TestRoleMatrix(t *testing.T) {
	d := newDesk(t)
	ctx := t.Context()
	if _, err := d.archive.CreateParty(ctx, archive.Caller{Actor: "system"}, &pb.Party{DisplayName: "Reed Press"}, "reed-press"); err != nil {
		t.Fatal(err)
	}
	d.key(t, "press-key", &pb.Key{Role: pb.Role_ROLE_PUBLISHER, Party: "parties/reed-press"})
	d.key(t, "gone-key", &pb.Key{Role: pb.Role_ROLE_OWNER})
	d.key(t, "old-key", &pb.Key{Role: pb.Role_ROLE_OWNER, ExpireTime: timestamppb.New(d.clock().Add(time.Minute))})
	if _, err := d.archive.RevokeKey(ctx, archive.Caller{Actor: "system"}, "keys/gone-key"); err != nil {
		t.Fatal(err)
	}
	d.forward(time.Hour)
	good := d.keys["owner-key"]
	strangers := map[string]context.Context{
		"no key": context.Background(), "revoked": d.as(t, "gone-key"), "expired": d.as(t, "old-key"), "empty": presenting(t, ""), "no scheme": presenting(t, good),
		"another scheme": presenting(t, "Basic "+good), "lower case scheme": presenting(t, "bearer "+good), "garbled": presenting(t, "Bearer "+good[:len(good)-2]+"AA"),
		"only the id": presenting(t, "Bearer owner-key"), "cut": presenting(t, "Bearer "+good[:20]), "two": presenting2(t, good, good), "of nobody": presenting(t, "Bearer nobody-here."+good[strings.IndexByte(good, '.')+1:]),
	}
	callers := map[string]pb.Role{"owner-key": pb.Role_ROLE_OWNER, "desk-key": pb.Role_ROLE_ASSISTANT, "press-key": pb.Role_ROLE_PUBLISHER}
	denied := 0
	for _, m := range contract() {
		req := message(m.desc.Input())
		for who, ctx := range strangers {
			if usual := who == "no key" || who == "revoked" || who == "garbled"; !usual && m.full != pb.AdminService_GetStatus_FullMethodName {
				continue // who comes in is decided before the method is
			}
			_, err := d.call(ctx, m, req, 1)
			if status.Code(err) != codes.Unauthenticated || reason(err) == "" {
				t.Errorf("%s with %s key: %v; want UNAUTHENTICATED with a reason", m.full, who, err)
			}
		}
		for key, role := range callers {
			_, err := d.call(d.as(t, key), m, req, 1)
			isDenied := status.Code(err) == codes.PermissionDenied
			if isDenied == allowed[m.full].has(role) {
				t.Errorf("%s as %s: %v; want denied %v", m.full, role, err, !isDenied)
			}
			if isDenied {
				denied++
				wantReason(t, err, "ROLE")
			}
			if code := status.Code(err); code == codes.Unauthenticated || code == codes.Internal || code == codes.Unknown || code == codes.Unimplemented {
				t.Errorf("%s as %s with an empty request: %v", m.full, role, err)
			}
		}
	}
	if denied < 30 {
		t.Errorf("only %d calls were denied", denied)
	}
	unlisted := rpc{"/platarium.v1.AdminService/DropEverything", contract()[0].desc}
	_, err := d.call(d.as(t, "owner-key"), unlisted, message(unlisted.desc.Input()), 1)
	if status.Code(err) != codes.Unimplemented {
		t.Errorf("a method that isn't there: %v", err)
	}
	h, err := healthpb.NewHealthClient(d.conn).Check(t.Context(), &healthpb.HealthCheckRequest{})
	if err != nil || h.GetStatus() != healthpb.HealthCheckResponse_SERVING {
		t.Errorf("health without a key: %v, %v", h, err)
	}
}

func presenting2(t testing.TB, one, two string) context.Context {
	ctx := presenting(t, "Bearer "+one)
	return appendKey(ctx, "Bearer "+two)
}

// A key revoked or expired while a server runs is refused at its next call.
func TestRevocationCountsAtOnce(t *testing.T) {
	d := newDesk(t)
	res := must[*pb.CreateKeyResponse](t)(d.admin().CreateKey(d.as(t, "owner-key"), &pb.CreateKeyRequest{Key: &pb.Key{Role: pb.Role_ROLE_ASSISTANT, ExpireTime: timestamppb.New(d.clock().Add(time.Hour))}}))
	ctx := presenting(t, "Bearer "+res.GetSecret())
	must[*pb.Status](t)(d.admin().GetStatus(ctx, &pb.GetStatusRequest{}))
	d.forward(time.Hour)
	_, err := d.admin().GetStatus(ctx, &pb.GetStatusRequest{})
	wantReason(t, err, "KEY_DENIED")
	res = must[*pb.CreateKeyResponse](t)(d.admin().CreateKey(d.as(t, "owner-key"), &pb.CreateKeyRequest{Key: &pb.Key{Role: pb.Role_ROLE_OWNER}}))
	ctx = presenting(t, "Bearer "+res.GetSecret())
	must[*pb.Status](t)(d.admin().GetStatus(ctx, &pb.GetStatusRequest{}))
	must[*pb.Key](t)(d.admin().RevokeKey(ctx, &pb.RevokeKeyRequest{Name: res.GetKey().GetName()}))
	_, err = d.admin().GetStatus(ctx, &pb.GetStatusRequest{})
	wantReason(t, err, "KEY_DENIED")
	_, err = d.admin().RevokeKey(d.as(t, "owner-key"), &pb.RevokeKeyRequest{Name: "keys/owner-key"})
	wantReason(t, err, "LAST_OWNER")
}

// Questions that map the licence book are slowed down for publishers, for each key alone, and not for the studio.
func TestQuestionsAreLimited(t *testing.T) {
	d := newDesk(t)
	s := newStock(t, d)
	ask := func(key string) func(i int) error {
		ctx := d.as(t, key)
		return func(i int) error {
			if i%2 == 0 {
				_, err := d.licensing().GetHistory(ctx, &pb.GetHistoryRequest{Picture: s.plate})
				return err
			}
			_, err := d.licensing().CheckAvailability(ctx, &pb.CheckAvailabilityRequest{Scope: scope(s.plate)})
			return err
		}
	}
	refused := 0
	stranger := ask("stranger-key")
	for i := range outsiderBurst + 100 {
		err := stranger(i)
		if i < outsiderBurst/2 && err != nil {
			t.Fatalf("question %d: %v", i, err)
		}
		if status.Code(err) == codes.ResourceExhausted {
			wantReason(t, err, "TOO_OFTEN")
			refused++
		}
	}
	if refused < 20 {
		t.Errorf("of %d questions %d were refused", outsiderBurst+100, refused)
	}
	if err := ask("licensee-key")(0); err != nil {
		t.Errorf("another publisher pays for it: %v", err)
	}
	if _, err := d.records().GetPicture(d.as(t, "stranger-key"), &pb.GetPictureRequest{Name: s.plate}); err != nil {
		t.Errorf("other methods pay for it: %v", err)
	}
	staff := ask("desk-key")
	for i := range outsiderBurst + 50 {
		if err := staff(i); err != nil {
			t.Fatalf("question %d of the studio: %v", i, err)
		}
	}
}

// Questions of many pictures at once count as many questions.
func TestManyPicturesAreManyQuestions(t *testing.T) {
	d := newDesk(t)
	s := newStock(t, d)
	ctx := d.as(t, "stranger-key")
	answered := 0
	for range outsiderBurst {
		stream, err := d.licensing().CheckAvailabilities(ctx, &pb.CheckAvailabilitiesRequest{Works: []string{s.plate, s.secretPlate}, Scope: &pb.Scope{Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}}})
		for err == nil {
			_, err = stream.Recv()
		}
		if !errors.Is(err, io.EOF) {
			wantReason(t, err, "TOO_OFTEN")
			break
		}
		answered += 2
	}
	if answered > outsiderBurst+2*outsiderPerSec*60 || answered == 2*outsiderBurst {
		t.Errorf("%d pictures were answered for", answered)
	}
}
