package scale

import "fmt"

// Rendering says how a picture is to be printed.
type Rendering uint8

// Renderings in the numbers of the contract.
const (
	AnyRendering Rendering = iota // not stated; nothing is asked of the resolution
	Line                          // black and white only
	Tone                          // continuous tone, gray or color
	Combination                   // line over tone
)

// String gives the trade's words.
func (r Rendering) String() string {
	switch r {
	case Line:
		return "line art"
	case Tone:
		return "tone"
	case Combination:
		return "line over tone"
	default:
		return "not stated"
	}
}

// Warning is a remark on a picture in print.
type Warning struct {
	Severity Severity
	Text     string
}

// Reproduction is what becomes of a picture in print.
type Reproduction struct {
	// Factor is the size in print over the size of the original at its stated
	// resolution: above 1 enlarged, below 1 reduced; 0 if the file states no resolution.
	Factor float64
	// EffectivePPI is how many pixels (across) come to the printed inch.
	EffectivePPI float64
	// PixelMM is the size of a pixel in print, mm: no line can be thinner.
	PixelMM  float64
	Warnings []Warning

	tolerances Tolerances
}

// Reproduce says what becomes of a picture when a stretch of it, px pixels
// long, is printed mm long: usually the body's SL, FL or TL and that length in
// print. ErrLength if either is not positive.
func Reproduce(f Frame, px, mm float64, r Rendering, t Tolerances) (Reproduction, error) {
	if !positive(px) || !positive(mm) {
		return Reproduction{}, fmt.Errorf("%g pixels to be printed at %g mm: %w", px, mm, ErrLength)
	}
	out := Reproduction{EffectivePPI: px / mm * mmPerInch, PixelMM: mm / px, tolerances: t}
	if positive(f.PPIX) {
		out.Factor = f.PPIX / out.EffectivePPI
	}
	// A pixel that is taller than wide gives fewer to the inch down than across.
	worst := min(out.EffectivePPI, out.EffectivePPI/f.aspect())
	for _, g := range t.Print[r] {
		if worst < g.Below {
			out.warn(g.Severity, "%.0f ppi in print: below the %.0f wanted for %s (%s)", worst, g.Below, r, g.Why)
			break
		}
	}
	if out.Factor > t.Enlarged {
		out.warn(Note, "enlarged x%.2f from the original: its flaws grow with it", out.Factor)
	}
	return out, nil
}

// Line gives the weight in print of a line that is mm wide on the original, and
// warns of a hairline. 0 if the factor is unknown.
func (r Reproduction) Line(mm float64) (printed float64, w Warning, bad bool) {
	if r.Factor == 0 || !positive(mm) {
		return 0, Warning{}, false
	}
	printed = mm * r.Factor
	if printed < r.tolerances.Hairline {
		return printed, Warning{Caution, fmt.Sprintf("a line of %.2g mm on the original prints at %.2g mm: below %.2g mm it may break up; draw it at least %.2g mm",
			mm, printed, r.tolerances.Hairline, r.tolerances.Hairline/r.Factor)}, true
	}
	return printed, Warning{}, false
}

// FinestLine is how wide a line must be on the original to print safely, mm; 0 if the factor is unknown.
func (r Reproduction) FinestLine() float64 {
	if r.Factor == 0 {
		return 0
	}
	return r.tolerances.Hairline / r.Factor
}

func (r *Reproduction) warn(s Severity, format string, args ...any) {
	r.Warnings = append(r.Warnings, Warning{s, fmt.Sprintf(format, args...)})
}
