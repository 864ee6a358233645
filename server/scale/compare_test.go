package scale

import (
	"errors"
	"strings"
	"testing"
)

func TestParseInterval(t *testing.T) {
	for _, c := range []struct {
		text      string
		m, over   Measurement
		low, high float64
		err       error
	}{
		{"HL in SL 3.1-3.4", HL, SL, 1 / 3.4, 1 / 3.1, nil},
		{"head length 3.1 to 3.4 in standard length", HL, SL, 1 / 3.4, 1 / 3.1, nil},
		{"head length 3.2 times in SL", HL, SL, 1 / 3.2, 1 / 3.2, nil},
		{"HL 29-32 % of SL", HL, SL, 0.29, 0.32, nil},
		{"HL 29.4–32.3% SL", HL, SL, 0.294, 0.323, nil},
		{"HL/SL 0.29-0.32", HL, SL, 0.29, 0.32, nil},
		{"HL/SL: 29-32", HL, SL, 0.29, 0.32, nil},
		{"eye diameter over head length 0.25", ED, HL, 0.25, 0.25, nil},
		{"ED in HL 3.5-4", ED, HL, 0.25, 1 / 3.5, nil},
		{"body depth 8-12 percent of SL", BD, SL, 0.08, 0.12, nil},
		{"BD in SL 12", BD, SL, 1.0 / 12, 1.0 / 12, nil},
		{"BD over SL 3-5", BD, SL, 0.2, 1.0 / 3, nil},
		{"BD over SL 12", "", "", 0, 0, ErrAmbiguous},
		{"HL over SL 8", "", "", 0, 0, ErrAmbiguous},
		{"ED/HL 10", "", "", 0, 0, ErrAmbiguous},
		{"BD/HL 1.1", "", "", 0, 0, ErrAmbiguous},
		{"HL/SL 700", "", "", 0, 0, ErrAmbiguous},
		{"girth in SL 3", "", "", 0, 0, ErrMeasurement},
		{"HL in SL 3.4-3.1", "", "", 0, 0, ErrLength},
		{"HL in SL 0", "", "", 0, 0, ErrLength},
		{"HL in SL", "", "", 0, 0, ErrStatement},
		{"", "", "", 0, 0, ErrStatement},
	} {
		got, err := ParseInterval(c.text, "a publication")
		if !errors.Is(err, c.err) {
			t.Errorf("%q: error %v, want %v", c.text, err, c.err)
			continue
		}
		if c.err == nil && (got.Length != c.m || got.Over != c.over || got.Against != "a publication") {
			t.Errorf("%q: %+v", c.text, got)
		}
		near(t, c.text+" min", got.Min, c.low, 1e-12)
		near(t, c.text+" max", got.Max, c.high, 1e-12)
	}
}

// Names and figures as a record holds them.
func TestReadInterval(t *testing.T) {
	for _, c := range []struct {
		length, over string
		lo, hi       float64
		low, high    float64
	}{
		{"head length", "standard length", 3, 3.4, 1 / 3.4, 1.0 / 3},
		{"head length", "standard length", 0.29, 0.32, 0.29, 0.32},
		{"head length", "standard length", 29, 32, 0.29, 0.32},
		{"depth", "in SL", 11, 14, 1.0 / 14, 1.0 / 11},
		{"depth", "% of SL", 8, 9, 0.08, 0.09},
		{"total length", "standard length", 1.2, 1.3, 1.2, 1.3},
		{"total length", "standard length", 118, 125, 1.18, 1.25},
		{"standard length", "total length", 80, 85, 0.8, 0.85},
	} {
		got, err := ReadInterval(c.length, c.over, c.lo, c.hi, "")
		if err != nil {
			t.Errorf("%s over %s: %v", c.length, c.over, err)
			continue
		}
		near(t, c.length+" min", got.Min, c.low, 1e-12)
		near(t, c.length+" max", got.Max, c.high, 1e-12)
	}
}

// A fraction lies within its own interval in whatever notation that is written,
// and nothing read is anything but an interval.
func FuzzParseInterval(f *testing.F) {
	for _, s := range []string{"HL in SL 3.1-3.4", "HL 29-32 % of SL", "BD/SL 0.25", "head length 3 times in standard length", "ED of HL 1e5", "-–%"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseInterval(s, "")
		if err != nil {
			return
		}
		if !positive(got.Min) || !(got.Max >= got.Min) || got.Length == "" || got.Over == "" {
			t.Errorf("%q: %+v", s, got)
		}
	})
}

