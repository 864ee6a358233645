package archive

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// brief is a commission that could be.
func brief() *pb.Brief {
	return &pb.Brief{
		Title: "Perch wall panel", Identification: &pb.Identification{ScientificName: "Perca fluviatilis"},
		Structures: []*pb.WantedStructure{{Structure: "First  Dorsal Fin"}, {Structure: "opercle"}},
		Printed:    &pb.PrintedSize{Measurement: "SL", LengthMm: 180}, Rendering: pb.Rendering_RENDERING_LINE,
		Use:   &pb.Scope{Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2027-01-01"},
		DueOn: "2026-12-01",
	}
}

func TestBriefIsRead(t *testing.T) {
	s := newStudio(t)
	b := must[*pb.Brief](t)(s.CreateBrief(t.Context(), owner, brief(), "perch-panel"))
	if b.GetIdentification().GetTaxon() == "" {
		t.Error("the taxon of the name wasn't found")
	}
	if got := b.GetStructures()[0].GetStructure(); got != "first dorsal fin" {
		t.Errorf("structure %q; want it folded", got)
	}
}

func TestBriefViolations(t *testing.T) {
	s := newStudio(t)
	for field, spoil := range map[string]func(*pb.Brief){
		"title":                          func(b *pb.Brief) { b.Title = " " },
		"identification":                 func(b *pb.Brief) { b.Identification = nil },
		"identification.scientific_name": func(b *pb.Brief) { b.Identification.ScientificName = "Nemo nusquam" },
		"printed.measurement":            func(b *pb.Brief) { b.Printed.Measurement = "HL" },
		"printed.length_mm":              func(b *pb.Brief) { b.Printed.LengthMm = 0 },
		"due_on":                         func(b *pb.Brief) { b.DueOn = "soon" },
		"use.works":                      func(b *pb.Brief) { b.Use.Works = []string{"pictures/some-one"} },
		"use.territories[0]":             func(b *pb.Brief) { b.Use.Territories[0] = "XX" },
		"structures[1].structure":        func(b *pb.Brief) { b.Structures[1].Structure = "" },
		"choices[0].picture":             func(b *pb.Brief) { b.Choices = []*pb.Choice{{Structure: "opercle", Picture: "pictures/none-such"}} },
		"studies[0].picture":             func(b *pb.Brief) { b.Studies = []*pb.BriefStudy{{}} },
		"specimen":                       func(b *pb.Brief) { b.Specimen = "specimens/none-such" },
		"body":                           func(b *pb.Brief) { b.Body = "pictures/none-such" },
		"client":                         func(b *pb.Brief) { b.Client = "parties/none-such" },
		"checked[0].against": func(b *pb.Brief) {
			b.Checked = []*pb.CheckedCount{{Structure: "opercle", CheckedBy: "IC", CheckedOn: "2026-05-04"}}
		},
		"checked[0].formula": func(b *pb.Brief) { b.Checked = []*pb.CheckedCount{{Structure: "opercle", Formula: "D (("}} },
	} {
		b := brief()
		spoil(b)
		_, err := s.CreateBrief(t.Context(), owner, b, "")
		wantViolation(t, err, field)
	}
}

// At delivery the plate comes to derive from all that served it, in one commit, and the brief stays as it was.
func TestDeliver(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	for _, id := range []string{"body", "chosen", "left-out", "outline"} {
		s.picture(t, id, nil)
	}
	s.picture(t, "the-plate", func(p *pb.Picture) {
		p.Kind, p.DerivedFrom = pb.Kind_KIND_PLATE, []*pb.Derivation{{Picture: "pictures/body", Role: pb.DerivationRole_DERIVATION_ROLE_COPIED}}
	})
	b := brief()
	b.Body = "pictures/body"
	b.Choices = []*pb.Choice{{Structure: "opercle", Picture: "pictures/chosen"}, {Structure: "opercle", Picture: "pictures/left-out", LeftOut: true}}
	b.Studies = []*pb.BriefStudy{{Picture: "pictures/outline"}}
	b = must[*pb.Brief](t)(s.CreateBrief(ctx, owner, b, "perch-panel"))

	ask := &pb.DeliverBriefRequest{Name: b.GetName(), Plate: "pictures/the-plate", Copied: []string{"pictures/left-out"}}
	_, err := s.DeliverBrief(ctx, owner, ask)
	wantViolation(t, err, "copied[0]")
	ask.Copied = []string{"pictures/outline"}
	by := Caller{Actor: "owner-key", RequestID: "deliver-once"}
	before := s.Journal().Position().Seq
	done := must[*pb.Brief](t)(s.DeliverBrief(ctx, by, ask))
	if done.GetPlate() != "pictures/the-plate" || done.GetDeliveredOn() != "2026-05-04" {
		t.Errorf("delivered %s on %s", done.GetPlate(), done.GetDeliveredOn())
	}
	if again := must[*pb.Brief](t)(s.DeliverBrief(ctx, by, ask)); !proto.Equal(again, done) {
		t.Errorf("the same request is answered %v; want %v", again, done)
	}
	if got := s.Journal().Position().Seq - before; got != 1 {
		t.Errorf("%d commits; want one", got)
	}
	var from []string
	for _, d := range must[*pb.Picture](t)(s.GetPicture("pictures/the-plate")).GetDerivedFrom() {
		from = append(from, strings.TrimPrefix(d.GetPicture(), "pictures/")+" "+strings.TrimPrefix(d.GetRole().String(), "DERIVATION_ROLE_"))
	}
	if want := []string{"body COPIED", "chosen FACT_SOURCE", "outline COPIED"}; !slices.Equal(from, want) {
		t.Errorf("derived from %q; want %q", from, want)
	}
	_, err = s.DeliverBrief(ctx, owner, ask)
	wantIs(t, err, ErrDelivered)
	wantIs(t, s.DeleteBrief(ctx, owner, b.GetName(), ""), ErrDelivered)
	_, err = s.UpdateBrief(ctx, owner, &pb.Brief{Name: b.GetName()}, []string{"plate"})
	wantViolation(t, err, "update_mask")
}

func TestDeliverWantsAPlate(t *testing.T) {
	s := newStudio(t)
	s.picture(t, "outline", func(p *pb.Picture) { p.Kind = pb.Kind_KIND_STUDY })
	b := must[*pb.Brief](t)(s.CreateBrief(t.Context(), owner, brief(), ""))
	for _, plate := range []string{"pictures/outline", "pictures/none-such"} {
		_, err := s.DeliverBrief(t.Context(), owner, &pb.DeliverBriefRequest{Name: b.GetName(), Plate: plate})
		wantViolation(t, err, "plate")
	}
}
