package scale

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Relation is a published linear relation between two lengths of a species:
// To = Intercept + Slope * From, in mm.
type Relation struct {
	Species          string // binomial
	From, To         Measurement
	Slope, Intercept float64 // mm per mm, mm
	N                int     // fish measured; 0 if not stated
	FromMin, FromMax float64 // range of From in those fish, mm; 0 if not stated
	Residual         float64 // relative standard deviation of To about the line; 0 if not stated
	Symmetric        bool    // a ratio or major axis, which holds both ways; else To was regressed on From
	Source           string
}

// Converted is a length told from another.
type Converted struct {
	MM          float64
	Uncertainty float64 // standard uncertainty, mm
	// Hint is true if it rests on other species of the genus: a hint to a person, nothing to draw by.
	Hint  bool
	Basis string // the relation in words, with its source and cautions
}

// Convert tells one length of an animal from another by a published relation of
// its species, in either direction, or by two of them in turn; without any, by
// the mean of its congeners, flagged as a hint. ErrNoRelation if there is neither: nothing is assumed of
// fishes at large. ErrLength for a length that isn't positive. The name may
// carry subgenus or authorship.
func Convert(relations []Relation, species string, from Measurement, mm float64, to Measurement) (Converted, error) {
	if !positive(mm) {
		return Converted{}, fmt.Errorf("%s of %g mm: %w", from, mm, ErrLength)
	}
	if from == to {
		return Converted{MM: mm, Basis: string(from) + " as it is"}, nil
	}
	genus, name := binomial(species)
	var own, kin []Relation
	for _, r := range relations {
		switch g, n := binomial(r.Species); {
		case n == name && name != "":
			own = append(own, r)
		case g == genus && genus != "":
			kin = append(kin, r)
		}
	}
	if c, ok := throughAny(own, from, mm, to); ok {
		return c, nil
	}
	var each []Converted
	var names []string
	for _, r := range kin {
		if c, ok := r.apply(from, mm, to); ok {
			each = append(each, c)
			names = append(names, r.Species)
		}
	}
	if len(each) == 0 {
		return Converted{}, fmt.Errorf("%w from %s to %s for %s or its genus; measure %s", ErrNoRelation, from, to, species, to)
	}
	slices.Sort(names)
	return mean(each, fmt.Sprintf("%s from %s by the mean of other species of the genus (%s): a hint only", to, from, strings.Join(slices.Compact(names), ", "))), nil
}

// throughAny uses a relation of the species, or two of them through a length in between.
func throughAny(own []Relation, from Measurement, mm float64, to Measurement) (Converted, bool) {
	for _, r := range own {
		if c, ok := r.apply(from, mm, to); ok {
			return c, true
		}
	}
	for _, via := range []Measurement{SL, TL, FL} {
		for _, first := range own {
			a, ok := first.apply(from, mm, via)
			if !ok {
				continue
			}
			for _, second := range own {
				if b, ok := second.apply(via, a.MM, to); ok {
					b.Uncertainty = math.Hypot(b.Uncertainty, b.MM*a.Uncertainty/a.MM)
					b.Basis = a.Basis + "; then " + b.Basis
					return b, true
				}
			}
		}
	}
	return Converted{}, false
}

// apply uses the relation forward or backward.
func (r Relation) apply(from Measurement, mm float64, to Measurement) (Converted, bool) {
	const unstatedResidual = 0.02 // relative; common practice, no source
	var value, known float64
	switch {
	case r.From == from && r.To == to:
		value, known = r.Intercept+r.Slope*mm, mm
	case r.From == to && r.To == from:
		value = (mm - r.Intercept) / r.Slope
		known = value
	default:
		return Converted{}, false
	}
	if !positive(value) {
		return Converted{}, false // far below the fish measured, the line has left its meaning
	}
	c := Converted{MM: value, Uncertainty: value * or(r.Residual, unstatedResidual)}
	c.Basis = fmt.Sprintf("%s from %s: %s = %.4g + %.4g %s mm", to, from, r.To, r.Intercept, r.Slope, r.From)
	if r.N > 0 {
		c.Basis += fmt.Sprintf(", n = %d", r.N)
	}
	c.Basis += ", " + r.Species + ", " + r.Source
	if r.From != from && !r.Symmetric {
		c.Basis += "; turned round, which is a little biased"
	}
	if (r.FromMin > 0 && known < r.FromMin) || (r.FromMax > 0 && known > r.FromMax) {
		c.Basis += fmt.Sprintf("; beyond the fish measured, %s %.0f to %.0f mm", r.From, r.FromMin, r.FromMax)
	}
	return c, true
}

// mean of several, with their spread in the uncertainty.
func mean(of []Converted, basis string) Converted {
	var sum, square float64
	for _, c := range of {
		sum += c.MM
	}
	m := sum / float64(len(of))
	for _, c := range of {
		square += c.Uncertainty*c.Uncertainty + (c.MM-m)*(c.MM-m)
	}
	return Converted{MM: m, Uncertainty: math.Sqrt(square / float64(len(of))), Hint: true, Basis: basis}
}

// binomial gives genus and binomial in lower case, without a subgenus in
// brackets; the binomial is empty if the name stops at the genus.
func binomial(name string) (genus, both string) {
	words := strings.Fields(strings.ToLower(name))
	words = slices.DeleteFunc(words, func(w string) bool { return strings.HasPrefix(w, "(") && strings.HasSuffix(w, ")") })
	switch len(words) {
	case 0:
		return "", ""
	case 1:
		return words[0], ""
	default:
		return words[0], words[0] + " " + words[1]
	}
}
