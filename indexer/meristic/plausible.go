package meristic

import "fmt"

// limit is the largest count believed of any fish; 0 means no limit.
type limit struct {
	char Character
	elem Element
	most float64
}

// limits of any fish, generous. From memory, check before relying: the most dorsal
// spines are those of spiny eels and cutlassfishes, in the
// forties; eel-like fishes have several hundred soft rays and vertebrae.
var limits = [...]limit{
	{Dorsal, Spine, 60}, {Dorsal1, Spine, 60}, {Dorsal2, Spine, 20}, {Anal, Spine, 60}, {Pectoral, Spine, 2}, {Pelvic, Spine, 3},
	{Dorsal, Ray, 700}, {Anal, Ray, 600}, {Pectoral, Ray, 50}, {Pelvic, Ray, 20},
	{Caudal, Whole, 70}, {Caudal, Upper, 20}, {Caudal, Lower, 20}, {Caudal, UpperBranched, 20}, {Caudal, LowerBranched, 20},
	{Branchiostegals, Whole, 60}, {Vertebrae, Total, 800}, {GillRakers, Whole, 500}, {LateralLine, Whole, 500}, {PoredScales, Whole, 500}, {LongitudinalRow, Whole, 500},
	{PeduncleScales, Whole, 150}, {PredorsalScales, Whole, 150}, {PyloricCaeca, Whole, 2000},
}

// spinyRays is the largest count of soft rays believed behind three or more spines of
// one fin. From memory: cusk-eels and cutlassfishes have more rays but other spines.
const spinyRays = 160

// Implausible lists the counts that no fish is believed to have, as notes for a
// person to look at. It flags what is well formed but impossible, such as an anal fin
// with more spines than soft rays exchanged by a slip; it never changes a reading.
func Implausible(statements []Statement) []Note {
	var out []Note
	for i := range statements {
		s := &statements[i]
		for _, l := range limits {
			if l.char != s.Character {
				continue
			}
			if c, ok := s.Count(l.elem); ok && c.Min > l.most {
				out = append(out, Note{s.Column, fmt.Sprintf("%s: %s %s, no fish is believed to have more than %g", s.Character, rangeText(c.Interval), l.elem.Phrase(2), l.most)})
			}
		}
		out = append(out, s.exchanged()...)
	}
	return out
}

// exchanged finds an anal or pelvic fin whose spines and rays seem to have changed
// places: more than three spines and fewer rays than spines.
func (s *Statement) exchanged() []Note {
	spine, ok := s.Count(Spine)
	if !ok {
		return nil
	}
	ray, ok := s.Count(Ray)
	if !ok {
		return nil
	}
	if s.Character.class() == classAnal && spine.Min > 4 && ray.Max < spine.Min {
		return []Note{{s.Column, fmt.Sprintf("%s: %s spines and %s rays may be exchanged", s.Character, rangeText(spine.Interval), rangeText(ray.Interval))}}
	}
	if s.Character.fin() && spine.Max >= 3 && ray.Min > spinyRays {
		return []Note{{s.Column, fmt.Sprintf("%s: %s soft rays behind %s spines, no fish is believed to have both", s.Character, rangeText(ray.Interval), rangeText(spine.Interval))}}
	}
	return nil
}
