package commission

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"platarium/indexer"
	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/scale"
)

func has(list []string, part string) bool {
	return slices.ContainsFunc(list, func(s string) bool { return strings.Contains(s, part) })
}

// TestChoices lets a person's choice go before the plan's own, and what was left out stay out.
func TestChoices(t *testing.T) {
	s := stock(t)
	b := wallPanel()
	b.Choices = append(b.Choices, &pb.Choice{Structure: "Opercle", Picture: "pictures/grouper-head", Note: "best light"}, &pb.Choice{Structure: "pelvic fin", Picture: "pictures/traced"},
		&pb.Choice{Structure: "dorsal fin", Picture: "pictures/plate", LeftOut: true})
	p := s.plan(t, b, 1)
	opercle := structureOf(t, p, "opercle")
	if got := chosenOf(opercle); got != "pictures/grouper-head " {
		t.Errorf("opercle: chosen %s", got)
	}
	c := candidateOf(opercle, "grouper-head")
	if c.GetReasons()[0].GetText() != "chosen by hand: best light" || !strings.Contains(c.GetRights(), "heirs of a former partner claims it") {
		t.Errorf("%v", c)
	}
	if candidateOf(opercle, "not-this-one") != nil {
		t.Error("what was left out is there")
	}
	pelvic := structureOf(t, p, "pelvic fin")
	if got := chosenOf(pelvic); got != "pictures/traced " {
		t.Errorf("pelvic fin: chosen %s", got)
	}
	if got := chosenOf(structureOf(t, p, "dorsal fin")); got != "pictures/dorsal-study " {
		t.Errorf("dorsal fin: chosen %s", got)
	}
	for _, st := range p.GetStructures() {
		if n := len(st.GetCandidates()); n > 1 {
			t.Errorf("%s has %d candidates; one was asked for", st.GetStructure(), n)
		}
	}
}

// TestWithoutSize plans without a printed size and says what to give.
func TestWithoutSize(t *testing.T) {
	s := stock(t)
	b := wallPanel()
	b.Printed = nil
	p := s.plan(t, b, 0)
	if z := p.GetSize(); z.GetMagnification() != 0 || z.GetStandardLengthMm() != 92 || !has(p.GetRemarks(), "give the length in print") {
		t.Errorf("%v, %q", z, p.GetRemarks())
	}
	k := p.GetStructures()[0].GetCandidates()[0].GetScale()
	if k.GetFactor() != 0 || k.GetEffectivePpi() != 0 || k.GetToSizeMmPerPixel() == 0 {
		t.Errorf("%v", k)
	}
}

// TestTrueScale brings pictures of animals of different sizes to one standard length in print.
func TestTrueScale(t *testing.T) {
	s := stock(t)
	p := s.plan(t, wallPanel(), 20)
	m := p.GetSize().GetMagnification()
	seen := 0
	for _, st := range p.GetStructures() {
		for _, c := range st.GetCandidates() {
			k := c.GetScale()
			if len(c.GetPicture().GetLandmarks()) == 0 {
				if k.GetToSizeMmPerPixel() != 0 || k.GetProblem() == "" || !strings.Contains(k.GetProblem(), "snout tip") {
					t.Errorf("%s has no landmarks: %v", c.GetPicture().GetName(), k)
				}
				continue
			}
			seen++
			sl := 0.7 * float64(c.GetPicture().GetOriginal().GetWidth()) * k.GetToSizeMmPerPixel() * m
			if want := p.GetSize().GetPrintedStandardLengthMm(); sl < want*0.999 || sl > want*1.001 {
				t.Errorf("%s: standard length in print %v mm, want %v", c.GetPicture().GetName(), sl, want)
			}
			if ppi := 25.4 / (k.GetToSizeMmPerPixel() * m); k.GetEffectivePpi() < ppi*0.999 || k.GetEffectivePpi() > ppi*1.001 {
				t.Errorf("%s: %v ppi in print, want %v", c.GetPicture().GetName(), k.GetEffectivePpi(), ppi)
			}
		}
	}
	if seen < 6 {
		t.Errorf("only %d candidates had landmarks", seen)
	}
}

// TestScaleBySpecimen brings a fin alone to size by its bar and its specimen's standard length.
func TestScaleBySpecimen(t *testing.T) {
	s := stock(t)
	s.picture(t, "fin-alone", "Serranus subligarius", func(p *pb.Picture) {
		p.Specimen, p.Calibration = "specimens/lent-jar", bar(0.5, 15)
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "pelvic fin")
	})
	c := candidateOf(structureOf(t, s.plan(t, wallPanel(), 0), "pelvic fin"), "fin-alone")
	// 15 mm on 1500 pixels are 0.01 mm; the specimen has 80 mm, the animal to be drawn 92.
	if k := c.GetScale(); k.GetMmPerPixel() != 0.01 || k.GetToSizeMmPerPixel() < 0.01149 || k.GetToSizeMmPerPixel() > 0.01151 || k.GetProblem() != "" {
		t.Errorf("%v", k)
	}
}

