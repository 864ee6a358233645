package api

import (
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

// TestPlanningOverGRPC asks for checklist, plan and check as a client does: what is wrong names its field, and a publisher plans nothing.
func TestPlanningOverGRPC(t *testing.T) {
	d := newDesk(t)
	desk, ctx := pb.NewCommissionServiceClient(d.conn), d.as(t, "desk-key")
	brief := &pb.Brief{Identification: &pb.Identification{ScientificName: "Perca fluviatilis"}}

	list := must[*pb.Checklist](t)(desk.GetChecklist(ctx, &pb.GetChecklistRequest{Taxon: "Perca fluviatilis"}))
	plan := must[*pb.Plan](t)(desk.MakePlan(ctx, &pb.MakePlanRequest{Draft: brief}))
	if len(list.GetStructures()) == 0 || len(plan.GetStructures()) != len(list.GetStructures()) {
		t.Errorf("%d structures planned, %d on the checklist", len(plan.GetStructures()), len(list.GetStructures()))
	}
	for _, s := range plan.GetStructures() {
		if s.GetGap() == "" {
			t.Errorf("%s: an empty archive leaves no gap", s.GetStructure())
		}
	}
	for field, call := range map[string]func() error{
		"candidates": func() error {
			_, err := desk.MakePlan(ctx, &pb.MakePlanRequest{Draft: brief, Candidates: 21})
			return err
		},
		"brief": func() error { _, err := desk.MakePlan(ctx, &pb.MakePlanRequest{}); return err },
		"draft": func() error {
			_, err := desk.MakePlan(ctx, &pb.MakePlanRequest{Brief: "briefs/some-one", Draft: brief})
			return err
		},
		"identification": func() error { _, err := desk.MakePlan(ctx, &pb.MakePlanRequest{Draft: &pb.Brief{}}); return err },
		"taxon": func() error {
			_, err := desk.GetChecklist(ctx, &pb.GetChecklistRequest{Taxon: "Perca fluviatillis"})
			return err
		},
		"name": func() error {
			_, err := desk.CheckPicture(ctx, &pb.CheckPictureRequest{Name: "taxa/perch"})
			return err
		},
	} {
		wantField(t, call(), field)
	}
	_, err := desk.CheckPicture(ctx, &pb.CheckPictureRequest{Name: "pictures/none-such"})
	wantReason(t, err, "NOT_FOUND")
	_, err = desk.MakePlan(ctx, &pb.MakePlanRequest{Brief: "briefs/none-such"})
	wantReason(t, err, "NOT_FOUND")

	d.key(t, "press-key", &pb.Key{Role: pb.Role_ROLE_PUBLISHER, Party: must[*pb.Party](t)(d.licensing().CreateParty(d.as(t, "owner-key"), &pb.CreatePartyRequest{Party: &pb.Party{DisplayName: "Reed Press", Role: "publisher"}, PartyId: "reed-press"})).GetName()})
	if _, err := desk.MakePlan(d.as(t, "press-key"), &pb.MakePlanRequest{Draft: brief}); status.Code(err) != codes.PermissionDenied {
		t.Errorf("a publisher plans: %v", err)
	}
}
