package scale

import (
	"fmt"
)

// DeformationKind is a way in which a picture's body is not true to life.
type DeformationKind uint8

// Deformations. How they show is common practice, no source.
const (
	Foreshortened DeformationKind = iota + 1 // turned out of the plane of the picture, or lying flat and bent toward the eye
	Swollen                                  // deeper than it should be while its lengths agree: bloated, gravid, or pressed flat
	Sunken                                   // shallower than it should be while its lengths agree: emaciated, shrivelled
	Flared                                   // head longer than it should be while all else agrees: mouth open or opercle spread
	Worn                                     // tail shorter than it should be while the body agrees: rays broken
	Bent                                     // body curved in the plane of the picture
)

// String gives the word.
func (k DeformationKind) String() string {
	switch k {
	case Foreshortened:
		return "foreshortened"
	case Swollen:
		return "swollen"
	case Sunken:
		return "sunken"
	case Flared:
		return "flared"
	case Worn:
		return "worn"
	case Bent:
		return "bent"
	default:
		return "not stated"
	}
}

// Deformation is a sign that a picture's body is not true to life.
type Deformation struct {
	Kind        DeformationKind
	Explanation string
}

// Deformations reads the signs of a deformed body out of comparisons with one
// source, and from the picture's midline. One proportion alone says little;
// these are patterns of several.
func Deformations(p Picture, held []Comparison, t Tolerances) []Deformation {
	var out []Deformation
	if d, ok := bend(p, t); ok {
		out = append(out, d)
	}
	off := offsets(held)
	depth, depthKnown := off[BD]
	head, headKnown := off[HL]
	switch {
	case depth > 0 && (head < 0 || anyNonzero(off, -1, PDL, PAL)):
		out = append(out, Deformation{Foreshortened, fmt.Sprintf("depth %+.0f %% and %s against the standard length: the body probably lies turned toward or away from the eye; take its outline from another picture",
			100*depth, lengths(off, -1))})
	case depth > 0:
		out = append(out, Deformation{Swollen, fmt.Sprintf("depth %+.0f %% while %s: bloated, gravid or pressed flat, or the whole body is foreshortened evenly; don't take its depth from here",
			100*depth, agreement(headKnown, "the head agrees", "no other length could be compared"))})
	case depth < 0 && head == 0:
		out = append(out, Deformation{Sunken, fmt.Sprintf("depth %+.0f %% while %s: shrivelled or emaciated; don't take its depth from here",
			100*depth, agreement(headKnown, "the head agrees", "no other length could be compared"))})
	}
	if head > 0 && depthKnown && depth == 0 && off[PDL] <= 0 && off[PAL] <= 0 {
		out = append(out, Deformation{Flared, fmt.Sprintf("head %+.0f %% while the depth agrees: the mouth may be open or the gill cover spread; check the head's outline", 100*head)})
	}
	for _, m := range []Measurement{TL, FL} {
		if off[m] < 0 && depthKnown && depth == 0 {
			out = append(out, Deformation{Worn, fmt.Sprintf("%s %+.0f %% while the body agrees: the tail's rays may be worn or broken; take the tail from another picture", m, 100*off[m])})
			break
		}
	}
	return out
}

// bend compares the midline with the straight line between its ends.
func bend(p Picture, t Tolerances) (Deformation, bool) {
	m, err := MidlineOf(p, t)
	if err != nil || len(m.at) < 3 {
		return Deformation{}, false // no midline to bend; what it lacks is told where lengths are measured
	}
	straight := m.at[0].toward(m.at[len(m.at)-1]).length()
	longer := m.Pixels()/straight - 1
	if !(longer > t.Bend) {
		return Deformation{}, false
	}
	return Deformation{Bent, fmt.Sprintf("the body is bent: its midline is %.1f %% longer than the straight line from snout tip to hypural end; lengths are taken along it, but the outline can't be traced as it is", 100*longer)}, true
}

// offsets holds, for lengths compared over SL, how far they lie outside; 0 if they agree.
func offsets(held []Comparison) map[Measurement]float64 {
	off := map[Measurement]float64{}
	for _, c := range held {
		if c.Want.Over != SL {
			continue
		}
		switch c.Verdict {
		case Outside:
			off[c.Want.Length] = c.Off
		case Agrees:
			if _, told := off[c.Want.Length]; !told {
				off[c.Want.Length] = 0
			}
		default:
		}
	}
	return off
}

// anyNonzero says whether one of the lengths lies off in the direction of sign.
func anyNonzero(off map[Measurement]float64, sign float64, of ...Measurement) bool {
	for _, m := range of {
		if off[m]*sign > 0 {
			return true
		}
	}
	return false
}

// lengths lists the lengths along the body that lie off in the direction of sign.
func lengths(off map[Measurement]float64, sign float64) string {
	text := ""
	for _, m := range []Measurement{HL, PDL, PAL} {
		if off[m]*sign > 0 {
			if text != "" {
				text += ", "
			}
			text += fmt.Sprintf("%s %+.0f %%", m.Words(), 100*off[m])
		}
	}
	return text
}

func agreement(known bool, yes, no string) string {
	if known {
		return yes
	}
	return no
}