// TestOneCommit plans with what a write just made, and counts nothing twice.
func TestOneCommit(t *testing.T) {
	s := stock(t)
	before := s.plan(t, wallPanel(), 0)
	s.picture(t, "rakers", "Serranus subligarius", func(p *pb.Picture) {
		p.View = pb.View_VIEW_INTERNAL
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "first gill arch", "gill rakers")
	})
	p := s.plan(t, wallPanel(), 0)
	st := structureOf(t, p, "gill rakers")
	if len(st.GetCandidates()) != 1 || st.GetGap() != "" || p.GetSequence() <= before.GetSequence() {
		t.Errorf("%d candidates, gap %q, at commit %d after %d", len(st.GetCandidates()), st.GetGap(), p.GetSequence(), before.GetSequence())
	}
}

// TestKeptBrief plans a brief that is kept; the plate that came of it is no source of it.
func TestKeptBrief(t *testing.T) {
	s := stock(t)
	kept := must[*pb.Brief](t)(s.CreateBrief(t.Context(), owner, wallPanel(), "key-figure"))
	s.picture(t, "delivered", "Serranus subligarius", func(p *pb.Picture) {
		p.Kind = pb.Kind_KIND_PLATE
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "opercle")
	})
	ask := &pb.MakePlanRequest{Brief: kept.GetName()}
	p := must[*pb.Plan](t)(s.MakePlan(t.Context(), ask))
	if c := candidateOf(structureOf(t, p, "opercle"), "delivered"); c == nil || p.GetBrief() != "briefs/key-figure" {
		t.Errorf("%s without the new plate", p.GetBrief())
	}
	must[*pb.Brief](t)(s.DeliverBrief(t.Context(), owner, &pb.DeliverBriefRequest{Name: kept.GetName(), Plate: "pictures/delivered"}))
	p = must[*pb.Plan](t)(s.MakePlan(t.Context(), ask))
	if candidateOf(structureOf(t, p, "opercle"), "delivered") != nil {
		t.Error("the plate delivered is a candidate for itself")
	}
	if _, err := s.MakePlan(t.Context(), &pb.MakePlanRequest{Brief: "briefs/none-such"}); !errors.Is(err, archive.ErrNotFound) {
		t.Errorf("no such brief: %v", err)
	}
}

// TestFlatfish doesn't mirror an animal whose sides differ.
func TestFlatfish(t *testing.T) {
	s := newStudio(t)
	s.picture(t, "blind-side", "Solea solea", func(p *pb.Picture) {
		p.View = pb.View_VIEW_LEFT_LATERAL
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "pectoral fin")
	})
	b := &pb.Brief{Identification: &pb.Identification{ScientificName: "Solea solea"}, Views: []pb.View{pb.View_VIEW_RIGHT_LATERAL, pb.View_VIEW_LEFT_LATERAL}}
	p := s.plan(t, b, 0)
	st := structureOf(t, p, "pectoral fin")
	if c := candidateOf(st, "blind-side"); c == nil || c.GetMirror() || !has(c.GetWarnings(), "left lateral instead of right lateral") || !strings.HasPrefix(st.GetGap(), "no right lateral view") {
		t.Errorf("%v, gap %q", c, st.GetGap())
	}
	if !has(p.GetRemarks(), "the usual checklist of flatfishes") || !has(p.GetRemarks(), "no counts of Solea solea are known") {
		t.Errorf("%q", p.GetRemarks())
	}
	last := p.GetStructures()[len(p.GetStructures())-1]
	if last.GetStructure() != "body shape" || last.GetView() != pb.View_VIEW_LEFT_LATERAL {
		t.Errorf("the second view is not asked for: %v", last)
	}
}

