package meristic

import (
	"math"
	"slices"
)

// Verdict is what a comparison of one element comes to.
type Verdict uint8

// The verdicts, from best to worst.
const (
	NotComparable Verdict = iota // not stated on one side, or counted by another convention
	Agrees                       // the intervals overlap
	OutsideBy                    // apart, but near enough for a variant or a miscount
	Contradicts                  // apart too far to be the same kind of fish
)

// String names the verdict.
func (v Verdict) String() string {
	switch v {
	case Agrees:
		return "agrees"
	case OutsideBy:
		return "outside"
	case Contradicts:
		return "contradicts"
	default:
		return "not comparable"
	}
}

// Difference is the comparison of one element of one character.
type Difference struct {
	Character Character
	Element   Element
	Verdict   Verdict
	Distance  float64 // counts between the nearest ends; 0 where they overlap
	Within    bool    // the found interval lies wholly inside the expected one
	Found     Interval
	Expected  Interval
	Why       string // why the counts are not comparable
}

// Tolerance says how far apart counts may lie and still be a near miss.
type Tolerance struct {
	// Steps is the distance allowed for small counts, in counts.
	Steps float64
	// Share is the distance allowed as a share of the expected count, for large ones.
	Share float64
}

// NearMiss is the tolerance used where none is given: one spine or two rays apart may
// be a variant, a hundredth-odd scale row a miscount. Common practice, no source.
func NearMiss() Tolerance { return Tolerance{Steps: 2, Share: 0.1} }

// Compare puts found beside expected, element by element, in the order of expected.
// Where one side pools what the other divides (D against D1 and D2, soft rays against
// unbranched and branched), sums are compared. A character that is expected and not
// found comes last, as NotComparable with the reason "not stated"; what is found and
// not expected is left out.
func Compare(found, expected []Statement, tol Tolerance) []Difference {
	var out []Difference
	for i := range expected {
		want := &expected[i]
		got := find(found, want.Character)
		if got == nil {
			continue
		}
		for j := range want.Counts {
			w := &want.Counts[j]
			g, ok := got.Count(w.Element)
			if !ok {
				continue
			}
			d := compareCounts(evenHalves(g.Interval, w.Interval), evenHalves(w.Interval, g.Interval), tol)
			d.Character, d.Element, d.Found, d.Expected = want.Character, w.Element, g.Interval, w.Interval
			if why := clash(got, want, w.Element); why != "" {
				d.Verdict, d.Why = NotComparable, why
			}
			out = append(out, d)
		}
		out = append(out, compareRays(got, want, tol)...)
	}
	out = append(out, comparePooled(found, expected, tol)...)
	return append(out, notStated(expected, out)...)
}

// notStated lists the expected characters that nothing was compared with.
func notStated(expected []Statement, done []Difference) []Difference {
	var out []Difference
	pooled := slices.ContainsFunc(done, func(d Difference) bool { return d.Character == Dorsal })
	for i := range expected {
		s := &expected[i]
		if len(s.Counts) == 0 || slices.ContainsFunc(done, func(d Difference) bool { return d.Character == s.Character }) ||
			pooled && s.Character.class() == classDorsal {
			continue
		}
		c := s.Counts[0]
		out = append(out, Difference{Character: s.Character, Element: c.Element, Expected: c.Interval, Why: whyNotStated})
	}
	return out
}

const whyNotStated = "not stated"

// evenHalves opens a count with a half to the whole numbers beside it where the other
// count has none: 8½ is 8 to those who count the last two rays as one, 9 to those who
// count two. Source: Dictionary, "anal fin ray count"; K&F.
func evenHalves(a, b Interval) Interval {
	if !half(a) || half(b) {
		return a
	}
	a.Min, a.Max = math.Floor(a.Min), math.Ceil(a.Max)
	return a
}

func half(i Interval) bool { return i.Min != math.Trunc(i.Min) || i.Max != math.Trunc(i.Max) }

func find(statements []Statement, c Character) *Statement {
	for i := range statements {
		if statements[i].Character == c && !statements[i].Unknown {
			return &statements[i]
		}
	}
	return nil
}

