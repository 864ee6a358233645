package scale

import (
	"fmt"
	"math"
)

// Proportion is one length over another in a picture.
type Proportion struct {
	Length, Over Measurement
	Value        float64
	Uncertainty  float64 // standard uncertainty, of the same kind as Value
	Along        bool    // one of the two was measured along a bent midline
}

// String is such as "HL 31.2 % of SL".
func (p Proportion) String() string {
	return fmt.Sprintf("%s %.1f %% of %s", p.Length, 100*p.Value, p.Over)
}

// Ratio divides one length by another of the same picture. Landmarks that both
// use are counted once, so that a length over itself is exactly 1; the scale
// plays no part.
func Ratio(a, b Length) Proportion {
	r := a.Pixels / b.Pixels
	var square float64
	for _, g := range a.pulls {
		d := g.by.times(1 / a.Pixels)
		for _, h := range b.pulls {
			if h.landmark == g.landmark {
				d = d.minus(h.by.times(1 / b.Pixels))
			}
		}
		square += d.dot(d)
	}
	for _, h := range b.pulls {
		if !a.uses(h.landmark) {
			d := h.by.times(1 / b.Pixels)
			square += d.dot(d)
		}
	}
	return Proportion{
		Length: a.Measurement, Over: b.Measurement,
		Value: r, Uncertainty: r * a.sigma * math.Sqrt(square),
		Along: a.Along || b.Along,
	}
}

func (l Length) uses(landmark string) bool {
	for _, g := range l.pulls {
		if g.landmark == landmark {
			return true
		}
	}
	return false
}

// ProportionOf measures one proportion: errors as for Measure.
func ProportionOf(p Picture, length, over Measurement, t Tolerances) (Proportion, error) {
	a, errA := Measure(p, length, t)
	b, errB := Measure(p, over, t)
	if err := joinMissing(length+"/"+over, errA, errB); err != nil {
		return Proportion{}, err
	}
	return Ratio(a, b), nil
}

// Proportions gives every length over SL, and those of the head and the depth
// over HL, as far as the landmarks go.
func Proportions(p Picture, t Tolerances) []Proportion {
	found, _ := MeasureAll(p, Scale{}, t)
	var out []Proportion
	for _, over := range []Measurement{SL, HL} {
		i := indexOf(found, over)
		if i < 0 {
			continue
		}
		for _, l := range found {
			if l.Measurement != over && usual(l.Measurement, over) {
				out = append(out, Ratio(l, found[i]))
			}
		}
	}
	return out
}

// usual says whether a length is usually stated over another.
func usual(m, over Measurement) bool {
	switch over {
	case SL:
		return m != SL
	case HL:
		return m == ED || m == SnL || m == POL || m == BD
	default:
		return false
	}
}

func indexOf(lengths []Length, m Measurement) int {
	for i, l := range lengths {
		if l.Measurement == m {
			return i
		}
	}
	return -1
}
