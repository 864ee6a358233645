package indexer

import (
	"platarium/indexer/meristic"
	"platarium/indexer/rank"
)

// element is one element of one character, such as the spines of the first
// dorsal fin.
type element struct {
	character meristic.Character
	part      meristic.Element
}

// stated is a count where there is one.
type stated struct {
	meristic.Interval
	ok bool
}

// countColumns hold the counts of every picture, a column for each element:
// there are few distinct intervals of one element, but countless sets of them.
type countColumns struct {
	by   map[element]*column[stated]
	rows int
}

func newCountColumns() *countColumns { return &countColumns{by: map[element]*column[stated]{}} }

func (c *countColumns) set(ord uint32, text string) {
	c.rows = max(c.rows, int(ord)+1)
	for _, col := range c.by {
		col.set(ord, "")
	}
	for _, it := range items(text) {
		counts := readCounts(it)
		if len(counts) == 0 {
			continue
		}
		e := element{counts[0].Character, counts[0].Element}
		col, ok := c.by[e]
		if !ok {
			col = newColumn(readStated)
			col.codes = make([]uint32, c.rows)
			c.by[e] = col
		}
		col.set(ord, it)
	}
}

func readStated(text string) stated {
	counts := readCounts(text)
	if len(counts) == 0 {
		return stated{}
	}
	return stated{counts[0].Interval, true}
}

// at gathers the counts of one picture, in no particular order.
func (c *countColumns) at(ord uint32) []rank.Count {
	var out []rank.Count
	for e, col := range c.by {
		if n := col.at(ord); n.ok {
			out = append(out, rank.Count{Character: e.character, Element: e.part, Interval: n.Interval})
		}
	}
	return out
}

// overlap is the condition that a count overlaps the one wanted.
func (c *countColumns) overlap(want rank.Count) condition {
	col, ok := c.by[element{want.Character, want.Element}]
	if !ok {
		return func(uint32) bool { return false }
	}
	return where(col, func(n stated) bool { return n.ok && n.Overlaps(want.Interval) })
}

// weights are those of the wanted counts that any picture states.
func (c *countColumns) weights(s *rank.Scorer, wanted []rank.Count) []weight {
	var out []weight
	for i, want := range wanted {
		col, ok := c.by[element{want.Character, want.Element}]
		if !ok {
			continue
		}
		out = append(out, weigh(col, func(n stated) float64 {
			if !n.ok {
				return 0
			}
			return s.Count(i, n.Interval)
		}))
	}
	return out
}
