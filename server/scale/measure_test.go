package scale

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestMeasure(t *testing.T) {
	tol := DefaultTolerances()
	want := map[Measurement]float64{SL: 100, FL: 112, TL: math.Hypot(120, 4), HL: 32, BD: 30, ED: 8,
		SnL: math.Hypot(9, 3), POL: math.Hypot(15, 3), PDL: math.Hypot(36, 16), PAL: math.Hypot(64, 11)}
	for name, l := range looks() {
		t.Run(name, func(t *testing.T) {
			p := l.show(perchlike())
			s := Scale{MMPerPixel: 1 / l.px, Uncertainty: 0.01, Basis: "known"}
			found, lacking := MeasureAll(p, s, tol)
			if len(lacking) != 0 || len(found) != len(want) {
				t.Fatalf("found %d, lacking %v", len(found), lacking)
			}
			for _, got := range found {
				near(t, string(got.Measurement), got.MM, want[got.Measurement], 1e-9)
				near(t, string(got.Measurement)+" in pixels", got.Pixels, l.px*want[got.Measurement], 1e-6)
				if got.UncertaintyMM < 0.01*got.MM || got.Along {
					t.Errorf("%+v: uncertainty below the scale's, or bent", got)
				}
			}
		})
	}
}

func TestMeasureLacking(t *testing.T) {
	tol := DefaultTolerances()
	for _, c := range []struct {
		m       Measurement
		without []string
		names   []string
	}{
		{SL, []string{HypuralEnd}, []string{HypuralEnd}},
		{SL, []string{SnoutTip, HypuralEnd}, []string{SnoutTip, HypuralEnd}},
		{TL, []string{TailTip}, []string{TailTip}},
		{BD, []string{Belly}, []string{Belly}},
		{PDL, []string{DorsalOrigin}, []string{DorsalOrigin}},
	} {
		p := plain().show(perchlike())
		for _, name := range c.without {
			delete(p.Landmarks, name)
		}
		_, err := Measure(p, c.m, tol)
		var missing *MissingError
		if !errors.As(err, &missing) || strings.Join(missing.Landmarks, ",") != strings.Join(c.names, ",") || missing.Measurement != c.m {
			t.Errorf("%s without %v: %v", c.m, c.without, err)
		}
	}
	p := plain().show(perchlike())
	p.Landmarks[OpercleEdge] = Point{1.2, 0.5}
	if _, err := Measure(p, HL, tol); !errors.Is(err, ErrOutside) || !strings.Contains(err.Error(), OpercleEdge) {
		t.Errorf("outside: %v", err)
	}
	p.Landmarks[OpercleEdge] = p.Landmarks[SnoutTip]
	if _, err := Measure(p, HL, tol); !errors.Is(err, ErrTooShort) {
		t.Errorf("in one place: %v", err)
	}
	if _, err := Measure(p, "girth", tol); !errors.Is(err, ErrMeasurement) {
		t.Errorf("unknown: %v", err)
	}
	if _, err := Measure(Picture{}, SL, tol); !errors.Is(err, ErrNoPixels) {
		t.Errorf("no pixels: %v", err)
	}
}

// The first spine of a fin marks its origin.
func TestOriginFromBases(t *testing.T) {
	p := plain().show(perchlike())
	p.Landmarks[BaseName("first dorsal fin", true, 1)] = p.Landmarks[DorsalOrigin]
	want, err := Measure(p, PDL, DefaultTolerances())
	if err != nil {
		t.Fatal(err)
	}
	delete(p.Landmarks, DorsalOrigin)
	got, err := Measure(p, PDL, DefaultTolerances())
	if err != nil || got.Pixels != want.Pixels {
		t.Errorf("%v pixels, %v; want %v", got.Pixels, err, want.Pixels)
	}
}

// A body bent into a circular arc keeps its length along the midline.
func TestBentBody(t *testing.T) {
	tol := DefaultTolerances()
	const n, bend = 12, 0.8 // points between the ends; radians from snout to tail
	arc := func(s float64) vec {
		r := 100 / bend
		return vec{r * math.Sin(s*bend), r * (1 - math.Cos(s*bend))}
	}
	b := body{SnoutTip: arc(0), HypuralEnd: arc(1)}
	for i := 1; i <= n; i++ {
		b[MidlineName(i)] = arc(float64(i) / (n + 1))
	}
	end := arc(1)
	b[Fork] = end.plus(vec{math.Cos(bend), math.Sin(bend)}.times(12))
	l := plain()
	l.y = 0.8
	p := l.show(b)
	for m, want := range map[Measurement]float64{SL: 100, FL: 112} {
		got, err := Measure(p, m, tol)
		if err != nil {
			t.Fatal(err)
		}
		near(t, string(m), got.Pixels/l.px, want, 0.05)
		if !got.Along {
			t.Errorf("%s not along the midline", m)
		}
	}
	straight := p.Landmarks
	p.Landmarks = map[string]Point{SnoutTip: straight[SnoutTip], HypuralEnd: straight[HypuralEnd]}
	if got, err := Measure(p, SL, tol); err != nil || got.Pixels/l.px > 98 {
		t.Errorf("straight across the bend: %v, %v", got.Pixels/l.px, err)
	}
}

