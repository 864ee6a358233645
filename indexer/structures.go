package indexer

import (
	"slices"
	"strings"

	"github.com/RoaringBitmap/roaring/v2"

	"platarium/indexer/rank"
)

// shownBy holds for one structure the pictures that show it, by completeness.
type shownBy [rank.Hidden + 1]*roaring.Bitmap

// structureSets hold which structures every picture shows: the sets are
// countless, but there are few structures, so each has its pictures.
type structureSets struct {
	by   map[string]*shownBy
	rows uint32 // ordinals that were ever set
	// twice says that some picture ever showed one structure in two conditions.
	twice bool
}

func newStructureSets() *structureSets { return &structureSets{by: map[string]*shownBy{}} }

func (c *structureSets) set(ord uint32, text string) {
	if ord < c.rows {
		for _, sets := range c.by {
			for _, set := range sets {
				set.Remove(ord)
			}
		}
	}
	c.rows = max(c.rows, ord+1)
	for _, s := range readStructures(text) {
		sets, ok := c.by[s.Name]
		if !ok {
			sets = new(shownBy)
			for i := range sets {
				sets[i] = roaring.New()
			}
			c.by[strings.Clone(s.Name)] = sets
		}
		for _, set := range sets {
			c.twice = c.twice || set.Contains(ord)
		}
		if int(s.Completeness) < len(sets) {
			sets[s.Completeness].Add(ord)
		}
	}
}

// at gathers the structures of one picture, in order of name.
func (c *structureSets) at(ord uint32) []rank.Structure {
	var out []rank.Structure
	for name, sets := range c.by {
		for as, set := range sets {
			if set.Contains(ord) {
				out = append(out, rank.Structure{Name: name, Completeness: rank.Completeness(as)})
			}
		}
	}
	slices.SortFunc(out, func(a, b rank.Structure) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// any is the set of pictures that show a structure in whatever condition.
func (s *shownBy) any() *roaring.Bitmap { return roaring.FastOr(s[:]...) }

// shows is the condition that a structure is shown as wanted.
func (c *structureSets) shows(want shownAs) condition {
	sets, ok := c.by[want.name]
	switch {
	case !ok:
		return func(uint32) bool { return false }
	case want.exact:
		return sets[want.as].Contains
	default:
		return sets.any().Contains
	}
}

// weight is that of the wanted structures, summed up for every picture before
// the scan.
func (c *structureSets) weight(s *rank.Scorer, wanted []string) weight {
	worth := make([]float64, c.rows)
	var ords [256]uint32
	for _, name := range wanted {
		sets, ok := c.by[name]
		if !ok {
			continue
		}
		order := make([]rank.Completeness, len(sets))
		for i := range order {
			order[i] = rank.Completeness(i)
		}
		// A structure shown twice counts as it is shown best.
		slices.SortStableFunc(order, func(a, b rank.Completeness) int {
			switch wa, wb := s.Structure(a), s.Structure(b); {
			case wa > wb:
				return -1
			case wa < wb:
				return 1
			default:
				return 0
			}
		})
		seen := roaring.New()
		for _, as := range order {
			set := sets[as]
			if c.twice {
				set = roaring.AndNot(set, seen)
				seen.Or(set)
			}
			brings := s.Structure(as)
			for it, n := set.ManyIterator(), 1; n > 0; {
				n = it.NextMany(ords[:])
				for _, ord := range ords[:n] {
					worth[ord] += brings
				}
			}
		}
	}
	return func(ord uint32) float64 { return worth[ord] }
}

// tally counts the pictures that show each structure.
func (c *structureSets) tally(found []match) map[facetValue]int64 {
	ords := make([]uint32, len(found))
	for i, m := range found {
		ords[i] = m.ord
	}
	all := roaring.BitmapOf(ords...)
	out := map[facetValue]int64{}
	for name, sets := range c.by {
		if n := sets.any().AndCardinality(all); n > 0 {
			out[facetValue{value: name}] = int64(n)
		}
	}
	return out
}
