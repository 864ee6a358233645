package scale

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestFromBar(t *testing.T) {
	tol := DefaultTolerances()
	for _, c := range []struct {
		name  string
		frame Frame
		bar   Bar
		want  float64
		err   error
	}{
		{"across", Frame{Width: 1000, Height: 500}, Bar{A: Point{0.1, 0.5}, B: Point{0.6, 0.5}, LengthMM: 50}, 0.1, nil},
		{"down", Frame{Width: 1000, Height: 500}, Bar{A: Point{0.1, 0.2}, B: Point{0.1, 0.8}, LengthMM: 30}, 0.1, nil},
		{"slanted 3:4:5", Frame{Width: 1000, Height: 1000}, Bar{A: Point{0.1, 0.1}, B: Point{0.4, 0.5}, LengthMM: 100}, 0.2, nil},
		{"down, half as many pixels to the inch down", Frame{Width: 1000, Height: 500, PPIX: 600, PPIY: 300}, Bar{A: Point{0.1, 0.2}, B: Point{0.1, 0.8}, LengthMM: 60}, 0.1, nil},
		{"one resolution only: square", Frame{Width: 1000, Height: 500, PPIX: 600}, Bar{A: Point{0.1, 0.2}, B: Point{0.1, 0.8}, LengthMM: 30}, 0.1, nil},
		{"zero length", Frame{Width: 1000, Height: 500}, Bar{A: Point{0.1, 0.2}, B: Point{0.1, 0.2}, LengthMM: 60}, 0, ErrTooShort},
		{"as short as its error", Frame{Width: 1000, Height: 500}, Bar{A: Point{0.1, 0.2}, B: Point{0.104, 0.2}, LengthMM: 60}, 0, ErrTooShort},
		{"outside", Frame{Width: 1000, Height: 500}, Bar{A: Point{0.1, 0.2}, B: Point{1.1, 0.2}, LengthMM: 60}, 0, ErrOutside},
		{"no number", Frame{Width: 1000, Height: 500}, Bar{A: Point{0.1, math.NaN()}, B: Point{0.9, 0.2}, LengthMM: 60}, 0, ErrOutside},
		{"no true length", Frame{Width: 1000, Height: 500}, Bar{A: Point{0.1, 0.2}, B: Point{0.9, 0.2}}, 0, ErrLength},
		{"no pixels", Frame{}, Bar{A: Point{0.1, 0.2}, B: Point{0.9, 0.2}, LengthMM: 10}, 0, ErrNoPixels},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := FromBar(c.frame, c.bar, tol)
			if !errors.Is(err, c.err) {
				t.Fatalf("error %v, want %v", err, c.err)
			}
			near(t, "mm per pixel", s.MMPerPixel, c.want, 1e-12)
			if c.err == nil && !(s.Uncertainty > 0 && s.Uncertainty < 0.02) {
				t.Errorf("uncertainty %g", s.Uncertainty)
			}
		})
	}
}

// A bar twice as long is known about twice as well, down to the error of its stated length.
func TestBarUncertainty(t *testing.T) {
	tol := DefaultTolerances()
	f := Frame{Width: 1000, Height: 1000}
	var last float64
	for i, x := range []float64{0.11, 0.14, 0.2, 0.32, 0.56} {
		s, err := FromBar(f, Bar{A: Point{0.08, 0.5}, B: Point{x, 0.5}, LengthMM: 10}, tol)
		if err != nil {
			t.Fatal(err)
		}
		if i > 0 && !(s.Uncertainty < last) {
			t.Errorf("bar to %g: %g, shorter one %g", x, s.Uncertainty, last)
		}
		last = s.Uncertainty
	}
	if last < tol.Bar {
		t.Errorf("%g is below the error of the bar itself, %g", last, tol.Bar)
	}
}

func TestFromResolution(t *testing.T) {
	tol := DefaultTolerances()
	s, err := FromResolution(Frame{Width: 100, Height: 100, PPIX: 508, PPIY: 508}, 2, tol)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "508 ppi at twice the size", s.MMPerPixel, 0.025, 1e-15)
	for _, magnification := range []float64{0, -1, math.Inf(1), math.NaN()} {
		if _, err := FromResolution(Frame{Width: 100, Height: 100, PPIX: 508}, magnification, tol); !errors.Is(err, ErrLength) {
			t.Errorf("magnification %g: %v", magnification, err)
		}
	}
	if _, err := FromResolution(Frame{Width: 100, Height: 100}, 2, tol); !errors.Is(err, ErrLength) {
		t.Errorf("no resolution: %v", err)
	}
}

func TestCalibrateAgreeing(t *testing.T) {
	tol := DefaultTolerances()
	l := plain()
	l.frame.PPIX, l.frame.PPIY = 508, 508 // 20 pixels to the mm of a life-size drawing
	p := l.show(perchlike())
	e := Evidence{
		Bars:          []Bar{{A: l.at(vec{0, -30}), B: l.at(vec{20, -30}), LengthMM: 20}},
		Known:         []Known{{Measurement: SL, MM: 100.4}, {Measurement: HL, MM: 32}},
		Magnification: 1,
	}
	s, err := Calibrate(p, e, tol)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mm per pixel", s.MMPerPixel, 0.05, 0.05*0.005)
	bar, err := FromBar(p.Frame, e.Bars[0], tol)
	if err != nil {
		t.Fatal(err)
	}
	if s.Uncertainty >= bar.Uncertainty {
		t.Errorf("all together %g are no better than the bar alone %g", s.Uncertainty, bar.Uncertainty)
	}
	for _, part := range []string{"scale bar, 20 mm", "SL, 100.4 mm", "HL, 32 mm", "508 ppi, drawn at x1"} {
		if !strings.Contains(s.Basis, part) {
			t.Errorf("basis %q lacks %q", s.Basis, part)
		}
	}
}

