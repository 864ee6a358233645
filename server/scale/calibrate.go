package scale

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// mmPerInch is exact by definition of the inch.
const mmPerInch = 25.4

// Scale is how many mm of animal a pixel stands for.
type Scale struct {
	MMPerPixel  float64
	Uncertainty float64  // relative standard uncertainty
	Basis       string   // such as "scale bar, 20 mm"
	Remarks     []string // calibrations that were of no use, and why
}

// Bar is a stretch of known length in the picture.
type Bar struct {
	A, B        Point
	LengthMM    float64
	Uncertainty float64 // relative standard uncertainty of LengthMM; 0 takes Tolerances.Bar
	Basis       string  // what it is; empty means "scale bar"
}

// Known is a length measured on the specimen that the picture shows.
type Known struct {
	Measurement Measurement
	MM          float64
	Uncertainty float64 // relative standard uncertainty; 0 takes Tolerances.Known
}

// Evidence is all that can give a picture its scale.
type Evidence struct {
	Bars  []Bar
	Known []Known
	// Magnification is the size of the animal on the sheet that was scanned over
	// its true size; 0 if unknown. It tells the scale from the scan's resolution.
	Magnification float64
}

// FromBar gives the scale from a bar: ErrLength, ErrTooShort, ErrOutside or ErrNoPixels if it can't.
func FromBar(f Frame, b Bar, t Tolerances) (Scale, error) {
	basis := b.Basis
	if basis == "" {
		basis = "scale bar"
	}
	if !positive(b.LengthMM) {
		return Scale{}, fmt.Errorf("%s of %g mm: %w; state its true length in mm", basis, b.LengthMM, ErrLength)
	}
	basis = fmt.Sprintf("%s, %.4g mm", basis, b.LengthMM)
	var ends [2]vec
	for i, p := range []Point{b.A, b.B} {
		v, err := f.place(fmt.Sprintf("end %d of the %s", i+1, basis), p)
		if err != nil {
			return Scale{}, err
		}
		ends[i] = v
	}
	return fromPixels(ends[0].toward(ends[1]).length(), math.Sqrt2*t.landmarkError(f), b.LengthMM, or(b.Uncertainty, t.Bar), basis, t)
}

// FromKnown gives the scale from a length measured on the specimen, with the
// landmarks that show it in the picture: errors as for Measure and FromBar.
func FromKnown(p Picture, k Known, t Tolerances) (Scale, error) {
	if !positive(k.MM) {
		return Scale{}, fmt.Errorf("%s of %g mm: %w; state it in mm", k.Measurement, k.MM, ErrLength)
	}
	l, err := Measure(p, k.Measurement, t)
	if err != nil {
		return Scale{}, err
	}
	return fromPixels(l.Pixels, l.Uncertainty, k.MM, or(k.Uncertainty, t.Known), fmt.Sprintf("%s, %.4g mm", k.Measurement, k.MM), t)
}

// FromResolution gives the scale of a scan of art drawn at a known
// magnification: ErrLength if resolution or magnification is unknown.
func FromResolution(f Frame, magnification float64, t Tolerances) (Scale, error) {
	if !positive(f.PPIX) {
		return Scale{}, fmt.Errorf("the file states no pixels per inch: %w; a scale bar would tell", ErrLength)
	}
	if !positive(magnification) {
		return Scale{}, fmt.Errorf("magnification %g of the drawing: %w; a scale bar would tell", magnification, ErrLength)
	}
	return checked(Scale{
		MMPerPixel:  mmPerInch / f.PPIX / magnification,
		Uncertainty: t.PPI,
		Basis:       fmt.Sprintf("%.4g ppi, drawn at x%.4g", f.PPIX, magnification),
	})
}

// fromPixels divides a true length by its pixels.
func fromPixels(px, pxError, mm, relative float64, basis string, t Tolerances) (Scale, error) {
	if !(pxError <= t.Longest*px) {
		return Scale{}, fmt.Errorf("%s: its ends lie %.3g pixels apart, %w; set them again, or take a longer stretch", basis, px, ErrTooShort)
	}
	return checked(Scale{MMPerPixel: mm / px, Uncertainty: math.Hypot(pxError/px, relative), Basis: basis})
}