func compareCounts(got, want Interval, tol Tolerance) Difference {
	d := Difference{Found: got, Expected: want, Distance: got.Distance(want), Within: want.Contains(got)}
	switch {
	case d.Distance == 0:
		d.Verdict = Agrees
	case d.Distance <= max(tol.Steps, tol.Share*want.Max):
		d.Verdict = OutsideBy
	default:
		d.Verdict = Contradicts
	}
	return d
}

// clash says why two counts cannot be compared though both are stated.
func clash(a, b *Statement, e Element) string {
	x, y := a.Convention, b.Convention
	switch {
	case e != Spine && e != Unbranched && x.LastRays != y.LastRays && x.LastRays != LastRaysUnstated && y.LastRays != LastRaysUnstated:
		return "the last two rays are counted differently"
	case x.Rudiments != y.Rudiments && x.Rudiments != RudimentsUnstated && y.Rudiments != RudimentsUnstated:
		return "rudimentary rakers are counted on one side only"
	case (e == Lower || e == Upper) && x.Angle != y.Angle && x.Angle != AngleUnstated && y.Angle != AngleUnstated:
		return "the raker at the angle is counted with another limb"
	default:
		return ""
	}
}

// compareRays sets a plain count of soft rays beside a divided one.
func compareRays(got, want *Statement, tol Tolerance) []Difference {
	g, gok := rayTotal(got)
	w, wok := rayTotal(want)
	_, both := got.Count(Ray)
	_, bothWant := want.Count(Ray)
	if !gok || !wok || both && bothWant {
		return nil
	}
	if _, ok := got.Count(Branched); ok {
		if _, ok := want.Count(Branched); ok {
			return nil // compared already, in their own kind
		}
	}
	d := compareCounts(g, w, tol)
	d.Character, d.Element = want.Character, Ray
	if why := clash(got, want, Ray); why != "" {
		d.Verdict, d.Why = NotComparable, why
	}
	return []Difference{d}
}

func rayTotal(s *Statement) (Interval, bool) {
	if c, ok := s.Count(Ray); ok {
		return c.Interval, true
	}
	return s.softRays()
}

// comparePooled sets one dorsal fin beside two.
func comparePooled(found, expected []Statement, tol Tolerance) []Difference {
	var out []Difference
	for _, e := range [...]Element{Spine, Ray} {
		var g, w Interval
		var ok bool
		if whole := find(expected, Dorsal); whole != nil {
			c, stated := whole.Count(e)
			w = c.Interval
			g, ok = pooledDorsal(found, e)
			ok = ok && stated
		} else if whole := find(found, Dorsal); whole != nil {
			c, stated := whole.Count(e)
			g = c.Interval
			w, ok = pooledDorsal(expected, e)
			ok = ok && stated
		}
		if !ok {
			continue
		}
		d := compareCounts(g, w, tol)
		d.Character, d.Element = Dorsal, e
		out = append(out, d)
	}
	return out
}

// CharacterVerdict sums up the differences of one character.
type CharacterVerdict struct {
	Character Character
	Verdict   Verdict // the gravest of its elements; NotComparable only where nothing compares
	Distance  float64 // the largest
	Reasons   []string
}

// ByCharacter gathers differences in the order in which characters first appear.
func ByCharacter(differences []Difference) []CharacterVerdict {
	var out []CharacterVerdict
	for _, d := range differences {
		i := slices.IndexFunc(out, func(v CharacterVerdict) bool { return v.Character == d.Character })
		if i < 0 {
			i = len(out)
			out = append(out, CharacterVerdict{Character: d.Character})
		}
		v := &out[i]
		v.Verdict = max(v.Verdict, d.Verdict)
		v.Distance = max(v.Distance, d.Distance)
		v.Reasons = append(v.Reasons, d.Reason())
	}
	return out
}

// Worst is the gravest verdict of a comparison; NotComparable where nothing compares.
func Worst(differences []Difference) Verdict {
	worst := NotComparable
	for _, d := range differences {
		worst = max(worst, d.Verdict)
	}
	return worst
}
