package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

const marking = "/pictures/perch-plate/annotate"

var etagIn = regexp.MustCompile(`name="etag" value="([^"]*)"`)

// TestMarkingByPlainForms marks a picture without a script: the formula is shown first, what is wrong stays as it was typed, and then it is stored.
func TestMarkingByPlainForms(t *testing.T) {
	h := open(t, nil)
	v := h.visit(t, "assistant")
	page := v.get(marking)
	form := url.Values{
		"etag": etagIn.FindStringSubmatch(page.text)[1:], "formula": {"D X,12; A III,7"}, "counted": {"anal fin"}, "structures": {"opercle; damaged; 100, 200, 50, 60; torn"},
		"landmarks": {"snout tip: 12, 500\nanal fin spine base 1: 300, 600\nanal fin spine base 2: 310, 600"}, "x1": {"100"}, "y1": {"900"}, "x2": {"200"}, "y2": {"900"}, "mm": {"20"}, "basis": {"scale bar"},
	}
	send := func(do string) answer { form.Set("do", do); return v.post(marking, form) }
	a := send("look")
	if a.code != http.StatusOK || !strings.Contains(a.text, "D X,12; A II,7") || !strings.Contains(a.text, "anal fin: 2 spines") {
		t.Errorf("the formula isn't shown: %d\n%s", a.code, a.text)
	}
	for field, bad := range map[string]string{"landmarks": "snout tip 12", "structures": "opercle; whole", "mm": "-3", "counted": "left whisker", "formula": "A III,7; D ((("} {
		was := form.Get(field)
		form.Set(field, bad)
		if a := send("save"); a.code != http.StatusBadRequest || !strings.Contains(a.text, `aria-invalid="true"`) || !strings.Contains(a.text, bad) {
			t.Errorf("%s %q was answered %d, without what was typed or what is wrong", field, bad, a.code)
		}
		form.Set(field, was)
	}
	if p := h.picture(t); len(p.GetLandmarks()) != 0 || p.GetRevision() != 1 {
		t.Fatalf("nothing was to be stored yet: %v", p)
	}
	if a := send("save"); a.code != http.StatusSeeOther {
		t.Fatalf("saving was answered %d\n%s", a.code, a.text)
	}
	p := h.picture(t)
	s := p.GetStructures()[0]
	if len(p.GetLandmarks()) != 3 || p.GetLandmarks()[0].GetX() != 0.012 || p.GetCounts().GetFormula() != "D X,12; A II,7" || p.GetCalibration().GetLengthMm() != 20 ||
		s.GetCompleteness() != pb.Completeness_COMPLETENESS_DAMAGED || s.GetRegion().GetY() != 0.2 || s.GetNote() != "torn" {
		t.Errorf("stored is %v", p)
	}
	if again := v.get(marking + "?saved"); !strings.Contains(again.text, "Saved.") || !strings.Contains(again.text, "snout tip: 12, 500") {
		t.Error("the page doesn't show what was stored")
	}
}

// TestMarkingWhatOthersChanged: a form that is behind loses nothing, and is merged when wanted.
func TestMarkingWhatOthersChanged(t *testing.T) {
	h := open(t, nil)
	v := h.visit(t, "owner")
	form := url.Values{"etag": etagIn.FindStringSubmatch(v.get(marking).text)[1:], "landmarks": {"fork: 900, 500"}, "structures": {"opercle; complete"}, "do": {"save"}}
	must(t)(h.archive.UpdatePicture(t.Context(), system, &pb.Picture{Name: "pictures/perch-plate", Landmarks: []*pb.Landmark{{Landmark: "snout tip", X: 0.1, Y: 0.5}}}, []string{"landmarks"}))
	a := v.post(marking, form)
	if a.code != http.StatusConflict || !strings.Contains(a.text, "fork: 900, 500") || !strings.Contains(a.text, "Somebody else changed") {
		t.Errorf("a form that is behind was answered %d\n%s", a.code, a.text)
	}
	if n := len(h.picture(t).GetLandmarks()); n != 1 {
		t.Errorf("%d landmarks are stored; want the other's alone", n)
	}
	form.Set("do", "merge")
	if a := v.post(marking, form); a.code != http.StatusSeeOther {
		t.Fatalf("merging was answered %d", a.code)
	}
	if p := h.picture(t); len(p.GetLandmarks()) != 2 {
		t.Errorf("after both saved there are %v", p.GetLandmarks())
	}
}

// TestMarkingIsTheStudiosOwn: publishers find no such page.
func TestMarkingIsTheStudiosOwn(t *testing.T) {
	h := open(t, nil)
	v := h.visit(t, "quillfin")
	if a := v.get(marking); a.code != http.StatusNotFound {
		t.Errorf("a publisher was answered %d", a.code)
	}
	if a := v.post(marking, url.Values{"landmarks": {"fork: 900, 500"}, "do": {"save"}}); a.code != http.StatusNotFound || h.picture(t).GetRevision() != 1 {
		t.Errorf("a publisher's marks were answered %d", a.code)
	}
}

func (h *house) picture(t *testing.T) *pb.Picture {
	t.Helper()
	p, err := h.archive.GetPicture("pictures/perch-plate")
	if err != nil {
		t.Fatal(err)
	}
	return p
}