func TestCalibrateContradiction(t *testing.T) {
	tol := DefaultTolerances()
	l := plain()
	p := l.show(perchlike())
	_, err := Calibrate(p, Evidence{
		Bars:  []Bar{{A: l.at(vec{0, -30}), B: l.at(vec{50, -30}), LengthMM: 50}},
		Known: []Known{{Measurement: SL, MM: 118}, {Measurement: HL, MM: 32.2}},
	}, tol)
	var both *ContradictionError
	if !errors.As(err, &both) || !errors.Is(err, ErrContradiction) {
		t.Fatalf("error %v", err)
	}
	if both.A.Basis != "scale bar, 50 mm" || both.B.Basis != "SL, 118 mm" || len(both.All) != 3 {
		t.Errorf("contradicting: %+v", both)
	}
	near(t, "apart", both.Apart, 0.18, 1e-9)
	for _, figure := range []string{"0.05 mm", "0.059"} {
		if !strings.Contains(err.Error(), figure) {
			t.Errorf("%q lacks %q", err, figure)
		}
	}
}

func TestCalibrateLacking(t *testing.T) {
	tol := DefaultTolerances()
	p := plain().show(perchlike())
	delete(p.Landmarks, HypuralEnd)
	_, err := Calibrate(p, Evidence{Known: []Known{{Measurement: SL, MM: 100}}}, tol)
	if !errors.Is(err, ErrNoScale) || !errors.Is(err, ErrMissing) || !strings.Contains(err.Error(), `"hypural end"`) {
		t.Errorf("error %v; want the missing landmark named", err)
	}
	_, err = Calibrate(p, Evidence{}, tol)
	if !errors.Is(err, ErrNoScale) || !strings.Contains(err.Error(), "scale bar") {
		t.Errorf("error %v; want it to say what would help", err)
	}
	s, err := Calibrate(p, Evidence{Known: []Known{{Measurement: SL, MM: 100}, {Measurement: HL, MM: 32}}}, tol)
	if err != nil || len(s.Remarks) != 1 || !strings.Contains(s.Remarks[0], "hypural end") {
		t.Errorf("%+v, %v; want the head's scale and a remark on SL", s, err)
	}
	near(t, "mm per pixel", s.MMPerPixel, 0.05, 1e-12)
}

// Clicks scattered by the stated error scatter the scale by the stated uncertainty.
func TestBarMonteCarlo(t *testing.T) {
	tol := DefaultTolerances()
	f := Frame{Width: 1000, Height: 800}
	bar := Bar{A: Point{0.2, 0.2}, B: Point{0.3, 0.3}, LengthMM: 20}
	s, err := FromBar(f, bar, tol)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 2))
	e := tol.landmarkError(f)
	jitter := func(p Point) Point {
		return Point{p.X + r.NormFloat64()*e/float64(f.Width), p.Y + r.NormFloat64()*e/float64(f.Height)}
	}
	var ratios []float64
	for range 20000 {
		try, err := FromBar(f, Bar{A: jitter(bar.A), B: jitter(bar.B), LengthMM: bar.LengthMM * (1 + r.NormFloat64()*tol.Bar)}, tol)
		if err != nil {
			t.Fatal(err)
		}
		ratios = append(ratios, try.MMPerPixel/s.MMPerPixel)
	}
	near(t, "scatter", deviation(ratios), s.Uncertainty, 0.03*s.Uncertainty)
}

func deviation(of []float64) float64 {
	var mean, square float64
	for _, f := range of {
		mean += f / float64(len(of))
	}
	for _, f := range of {
		square += (f - mean) * (f - mean)
	}
	return math.Sqrt(square / float64(len(of)-1))
}

// Whatever comes in, a scale is positive and finite or an error says why not.
func FuzzCalibrate(f *testing.F) {
	f.Add(1000, 500, 300.0, 300.0, 0.1, 0.2, 0.8, 0.9, 25.0, 100.0, 1.5)
	f.Add(0, 500, 0.0, 0.0, 0.1, 0.2, 0.1, 0.2, 25.0, -1.0, 0.0)
	f.Add(10, 10, 1e-300, 1e300, 0.0, 0.0, 1.0, 1.0, 1e308, 5e-324, 1e300)
	f.Add(1, 1<<40, math.Inf(1), math.NaN(), 0.5, 0.0, 0.5, 1.0, 1e-320, 1e-320, 1e-320)
	f.Fuzz(func(t *testing.T, w, h int, ppiX, ppiY, x1, y1, x2, y2, bar, sl, magnification float64) {
		p := Picture{Frame{w, h, ppiX, ppiY}, map[string]Point{SnoutTip: {x1, y1}, HypuralEnd: {x2, y2}}}
		s, err := Calibrate(p, Evidence{
			Bars:          []Bar{{A: Point{x1, y1}, B: Point{x2, y2}, LengthMM: bar}},
			Known:         []Known{{Measurement: SL, MM: sl}},
			Magnification: magnification,
		}, DefaultTolerances())
		if err == nil && (!positive(s.MMPerPixel) || !positive(s.Uncertainty)) {
			t.Errorf("scale %+v", s)
		}
		if err != nil && err.Error() == "" {
			t.Error("error without text")
		}
	})
}
