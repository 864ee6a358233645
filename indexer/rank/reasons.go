package rank

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"platarium/indexer/meristic"
	"platarium/indexer/taxon"
)

// Reasons says in words what Score added up, most weighty first; what brought
// nothing is left out, except counts that stand apart.
func (s *Scorer) Reasons(p Picture) []Reason {
	var out []Reason
	add := func(kind, text string, weight float64) {
		if weight != 0 {
			out = append(out, Reason{Kind: kind, Text: text, Weight: weight})
		}
	}
	if t, same := s.common(p.Lineage); t != nil {
		add("relationship", kinship(*t, same, p.Lineage), s.Relationship(p.Lineage))
	}
	for _, want := range s.wanted.Counts {
		if shown := find(p.Counts, want); shown != nil {
			add("counts", compared(want, *shown), s.agreement(want, *shown))
		}
	}
	for _, want := range s.wanted.Structures {
		if c, ok := best(p.Structures, want, &s.w); ok {
			add("structure", strings.TrimSuffix(want+" "+c.String()+", "+p.View.String(), ", "), s.Structure(c))
		}
	}
	add("view", s.side(p.View), s.View(p.View))
	add("quality", p.Stage.String(), s.Stage(p.Stage))
	add("quality", p.Kind.String(), s.Kind(p.Kind))
	add("quality", fmt.Sprintf("%d pixels on the long edge", p.LongEdge), s.Resolution(p.LongEdge))
	// Stable: equals stay in the order of the aspects.
	slices.SortStableFunc(out, func(a, b Reason) int { return cmp.Compare(math.Abs(b.Weight), math.Abs(a.Weight)) })
	return out
}

// kinship puts the lowest taxon in common into words.
func kinship(t Taxon, same bool, lineage []Taxon) string {
	if same && t.ID != lineage[len(lineage)-1].ID {
		return "belongs to " + t.Name
	}
	if t.Rank <= taxon.Clade {
		return "both in " + t.Name
	}
	if t.Rank >= taxon.Genus {
		return "same " + t.Rank.String()
	}
	return "same " + t.Rank.String() + ", " + t.Name
}

// compared puts two counts into words: "D X-XI overlaps X-XII".
func compared(want, shown Count) string {
	switch {
	case want.Interval == shown.Interval:
		return shown.String() + " agrees"
	case want.Distance(shown.Interval) > 0:
		return shown.String() + " against " + want.figures()
	default:
		return shown.String() + " overlaps " + want.figures()
	}
}

// String writes the count as in a formula, with the element where the figures
// alone don't tell it.
func (c Count) String() string {
	s := c.Character.String() + " " + c.figures()
	switch c.Element {
	case meristic.Spine, meristic.Ray, meristic.Whole, meristic.Unbranched:
		return s
	default:
		return s + " " + c.Element.Phrase(c.Max)
	}
}

// figures writes the interval: spines in upper-case roman numerals, unbranched
// rays in lower case, all else in arabic ones.
func (c Count) figures() string {
	lo, hi := c.figure(c.Min), c.figure(c.Max)
	s := lo
	if hi != lo {
		s = lo + "-" + hi
	}
	switch c.Bound {
	case meristic.About:
		return "about " + s
	case meristic.MoreThan:
		return "more than " + lo
	case meristic.AtLeast:
		return lo + " or more"
	case meristic.Under:
		return "fewer than " + hi
	case meristic.AtMost:
		return "up to " + hi
	default:
		return s
	}
}

func (c Count) figure(n float64) string {
	whole := n == math.Trunc(n) && n > 0 && n < 400
	switch {
	case whole && (c.Element == meristic.Spine || c.Element == meristic.FreeSpine):
		return roman(int(n))
	case whole && (c.Element == meristic.Unbranched || c.Element == meristic.TrailingUnbranched):
		return strings.ToLower(roman(int(n)))
	case n*2 == math.Trunc(n*2) && n != math.Trunc(n):
		return strings.TrimPrefix(strconv.Itoa(int(n)), "0") + "½"
	default:
		return strconv.FormatFloat(n, 'f', -1, 64)
	}
}

func roman(n int) string {
	var b strings.Builder
	for _, d := range []struct {
		value  int
		letter string
	}{{100, "C"}, {90, "XC"}, {50, "L"}, {40, "XL"}, {10, "X"}, {9, "IX"}, {5, "V"}, {4, "IV"}, {1, "I"}} {
		for ; n >= d.value; n -= d.value {
			b.WriteString(d.letter)
		}
	}
	return b.String()
}

// side puts the view into words.
func (s *Scorer) side(v View) string {
	switch {
	case v == s.wanted.View:
		return v.String() + " as wanted"
	case mirrored(v, s.wanted.View) && s.sided():
		return v.String() + ", the other side of an animal whose sides differ"
	case mirrored(v, s.wanted.View):
		return v.String() + ", mirrored"
	default:
		return v.String() + " instead of " + s.wanted.View.String()
	}
}