// checked refuses a scale that has run out of the range of numbers.
func checked(s Scale) (Scale, error) {
	if !positive(s.MMPerPixel) {
		return Scale{}, fmt.Errorf("%s gives %g mm to a pixel: %w", s.Basis, s.MMPerPixel, ErrLength)
	}
	return s, nil
}

// Calibrate gives the scale from everything there is. What can't be used is
// told in Remarks; if nothing can, the error is ErrNoScale and says what would
// help; if two contradict, it is a *ContradictionError.
func Calibrate(p Picture, e Evidence, t Tolerances) (Scale, error) {
	var scales []Scale
	var failed []error
	take := func(s Scale, err error) {
		if err != nil {
			failed = append(failed, err)
			return
		}
		scales = append(scales, s)
	}
	for _, b := range e.Bars {
		take(FromBar(p.Frame, b, t))
	}
	for _, k := range e.Known {
		take(FromKnown(p, k, t))
	}
	if e.Magnification != 0 {
		take(FromResolution(p.Frame, e.Magnification, t))
	}
	if len(scales) == 0 {
		if len(failed) == 0 {
			return Scale{}, fmt.Errorf("%w: set the ends of a scale bar, or the landmarks %s and the specimen's standard length", ErrNoScale, quoted([]string{SnoutTip, HypuralEnd}))
		}
		return Scale{}, fmt.Errorf("%w: %w", ErrNoScale, errors.Join(failed...))
	}
	s, err := Combine(scales, t)
	if err != nil {
		return Scale{}, err
	}
	for _, err := range failed {
		s.Remarks = append(s.Remarks, err.Error())
	}
	return s, nil
}

// Combine weighs several scales together, each by the inverse square of its
// relative uncertainty; their errors are taken as independent. ErrNoScale if
// there is none, *ContradictionError if two differ by more than their errors
// explain.
func Combine(scales []Scale, t Tolerances) (Scale, error) {
	switch len(scales) {
	case 0:
		return Scale{}, ErrNoScale
	case 1:
		return checked(scales[0])
	}
	if err := contradiction(scales, t); err != nil {
		return Scale{}, err
	}
	// In logarithms, so that relative errors add and no scale is favored for being small.
	var sum, weights float64
	var basis, remarks []string
	for _, s := range scales {
		w := 1 / (s.Uncertainty * s.Uncertainty)
		sum += w * math.Log(s.MMPerPixel)
		weights += w
		basis = append(basis, s.Basis)
		remarks = append(remarks, s.Remarks...)
	}
	return checked(Scale{
		MMPerPixel:  math.Exp(sum / weights),
		Uncertainty: 1 / math.Sqrt(weights),
		Basis:       strings.Join(basis, "; "),
		Remarks:     remarks,
	})
}

// contradiction finds the pair that differs by most standard errors, if too many.
func contradiction(scales []Scale, t Tolerances) error {
	worst, found := t.Contradiction, (*ContradictionError)(nil)
	for i, a := range scales {
		if !positive(a.MMPerPixel) || !positive(a.Uncertainty) {
			return fmt.Errorf("%s: %g mm to a pixel with uncertainty %g: %w", a.Basis, a.MMPerPixel, a.Uncertainty, ErrLength)
		}
		for _, b := range scales[:i] {
			apart := math.Abs(math.Log(a.MMPerPixel / b.MMPerPixel))
			if d := apart / math.Hypot(a.Uncertainty, b.Uncertainty); d > worst {
				worst, found = d, &ContradictionError{A: b, B: a, Apart: math.Expm1(apart), All: scales}
			}
		}
	}
	if found == nil {
		return nil
	}
	return found
}

func or(v, fallback float64) float64 {
	if positive(v) {
		return v
	}
	return fallback
}
