package commission

import (
	"testing"

	pb "platarium/proto/platarium/v1"
)

// stock fills a studio with what a commission of a sand perch may lean on.
func stock(t testing.TB) *studio {
	t.Helper()
	s := newStudio(t)
	ctx := t.Context()
	s.diagnose(t, "Serranus subligarius", "D X,12-14; A III,7; P 15-17; GR 7+15; LL 42-46",
		&pb.Proportion{Length: "head length", Over: "standard length", Min: 0.38, Max: 0.43}, &pb.Proportion{Length: "body depth", Over: "standard length", Min: 0.32, Max: 0.38})
	must[*pb.Party](t)(s.CreateParty(ctx, owner, &pb.Party{DisplayName: "Reed Press", Role: "publisher"}, "reed-press"))
	must[*pb.Party](t)(s.CreateParty(ctx, owner, &pb.Party{DisplayName: "Lakeside Museum", Role: "museum", LenderPolicy: &pb.LenderPolicy{
		NeedsApprovalFor: []string{"commercial"}, Version: "2024",
	}}, "lakeside"))
	s.specimen(t, "at-hand", "Serranus subligarius", 92, 110, func(sp *pb.Specimen) {
		sp.Damage, sp.Preservation, sp.LifeStage = "anal fin frayed", "70 % ethanol, fixed in formalin", "adult"
		sp.Counts = &pb.Counts{Formula: "D X,13; A III,6; P 16"}
	})
	s.specimen(t, "lent-jar", "Serranus subligarius", 80, 96, func(sp *pb.Specimen) {
		sp.Lender, sp.Damage, sp.LifeStage = "parties/lakeside", "spinous dorsal fin torn", "juvenile"
	})
	s.specimen(t, "measured", "Serranus cabrilla", 150, 0, nil)

	s.picture(t, "plate", "Serranus subligarius", func(p *pb.Picture) {
		p.Kind, p.Stage = pb.Kind_KIND_PLATE, pb.Stage_STAGE_FINAL_ART
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "dorsal fin", "caudal fin", "pectoral fin")
		shows(p, pb.Completeness_COMPLETENESS_PARTIAL, "opercle")
		profile(p, 3000, 1200, 0.4, 0.35)
		p.Calibration, p.Counts = bar(0.2, 20), &pb.Counts{Formula: "D X,13; A III,7"}
	})
	s.picture(t, "dorsal-study", "Serranus cabrilla", func(p *pb.Picture) {
		p.Specimen = "specimens/measured"
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "dorsal fin", "anal fin")
		profile(p, 3000, 1200, 0.4, 0.33)
		bases(p, "dorsal fin", 10, 14)
		p.Counts = &pb.Counts{Formula: "D X,14; A III,8"}
	})
	s.picture(t, "flat-photo", "Serranus subligarius", func(p *pb.Picture) {
		p.Kind, p.Stage, p.View, p.Specimen = pb.Kind_KIND_REFERENCE, pb.Stage_STAGE_REFERENCE_PHOTOGRAPH, pb.View_VIEW_RIGHT_LATERAL, "specimens/lent-jar"
		p.RightsHolder, p.Original = "A. Diver, Reef Archive", s.scan(t, 2000, 1000, 200)
		shows(p, pb.Completeness_COMPLETENESS_DAMAGED, "dorsal fin")
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "anal fin", "caudal fin")
		profile(p, 2000, 1000, 0.33, 0.45)
		p.Calibration = bar(0.2, 40) // the specimen's standard length says 23
	})
	s.picture(t, "traced", "Serranus cabrilla", func(p *pb.Picture) {
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "opercle")
		p.DerivedFrom = []*pb.Derivation{{Source: "figure 12 of an old fauna", Role: pb.DerivationRole_DERIVATION_ROLE_COPIED}}
	})
	s.picture(t, "grouper-head", "Epinephelus marginatus", func(p *pb.Picture) {
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "head")
		p.RivalClaims = []*pb.RivalClaim{{Claimant: "heirs of a former partner", RaisedOn: "2026-01-02"}}
	})
	s.picture(t, "far-relative", "Perca fluviatilis", func(p *pb.Picture) {
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "pelvic fin")
	})
	s.picture(t, "not-this-one", "Serranus subligarius", func(p *pb.Picture) {
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "opercle")
	})
	must[*pb.Grant](t)(s.CreateGrant(ctx, owner, &pb.Grant{
		Licensee: "parties/reed-press", Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: "2026-01-10", Exclusivity: pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE,
		Scope: &pb.Scope{Works: []string{"pictures/plate"}, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"*"}, From: "2026-01-15", To: "2028-01-14"},
	}, "exclusive"))
	return s
}

// wallPanel is the brief that the stock is for.
func wallPanel() *pb.Brief {
	return &pb.Brief{
		Title: "Sand perch, key figure", Identification: &pb.Identification{ScientificName: "Serranus subligarius"}, Specimen: "specimens/at-hand",
		Structures: []*pb.WantedStructure{{Structure: "dorsal fin"}, {Structure: "anal fin"}, {Structure: "pectoral fin"}, {Structure: "opercle", Note: "three flat spines"}, {Structure: "pelvic fin"}, {Structure: "gill rakers", View: pb.View_VIEW_INTERNAL}},
		Printed:    &pb.PrintedSize{LengthMm: 165}, Rendering: pb.Rendering_RENDERING_LINE,
		Use:     &pb.Scope{Media: []string{"print.book"}, Territories: []string{"DE", "AT"}, Languages: []string{"de"}, Purposes: []string{"commercial"}, From: "2027-01-01", To: "2028-12-31"},
		Choices: []*pb.Choice{{Structure: "opercle", Picture: "pictures/not-this-one", LeftOut: true, Note: "spines misread"}},
		Checked: []*pb.CheckedCount{{Structure: "dorsal fin", Formula: "D X,13", CheckedBy: "MO", CheckedOn: "2026-04-30", Against: "specimens/at-hand"}},
	}
}
