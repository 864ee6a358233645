package meristic

import (
	"slices"
	"strconv"
)

// Entry is what an index keeps of one element of one character: every count that was
// observed. Halves keep their own keys.
type Entry struct {
	Character Character
	Element   Element
	Counts    []float64
}

// openSpan is how many further counts an open end (">110", "80+") is indexed with.
// A search for more than that above the stated end does not find the record.
const openSpan = 40

// entryMost bounds the counts of one entry, so that a misread figure cannot flood an
// index.
const entryMost = 400

// Entries lists the counts of statements for an index, each element with the exact
// set of counts that was stated. Beside what was written it gives the sums that other
// authors write in its place, so that unlike formulae of one fish meet:
// the soft rays (unbranched, branched and trailing together) as Ray, and both dorsal
// fins pooled as Dorsal.
func Entries(statements []Statement) []Entry {
	out := make([]Entry, 0, 2*len(statements)+4)
	for i := range statements {
		s := &statements[i]
		for j := range s.Counts {
			out = addEntry(out, s.Character, s.Counts[j].Element, s.Counts[j].Intervals())
		}
		if rays, ok := s.softRays(); ok {
			out = addEntry(out, s.Character, Ray, []Interval{rays})
		}
	}
	for _, e := range [...]Element{Spine, Ray} {
		if pooled, ok := pooledDorsal(statements, e); ok {
			out = addEntry(out, Dorsal, e, []Interval{pooled})
		}
	}
	return out
}

// Token is the index key of one count, such as "D1.spine:12" or "A.branched:8.5".
func Token(c Character, e Element, n float64) string {
	return string(appendToken(make([]byte, 0, 24), c, e, n))
}

func appendToken(b []byte, c Character, e Element, n float64) []byte {
	b = append(b, c.String()...)
	b = append(b, '.')
	b = append(b, e.String()...)
	b = append(b, ':')
	return strconv.AppendFloat(b, n, 'f', -1, 64)
}

// Tokens lists the index keys of statements.
func Tokens(statements []Statement) []string {
	entries := Entries(statements)
	n := 0
	for _, e := range entries {
		n += len(e.Counts)
	}
	// All keys share one string, since an index takes them at once.
	all := make([]byte, 0, 16*n)
	ends := make([]int, 0, n)
	for _, e := range entries {
		for _, k := range e.Counts {
			all = appendToken(all, e.Character, e.Element, k)
			ends = append(ends, len(all))
		}
	}
	out, text, from := make([]string, n), string(all), 0
	for i, end := range ends {
		out[i], from = text[from:end], end
	}
	return out
}

// Clause is one condition of a search: a record meets it that has any of the tokens.
type Clause struct {
	Character Character
	Element   Element
	Tokens    []string
}

// Wanted turns a wanted formula into conditions, one for each element: the counts of a
// record overlap the wanted ones if and only if they share a token. Where authors count
// halves, a whole number also meets the halves beside it and the reverse, since the
// last two rays are 1, 1½ or 2 by the author's custom; Compare tells which it was.
func Wanted(statements []Statement) []Clause {
	var out []Clause
	for i := range statements {
		s := &statements[i]
		for j := range s.Counts {
			c := &s.Counts[j]
			if c.Derived {
				continue
			}
			one := addEntry(nil, s.Character, c.Element, c.Intervals())
			if len(one) == 0 {
				continue
			}
			clause := Clause{Character: s.Character, Element: c.Element}
			for _, n := range withHalves(one[0].Counts, s.Character, c.Element) {
				clause.Tokens = append(clause.Tokens, Token(s.Character, c.Element, n))
			}
			out = append(out, clause)
		}
	}
	return out
}

// withHalves adds the neighbours half a count away.
func withHalves(counts []float64, c Character, e Element) []float64 {
	if !halves(c, e) {
		return counts
	}
	all := make([]float64, 0, 3*len(counts))
	for _, n := range counts {
		all = append(all, n-0.5, n, n+0.5)
	}
	slices.Sort(all)
	all = slices.Compact(all)
	if len(all) > 0 && all[0] < 0 {
		all = all[1:]
	}
	return all
}

func addEntry(out []Entry, c Character, e Element, in []Interval) []Entry {
	for i := range out {
		if out[i].Character == c && out[i].Element == e {
			return out // what was written stands before what is derived
		}
	}
	entry := Entry{Character: c, Element: e}
	for _, iv := range in {
		for _, n := range iv.counts() {
			if len(entry.Counts) >= entryMost {
				break
			}
			entry.Counts = append(entry.Counts, n)
		}
	}
	if len(entry.Counts) == 0 {
		return out
	}
	return append(out, entry)
}

// counts lists the values of an interval, in steps of one from its lower end.
func (i Interval) counts() []float64 {
	r := i.reach()
	hi := min(r.Max, r.Min+entryMost)
	if i.Bound == MoreThan || i.Bound == AtLeast {
		hi = max(i.Max, r.Min) + openSpan
	}
	out := make([]float64, 0, int(max(hi-r.Min, 0))+2)
	for n := max(r.Min, 0); n <= hi; n++ {
		out = append(out, n)
	}
	if len(out) > 0 && out[len(out)-1] < hi { // 7-8½: the half end too
		out = append(out, hi)
	}
	return out
}

// softRays sums unbranched, branched and trailing rays.
func (s *Statement) softRays() (Interval, bool) {
	sum, ok := s.Count(Branched)
	if !ok {
		return Interval{}, false
	}
	if _, stated := s.Count(Ray); stated {
		return Interval{}, false
	}
	total := sum.Interval
	front, hasFront := s.Count(Unbranched)
	if hasFront {
		total = total.shift(front.Interval)
	}
	back, hasBack := s.Count(TrailingUnbranched)
	if hasBack {
		total = total.shift(back.Interval)
	}
	return total, hasFront || hasBack
}

// pooledDorsal sums an element over the dorsal fins, as authors do who count one fin.
func pooledDorsal(statements []Statement, e Element) (Interval, bool) {
	var sum Interval
	n, has := 0, false
	for i := range statements {
		s := &statements[i]
		switch s.Character {
		case Dorsal:
			return Interval{}, false
		case Dorsal1, Dorsal2, Dorsal3:
			n++
			if c, ok := s.Count(e); ok {
				sum, has = sum.shift(c.Interval), true
			}
		default:
		}
	}
	return sum, has && n > 1
}
