package server

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// ask is one question about a picture.
func ask(t *testing.T, c *client.Client, picture string, excl pb.Exclusivity) *pb.CheckAvailabilityResponse {
	t.Helper()
	scope := wanted().GetScope()
	scope.Works = []string{picture}
	return ok[*pb.CheckAvailabilityResponse](t)(c.Licensing.CheckAvailability(t.Context(), &pb.CheckAvailabilityRequest{Scope: scope, Exclusivity: excl}))
}

// TestOthersHaveASay goes through what makes somebody ask first, and through what settles it.
func TestOthersHaveASay(t *testing.T) {
	r := desk(t)
	ctx := t.Context()
	heir, museum, press := r.party(t, "heir-of-moor"), r.party(t, "lakeside-museum"), r.party(t, "reed-press")
	ok[*pb.Party](t)(r.owner.Licensing.UpdateParty(ctx, &pb.UpdatePartyRequest{
		Party:      &pb.Party{Name: museum, LenderPolicy: &pb.LenderPolicy{NeedsApprovalFor: []string{"print.book"}, Version: "loan terms 2024"}},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"lender_policy"}},
	}))
	jar := ok[*pb.Specimen](t)(r.owner.Archive.CreateSpecimen(ctx, &pb.CreateSpecimenRequest{Specimen: &pb.Specimen{CatalogNumber: "LM 1902.4", Lender: museum}})).GetName()
	outside := func(p *pb.SourcePermission) []*pb.Derivation {
		return []*pb.Derivation{{Source: "photograph by a client", Permission: p}}
	}
	allowed := func(media string) *pb.SourcePermission {
		return &pb.SourcePermission{Scope: &pb.Scope{Media: []string{media}, Territories: []string{"WORLD"}, Languages: []string{"*"}}}
	}
	for _, c := range []struct {
		id     string
		change func(*pb.Picture)
		code   string // empty for free
		names  string
	}{
		{"co-owned", func(p *pb.Picture) { p.CoOwners = []*pb.CoOwner{{Party: heir, Role: "second illustrator"}} }, "COOWNER", heir},
		{"consented", func(p *pb.Picture) { p.CoOwners = []*pb.CoOwner{{Party: heir, ConsentedOn: "2026-02-01"}} }, "", ""},
		{"lent", func(p *pb.Picture) { p.Specimen = jar }, "POLICY", museum},
		{"lent-approved", func(p *pb.Picture) {
			p.Specimen, p.Approvals = jar, []*pb.LenderApproval{{Lender: museum, ApprovedOn: "2026-02-01"}}
		}, "", ""},
		{"lent-approved-for-web", func(p *pb.Picture) {
			p.Specimen, p.Approvals = jar, []*pb.LenderApproval{{Lender: museum, ApprovedOn: "2026-02-01", Covers: []string{"digital.web"}}}
		}, "POLICY", museum},
		{"lent-source", func(p *pb.Picture) {
			p.DerivedFrom = outside(&pb.SourcePermission{Free: true})
			p.DerivedFrom[0].Holder = museum
		}, "POLICY", museum},
		{"claimed", func(p *pb.Picture) { p.RivalClaims = []*pb.RivalClaim{{Claimant: "a journal", RaisedOn: "2026-03-01"}} }, "ADVERSE", "claim 1"},
		{"claim-settled", func(p *pb.Picture) {
			p.RivalClaims = []*pb.RivalClaim{{Claimant: "a journal", RaisedOn: "2026-03-01", ClosedOn: "2026-04-01"}}
		}, "", ""},
		{"source-unknown", func(p *pb.Picture) { p.DerivedFrom = outside(nil) }, "UPSTREAM", "source 1"},
		{"source-free", func(p *pb.Picture) { p.DerivedFrom = outside(&pb.SourcePermission{Free: true}) }, "", ""},
		{"source-allows", func(p *pb.Picture) { p.DerivedFrom = outside(allowed("print")) }, "", ""},
		{"source-forbids", func(p *pb.Picture) { p.DerivedFrom = outside(allowed("digital.web")) }, "UPSTREAM", "source 1"},
	} {
		name := r.picture(t, c.id, c.change)
		res := ask(t, r.owner, name, 0)
		want := "check"
		if c.code == "" {
			want, c.code = "yes", "CLEAR"
		}
		if res.GetAnswer() != want || res.GetCode() != c.code || !strings.Contains(strings.Join(res.GetExplanations(), "; "), c.names) || len(res.GetGrants()) > 0 {
			t.Errorf("%s: %v; want %s by %s, naming %q", c.id, res, want, c.code, c.names)
		}
	}
	outsider := r.as(t, pb.Role_ROLE_PUBLISHER, press)
	told := ask(t, outsider, "pictures/co-owned", 0)
	if told.GetAnswer() != "check" || told.GetCode() != "" || strings.Contains(told.String(), heir) {
		t.Errorf("a publisher is told %v; want check and no name", told)
	}
	shown := ok[*pb.Picture](t)(outsider.Archive.GetPicture(ctx, &pb.GetPictureRequest{Name: "pictures/co-owned"}))
	if len(shown.GetCoOwners()) > 0 {
		t.Errorf("a publisher sees %v", shown.GetCoOwners())
	}
	_, err := r.owner.Licensing.DeleteParty(ctx, &pb.DeletePartyRequest{Name: heir})
	wantReason(t, err, "IN_USE")
	_, err = r.owner.Licensing.DeleteParty(ctx, &pb.DeletePartyRequest{Name: museum})
	wantReason(t, err, "IN_USE")
}