// Each body against diagnoses written for the undistorted fish: HL 30-34, BD 28-32, PDL 36-42 % of SL.
func TestDeformations(t *testing.T) {
	tol := DefaultTolerances()
	var wants []Interval
	for _, s := range []string{"HL 30-34 % of SL", "BD 28-32 % of SL", "PDL 36-42 % of SL", "PAL 62-67 % of SL", "TL 117-124 % of SL"} {
		w, err := ParseInterval(s, "an invented key")
		if err != nil {
			t.Fatal(err)
		}
		wants = append(wants, w)
	}
	change := func(edit func(body)) body {
		b := perchlike()
		edit(b)
		return b
	}
	for _, c := range []struct {
		name string
		b    body
		kind DeformationKind
	}{
		{"as it should be", perchlike(), 0},
		{"head turned away", change(func(b body) {
			b[OpercleEdge], b[Back], b[Belly] = vec{25, 0}, vec{40, 21}, vec{40, -18}
		}), Foreshortened},
		{"shortened front", change(func(b body) {
			b[DorsalOrigin], b[Back], b[Belly] = vec{26, 12}, vec{40, 21}, vec{40, -18}
		}), Foreshortened},
		{"bloated", change(func(b body) { b[Belly] = vec{40, -24} }), Swollen},
		{"emaciated", change(func(b body) { b[Belly] = vec{40, -5} }), Sunken},
		{"gaping", change(func(b body) { b[OpercleEdge] = vec{38, 0} }), Flared},
		{"tail worn", change(func(b body) { b[TailTip] = vec{107, 0} }), Worn},
		{"curved", change(func(b body) { b[MidlineName(1)] = vec{50, 12} }), Bent},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := plain().show(c.b)
			got := Deformations(p, ComparePublished(p, wants, tol), tol)
			if c.kind == 0 {
				if len(got) != 0 {
					t.Errorf("found %v in a sound body", got)
				}
				return
			}
			if len(got) == 0 || got[0].Kind != c.kind || got[0].Explanation == "" {
				t.Errorf("found %+v, want %s", got, c.kind)
			}
		})
	}
}

func TestCompare(t *testing.T) {
	tol := DefaultTolerances()
	p := plain().show(perchlike()) // HL 32 % of SL
	for _, c := range []struct {
		text    string
		verdict Verdict
		in      string
	}{
		{"HL 30-34 % of SL", Agrees, "32.0 % of SL"},
		{"HL in SL 3.15-3.4", Agrees, "within the tolerance"},
		{"HL 24-27 % of SL", Outside, "19 % too large"},
		{"HL 38-40 % of SL", Outside, "16 % too small"},
	} {
		want, err := ParseInterval(c.text, "an invented key")
		if err != nil {
			t.Fatal(err)
		}
		got := ComparePublished(p, []Interval{want}, tol)[0]
		if got.Verdict != c.verdict || !strings.Contains(got.Explanation, c.in) || !strings.Contains(got.Explanation, "an invented key") {
			t.Errorf("%s: %s, %q", c.text, got.Verdict, got.Explanation)
		}
		if (got.Off > 0) != (got.Found > want.Max) || (got.Off < 0) != (got.Found < want.Min) {
			t.Errorf("%s: off %g", c.text, got.Off)
		}
	}
	want := Interval{HL, SL, 0.3, 0.34, "a key"}
	delete(p.Landmarks, OpercleEdge)
	if got := ComparePublished(p, []Interval{want}, tol)[0]; got.Verdict != NotComparable || !strings.Contains(got.Explanation, `"opercle edge"`) {
		t.Errorf("without opercle: %+v", got)
	}
	tiny := plain()
	tiny.px, tiny.frame = 0.3, Frame{Width: 200, Height: 100}
	if got := ComparePublished(tiny.show(perchlike()), []Interval{{ED, HL, 0.2, 0.21, "a key"}}, tol)[0]; got.Verdict != NotComparable || !strings.Contains(got.Explanation, "larger picture") {
		t.Errorf("of three pixels: %+v", got)
	}
}

// A picture agrees with any similar picture of the same body, and a deeper body is told from it.
func TestCompareBody(t *testing.T) {
	tol := DefaultTolerances()
	truth := plain().show(perchlike())
	for name, l := range looks() {
		held := CompareBody(l.show(perchlike()), truth, "plate 7", tol)
		if len(held) != len(Proportions(truth, tol)) {
			t.Errorf("%s: %d compared", name, len(held))
		}
		for _, c := range held {
			if c.Verdict != Agrees {
				t.Errorf("%s: %s", name, c.Explanation)
			}
		}
	}
	deep := perchlike()
	deep[Back] = vec{40, 24}
	for _, c := range CompareBody(plain().show(deep), truth, "plate 7", tol) {
		if want := c.Want.Length == BD; (c.Verdict == Outside) != want {
			t.Errorf("deeper: %s %s", c.Verdict, c.Explanation)
		}
	}
}

func TestRatioOfItself(t *testing.T) {
	l, err := Measure(plain().show(perchlike()), HL, DefaultTolerances())
	if err != nil {
		t.Fatal(err)
	}
	if r := Ratio(l, l); r.Value != 1 || r.Uncertainty != 0 {
		t.Errorf("%+v", r)
	}
}

// A body too small to tell gives nothing to hold others against.
func TestCompareBodyTooSmall(t *testing.T) {
	tiny := plain()
	tiny.px, tiny.frame = 0.3, Frame{Width: 200, Height: 100}
	for _, c := range CompareBody(plain().show(perchlike()), tiny.show(perchlike()), "a thumbnail", DefaultTolerances()) {
		if c.Want.Length == ED {
			t.Errorf("eye of two pixels taken as true: %+v", c.Want)
		}
	}
}

// What people read has a word of its own for each value.
func TestWords(t *testing.T) {
	seen := map[string]bool{}
	for _, w := range []interface{ String() string }{
		Agrees, Outside, NotComparable, Foreshortened, Swollen, Sunken, Flared, Worn, Bent, Note, Caution, Serious, Line, Tone, Combination,
	} {
		if s := w.String(); s == "" || s == "not stated" || seen[s] {
			t.Errorf("%T %v: %q", w, w, s)
		}
		seen[w.String()] = true
	}
	p, err := ProportionOf(plain().show(perchlike()), HL, SL, DefaultTolerances())
	if err != nil || p.String() != "HL 32.0 % of SL" {
		t.Errorf("%s, %v", p, err)
	}
}