func TestMidlineEnds(t *testing.T) {
	tol := DefaultTolerances()
	l := plain()
	full := body{MidlineName(1): {0, 0}, MidlineName(2): {50, 5}, MidlineName(3): {100, 0}}
	want := 2 * math.Hypot(50, 5)
	for name, add := range map[string]body{
		"midline alone": {}, "ends set too": {SnoutTip: {0, 0}, HypuralEnd: {100, 0}},
		"ends a click away": {SnoutTip: {0.1, 0.05}, HypuralEnd: {100.1, 0}},
	} {
		b := body{}
		for _, part := range []body{full, add} {
			for k, v := range part {
				b[k] = v
			}
		}
		got, err := Measure(l.show(b), SL, tol)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		near(t, name, got.Pixels/l.px, want, 0.2)
	}
	gap := l.show(body{SnoutTip: {0, 0}, HypuralEnd: {100, 0}, MidlineName(2): {50, 5}})
	var missing *MissingError
	if _, err := Measure(gap, SL, tol); !errors.As(err, &missing) || missing.Landmarks[0] != MidlineName(1) {
		t.Errorf("gap in the midline: %v", err)
	}
	one := l.show(body{MidlineName(1): {50, 5}, HypuralEnd: {100, 0}})
	if _, err := Measure(one, SL, tol); !errors.As(err, &missing) || missing.Landmarks[0] != SnoutTip {
		t.Errorf("one point of a midline and no snout: %v", err)
	}
}

// Landmarks scattered by the stated error scatter lengths and proportions by
// their stated uncertainties, shared landmarks included.
func TestMonteCarlo(t *testing.T) {
	tol := DefaultTolerances()
	l := plain()
	l.px, l.frame = 4, Frame{Width: 800, Height: 600}
	b := perchlike()
	b[MidlineName(1)], b[MidlineName(2)] = vec{30, 6}, vec{70, 6}
	p := l.show(b)
	r := rand.New(rand.NewPCG(3, 4))
	e := tol.landmarkError(p.Frame)
	scattered := func() Picture {
		q := Picture{p.Frame, map[string]Point{}}
		for _, name := range []string{SnoutTip, HypuralEnd, OpercleEdge, EyeFront, EyeRear, Back, Belly, MidlineName(1), MidlineName(2)} {
			at := p.Landmarks[name]
			q.Landmarks[name] = Point{at.X + r.NormFloat64()*e/float64(p.Width), at.Y + r.NormFloat64()*e/float64(p.Height)}
		}
		return q
	}
	pairs := [][2]Measurement{{HL, SL}, {BD, SL}, {SnL, HL}, {ED, HL}, {POL, HL}}
	values := map[[2]Measurement][]float64{}
	var sl []float64
	for range 8000 {
		q := scattered()
		for _, pair := range pairs {
			got, err := ProportionOf(q, pair[0], pair[1], tol)
			if err != nil {
				t.Fatal(err)
			}
			values[pair] = append(values[pair], got.Value)
		}
		got, err := Measure(q, SL, tol)
		if err != nil {
			t.Fatal(err)
		}
		sl = append(sl, got.Pixels)
	}
	for _, pair := range pairs {
		want, err := ProportionOf(p, pair[0], pair[1], tol)
		if err != nil {
			t.Fatal(err)
		}
		near(t, string(pair[0]+"/"+pair[1]), deviation(values[pair]), want.Uncertainty, 0.05*want.Uncertainty)
	}
	want, err := Measure(p, SL, tol)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "bent SL", deviation(sl), want.Uncertainty, 0.05*want.Uncertainty)
}

func TestParseMeasurement(t *testing.T) {
	for s, want := range map[string]Measurement{
		"HL": HL, "hl": HL, "head length": HL, "Head-length": HL, "the greatest body depth": BD, "Greatest depth": BD,
		"snl": SnL, "standard length": SL, "predorsal length": PDL, "orbit diameter": ED, "Fork length": FL,
	} {
		if got, err := ParseMeasurement(s); err != nil || got != want {
			t.Errorf("%q: %v, %v; want %v", s, got, err, want)
		}
	}
	for _, s := range []string{"", "girth", "length"} {
		if got, err := ParseMeasurement(s); !errors.Is(err, ErrMeasurement) {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
	for _, m := range Measurements() {
		if got, err := ParseMeasurement(m.Words()); err != nil || got != m {
			t.Errorf("%s in words: %v, %v", m, got, err)
		}
	}
}
