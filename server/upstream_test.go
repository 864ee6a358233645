package server

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// TestAReferenceOfOthersMustBeAskedFor goes through what a plate may have been copied from, near and far.
func TestAReferenceOfOthersMustBeAskedFor(t *testing.T) {
	r := desk(t)
	museum, press := r.party(t, "lakeside-museum"), r.party(t, "reed-press")
	reference := func(id string, change func(*pb.Picture)) string {
		return r.picture(t, id, func(p *pb.Picture) {
			p.Kind = pb.Kind_KIND_REFERENCE
			change(p)
		})
	}
	copied := func(from string, change func(*pb.Derivation)) []*pb.Derivation {
		d := &pb.Derivation{Picture: from, Role: pb.DerivationRole_DERIVATION_ROLE_COPIED}
		if change != nil {
			change(d)
		}
		return []*pb.Derivation{d}
	}
	licensed := func(uri string) func(*pb.Picture) {
		return func(p *pb.Picture) { p.RightsHolder, p.RightsStatement = museum, uri }
	}
	museums := reference("museums", func(p *pb.Picture) { p.RightsHolder = museum })
	allowing := func(media string) func(*pb.Derivation) {
		return func(d *pb.Derivation) {
			d.Permission = &pb.SourcePermission{Scope: &pb.Scope{Media: []string{media}, Territories: []string{"WORLD"}, Languages: []string{"*"}}}
		}
	}
	study := func(id string, from []*pb.Derivation) string {
		return r.picture(t, id, func(p *pb.Picture) { p.Kind, p.DerivedFrom = pb.Kind_KIND_STUDY, from })
	}
	outside := study("from-outside", []*pb.Derivation{{Source: "slide by a client"}})
	for _, c := range []struct {
		id   string
		from []*pb.Derivation
		says string // empty for free
	}{
		{"museums-photo", copied(museums, nil), "House lakeside-museum holds: a permission isn't on record"},
		{"unstated-role", []*pb.Derivation{{Picture: museums}}, "House lakeside-museum"},
		{"facts-only", copied(museums, func(d *pb.Derivation) { d.Role = pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE }), ""},
		{"free-by-letter", copied(museums, func(d *pb.Derivation) { d.Permission = &pb.SourcePermission{Free: true} }), ""},
		{"allowed", copied(museums, allowing("print")), ""},
		{"allowed-elsewhere", copied(museums, allowing("digital.web")), "does not cover"},
		{"the-studios-own", copied(reference("own-photo", func(p *pb.Picture) { p.RightsHolder = "Studio Moor" }), nil), ""},
		{"the-illustrators", copied(reference("hers", func(p *pb.Picture) { p.Creators = []string{"Ida Moor"} }), nil), ""},
		{"somebody-elses", copied(reference("his-photo", func(p *pb.Picture) { p.Creators = []string{"Jon Reed"} }), nil), "whose it is isn't on record"},
		{"nobodys", copied(reference("bare", func(*pb.Picture) {}), nil), "whose it is isn't on record"},
		{"in-copyright", copied(reference("in-c", func(p *pb.Picture) { p.RightsStatement = "http://rightsstatements.org/vocab/InC/1.0/" }), nil), "vocab/InC/1.0/, isn't free"},
		{"public-domain", copied(reference("pd-mark", licensed("https://creativecommons.org/publicdomain/mark/1.0/")), nil), ""},
		{"cc-by-plate", copied(reference("cc-by-ref", licensed("https://creativecommons.org/licenses/by/4.0/")), nil), ""},
		{"by-sa", copied(reference("cc-by-sa", licensed("https://creativecommons.org/licenses/by-sa/4.0/")), nil), "licensed alike"},
		{"by-nd", copied(reference("cc-by-nd", licensed("https://creativecommons.org/licenses/by-nc-nd/4.0/")), nil), "no derivatives"},
		{"by-nc", copied(reference("cc-by-nc", licensed("https://creativecommons.org/licenses/by-nc/4.0/")), nil), "does not cover"},
		{"own-study", copied(study("clean", nil), nil), ""},
		{"study-of-museums", copied(study("second-hand", copied(museums, nil)), nil), museums + ": copied from it"},
		{"study-of-study", copied(study("third-hand", copied(study("fourth-hand", copied(museums, nil)), nil)), nil), museums + ": copied from it"},
		{"facts-cut-the-way", copied(study("of-facts", copied(museums, func(d *pb.Derivation) { d.Role = pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE })), nil), ""},
		{"study-of-outside", copied(outside, nil), outside + " source 1: the permission of the source is unknown"},
		{"study-allowed", copied(study("by-letter", copied(museums, func(d *pb.Derivation) { d.Permission = &pb.SourcePermission{Free: true} })), nil), ""},
		{"others-plate", copied(r.picture(t, "theirs", func(p *pb.Picture) { p.RightsHolder = museum }), nil), "House lakeside-museum"},
	} {
		name := r.picture(t, c.id, func(p *pb.Picture) {
			p.RightsHolder, p.Creators, p.DerivedFrom = "Studio Moor", []string{"Ida Moor"}, c.from
		})
		res := ask(t, r.owner, name, 0)
		answer, code := "check", "UPSTREAM"
		if c.says == "" {
			answer, code = "yes", "CLEAR"
		}
		if res.GetAnswer() != answer || res.GetCode() != code || !strings.Contains(strings.Join(res.GetExplanations(), "; "), c.says) {
			t.Errorf("%s: %v; want %s by %s, saying %q", c.id, res, answer, code, c.says)
		}
	}
	if told := ask(t, r.as(t, pb.Role_ROLE_PUBLISHER, press), "pictures/museums-photo", 0); told.GetAnswer() != "check" || strings.Contains(told.String(), "museum") {
		t.Errorf("a publisher is told %v; want check and no name", told)
	}
	// Whoever holds a reference may want to be asked besides.
	ok[*pb.Party](t)(r.owner.Licensing.UpdateParty(t.Context(), &pb.UpdatePartyRequest{
		Party: &pb.Party{Name: museum, LenderPolicy: &pb.LenderPolicy{NeedsApprovalFor: []string{"print.book"}}}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"lender_policy"}},
	}))
	if res := ask(t, r.owner, "pictures/free-by-letter", 0); res.GetCode() != "POLICY" {
		t.Errorf("the holder's policy: %v; want POLICY", res)
	}
	_, err := r.owner.Archive.CreatePicture(t.Context(), &pb.CreatePictureRequest{Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "x", DerivedFrom: copied(museums, func(d *pb.Derivation) { d.Holder = museum })}})
	if err == nil || !strings.Contains(err.Error(), "derived_from[0].holder:") {
		t.Errorf("a holder beside a picture of the archive: %v", err)
	}
}
