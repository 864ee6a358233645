package scale

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestReproduce(t *testing.T) {
	tol := DefaultTolerances()
	square := func(ppi float64) Frame { return Frame{Width: 8000, Height: 4000, PPIX: ppi, PPIY: ppi} }
	for _, c := range []struct {
		name        string
		frame       Frame
		px, mm      float64
		r           Rendering
		factor, ppi float64
		worst       Severity
		words       string
	}{
		{"same size", square(1200), 6000, 127, Line, 1, 1200, 0, ""},
		{"halved line art", square(1200), 6000, 63.5, Line, 0.5, 2400, 0, ""},
		{"line art at 1000", square(1000), 5000, 127, Line, 1, 1000, Caution, "1200"},
		{"line art at 700", square(700), 3500, 127, Line, 1, 700, Serious, "800"},
		{"line art at 500", square(500), 2500, 127, Line, 1, 500, Serious, "600"},
		{"tone at 300", square(300), 1500, 127, Tone, 1, 300, 0, ""},
		{"tone at 299", square(299), 1495, 127, Tone, 1, 299, Caution, "300"},
		{"combination at 500", square(500), 2500, 127, Combination, 1, 500, Caution, "600"},
		{"doubled tone", square(600), 1500, 127, Tone, 2, 300, Note, "enlarged x2.00"},
		{"nothing asked", square(100), 500, 127, AnyRendering, 1, 100, 0, ""},
		{"no resolution stated", Frame{Width: 8000, Height: 4000}, 6000, 127, Line, 0, 1200, 0, ""},
		{"fewer pixels down", Frame{Width: 8000, Height: 4000, PPIX: 1200, PPIY: 600}, 6000, 127, Line, 1, 1200, Serious, "600 ppi in print"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Reproduce(c.frame, c.px, c.mm, c.r, tol)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "factor", got.Factor, c.factor, 1e-12)
			near(t, "ppi", got.EffectivePPI, c.ppi, 1e-9)
			near(t, "pixel", got.PixelMM*got.EffectivePPI, 25.4, 1e-9)
			var worst Severity
			var words string
			for _, w := range got.Warnings {
				if w.Severity > worst {
					worst, words = w.Severity, w.Text
				}
			}
			if worst != c.worst || !strings.Contains(words, c.words) {
				t.Errorf("warned %s %q, want %s %q", worst, words, c.worst, c.words)
			}
		})
	}
	for _, bad := range [][2]float64{{0, 10}, {10, 0}, {-1, 10}, {math.NaN(), 10}, {10, math.Inf(1)}} {
		if _, err := Reproduce(square(600), bad[0], bad[1], Line, tol); !errors.Is(err, ErrLength) {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

func TestLineWeight(t *testing.T) {
	r, err := Reproduce(Frame{Width: 8000, Height: 4000, PPIX: 1200, PPIY: 1200}, 6000, 31.75, Line, DefaultTolerances())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "reduced to a quarter", r.Factor, 0.25, 1e-12)
	near(t, "finest", r.FinestLine(), 0.4, 1e-12)
	for _, c := range []struct {
		mm, printed float64
		bad         bool
	}{{0.8, 0.2, false}, {0.41, 0.1025, false}, {0.25, 0.0625, true}, {0, 0, false}} {
		printed, w, bad := r.Line(c.mm)
		near(t, "printed", printed, c.printed, 1e-12)
		if bad != c.bad || bad != (w.Text != "") {
			t.Errorf("%g mm: %v %q", c.mm, bad, w.Text)
		}
	}
}