// TestHints takes counts of a relative only where nothing else is known, as hints that differ from no target.
func TestHints(t *testing.T) {
	s := newStudio(t)
	s.picture(t, "congener", "Serranus cabrilla", func(p *pb.Picture) {
		shows(p, pb.Completeness_COMPLETENESS_COMPLETE, "anal fin")
		p.Counts = &pb.Counts{Formula: "A III,8"}
	})
	p := s.plan(t, &pb.Brief{Identification: &pb.Identification{ScientificName: "Serranus subligarius"}, Structures: []*pb.WantedStructure{{Structure: "anal fin"}}}, 0)
	if e := p.GetExpected(); len(e) != 1 || len(e[0].GetCounts()) != 2 || !e[0].GetFromRelative() || e[0].GetSource() != "Serranus cabrilla, pictures/congener" || e[0].GetText() != "A III,8" {
		t.Errorf("%v", e)
	}
	if d := p.GetStructures()[0].GetCandidates()[0].GetDifferences(); d != nil {
		t.Errorf("a hint is held against the picture it comes from: %q", d)
	}
}

func TestDamages(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		words, structure string
		want             bool
	}{
		{"Anal fin frayed", "anal fin", true}, {"anal frayed; eyes sunken.", "anal fin", true}, {"anal frayed; eyes sunken.", "eye", true}, {"left pectoral fin lacking", "pectoral fin", true},
		{"analyzed in 1990", "anal fin", false}, {"second dorsal fin torn", "first dorsal fin", false}, {"", "eye", false},
	} {
		if got := damages(c.words, c.structure); got != c.want {
			t.Errorf("%q of the %s: %v", c.words, c.structure, got)
		}
	}
}

func TestChecklist(t *testing.T) {
	s := newStudio(t)
	list := must[*pb.Checklist](t)(s.Checklist("Cottus gobio"))
	if list.GetGroup() != "sculpins, gurnards and scorpionfishes" || !slices.ContainsFunc(list.GetStructures(), func(w *pb.WantedStructure) bool { return w.GetStructure() == "head spines" }) {
		t.Errorf("%v", list)
	}
	s.diagnose(t, "Serranus cabrilla", "D1 X; D2 14; A III,8")
	found := s.Taxa().Match("Serranus cabrilla", 1)[0]
	list = must[*pb.Checklist](t)(s.Checklist(taxaPrefix + found.ID))
	if list.GetStructures()[0].GetStructure() != "first dorsal fin" {
		t.Errorf("the diagnosis was not heeded: %v", list)
	}
	var field *indexer.FieldError
	if _, err := s.Checklist("Serranus cabrila"); !errors.As(err, &field) || field.Field != "taxon" || !strings.Contains(field.Want, "near it: Serranus cabrilla") {
		t.Errorf("misspelt: %v", err)
	}
	if _, err := s.Checklist("taxa/none-such"); !errors.Is(err, archive.ErrNotFound) {
		t.Errorf("unknown: %v", err)
	}
}

func TestCheckPicture(t *testing.T) {
	s := stock(t)
	c := must[*pb.PictureCheck](t)(s.CheckPicture("pictures/flat-photo"))
	if !has(c.GetRemarks(), "lies turned") || !strings.Contains(c.GetScale().GetProblem(), "apart, more than their errors explain") {
		t.Errorf("%q; %v", c.GetRemarks(), c.GetScale())
	}
	verdicts := map[string]string{}
	for _, v := range c.GetProportions() {
		verdicts[v.GetLength()+"/"+v.GetOver()] = v.GetVerdict()
	}
	if verdicts["HL/SL"] != "outside" || verdicts["BD/SL"] != "outside" {
		t.Errorf("%v", verdicts)
	}
	c = must[*pb.PictureCheck](t)(s.CheckPicture("pictures/plate"))
	if len(c.GetCounts()) == 0 || slices.ContainsFunc(c.GetCounts(), func(v *pb.CountVerdict) bool {
		return v.GetVerdict() == "outside" || v.GetVerdict() == "contradicts" || v.GetCitation() == ""
	}) {
		t.Errorf("%v", c.GetCounts())
	}
	i := slices.IndexFunc(c.GetLengths(), func(l *pb.MeasuredLength) bool { return l.GetMeasurement() == string(scale.SL) })
	if i < 0 || c.GetLengths()[i].GetMm() < 69.9 || c.GetLengths()[i].GetMm() > 70.1 {
		t.Errorf("2100 pixels at 20 mm on 600: %v", c.GetLengths())
	}
	c = must[*pb.PictureCheck](t)(s.CheckPicture("pictures/traced"))
	if c.GetScale().GetMmPerPixel() != 0 || !strings.Contains(c.GetScale().GetProblem(), "snout tip") || !has(c.GetRemarks(), "has no diagnosis") {
		t.Errorf("%v", c)
	}
	if _, err := s.CheckPicture("pictures/none-such"); !errors.Is(err, archive.ErrNotFound) {
		t.Errorf("no such picture: %v", err)
	}
}