// TestTheStudioUsesItsOwnPictures: an own use stands in the way of exclusivity, and of nothing else; and it must keep what the studio has promised.
func TestTheStudioUsesItsOwnPictures(t *testing.T) {
	r := desk(t)
	reed := r.party(t, "reed-press")
	plate, sold := r.picture(t, "plate", nil), r.picture(t, "sold", nil)
	own := printing("own-book", "", "", 100, plate)
	own.Use.Own = true
	if res := r.use(t, own); res.GetVerdict() != "licensed" {
		t.Errorf("an own use is %s, %v; want licensed", res.GetVerdict(), res.GetExplanations())
	}
	if res := ask(t, r.owner, plate, pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE); res.GetAnswer() != "no" || res.GetCode() != "OWN_USE" {
		t.Errorf("exclusivity beside an own use: %v; want no by OWN_USE", res)
	}
	if res := ask(t, r.owner, plate, pb.Exclusivity_EXCLUSIVITY_FIRST_RIGHTS); res.GetCode() != "FIRST_USED" {
		t.Errorf("first rights after an own book: %v; want FIRST_USED", res)
	}
	if res := ask(t, r.owner, plate, 0); res.GetAnswer() != "yes" {
		t.Errorf("a plain licence beside an own use: %v; want yes", res)
	}
	r.grant(t, exclusively(agreement("promised", reed, sold)))
	broken := printing("own-web", "", "", 0, sold)
	broken.Use.Own = true
	if res := r.use(t, broken); res.GetVerdict() != "not licensed" {
		t.Errorf("an own use against an exclusive is %s; want not licensed", res.GetVerdict())
	}
	both := printing("both", reed, "", 1, plate)
	both.Use.Own = true
	_, err := r.owner.Licensing.CreateUse(t.Context(), both)
	wantReason(t, err, "INVALID_FIELD")
	h := ok[*pb.History](t)(r.owner.Licensing.GetHistory(t.Context(), &pb.GetHistoryRequest{Picture: plate}))
	if len(h.GetEntries()) != 1 || h.GetEntries()[0].GetParty() != "the studio" {
		t.Errorf("history has %v; want the studio's book", h.GetEntries())
	}
}

// TestConsentsAreVerified: each is wrong in one field, which is named.
func TestConsentsAreVerified(t *testing.T) {
	r := desk(t)
	heir := r.party(t, "heir-of-moor")
	for field, change := range map[string]func(*pb.Picture){
		"co_owners[0].party":        func(p *pb.Picture) { p.CoOwners = []*pb.CoOwner{{Role: "employer"}} },
		"co_owners[0].consented_on": func(p *pb.Picture) { p.CoOwners = []*pb.CoOwner{{Party: heir, ConsentedOn: "yes"}} },
		"approvals[0].approved_on":  func(p *pb.Picture) { p.Approvals = []*pb.LenderApproval{{Lender: heir}} },
		"approvals[0].lender": func(p *pb.Picture) {
			p.Approvals = []*pb.LenderApproval{{Lender: "parties/nobody", ApprovedOn: "2026-01-01"}}
		},
		"approvals[0].covers[0]": func(p *pb.Picture) {
			p.Approvals = []*pb.LenderApproval{{Lender: heir, ApprovedOn: "2026-01-01", Covers: []string{"prnt"}}}
		},
		"rival_claims[0].claimant": func(p *pb.Picture) { p.RivalClaims = []*pb.RivalClaim{{Note: "?"}} },
		"rival_claims[0].closed_on": func(p *pb.Picture) {
			p.RivalClaims = []*pb.RivalClaim{{Claimant: "x", RaisedOn: "2026-02-01", ClosedOn: "2026-01-01"}}
		},
		"derived_from[0].holder": func(p *pb.Picture) { p.DerivedFrom = []*pb.Derivation{{Source: "slide", Holder: "parties/nobody"}} },
		"derived_from[0].permission.scope.media": func(p *pb.Picture) {
			p.DerivedFrom = []*pb.Derivation{{Source: "slide", Permission: &pb.SourcePermission{Scope: &pb.Scope{}}}}
		},
		"derived_from[0].permission.scope.territories[0]": func(p *pb.Picture) {
			p.DerivedFrom = []*pb.Derivation{{Source: "slide", Permission: &pb.SourcePermission{Scope: &pb.Scope{Media: []string{"*"}, Territories: []string{"Atlantis"}, Languages: []string{"*"}}}}}
		},
	} {
		p := &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "Plate"}
		change(p)
		_, err := r.owner.Archive.CreatePicture(t.Context(), &pb.CreatePictureRequest{Picture: p})
		if err == nil || !strings.Contains(err.Error(), field+":") {
			t.Errorf("%s: got %v", field, err)
		}
	}
	_, err := r.owner.Licensing.CreateParty(t.Context(), &pb.CreatePartyRequest{Party: &pb.Party{DisplayName: "Museum", LenderPolicy: &pb.LenderPolicy{NeedsApprovalFor: []string{"everything"}}}})
	wantReason(t, err, "INVALID_FIELD")
}
