package meristic

// Value is one entry of a list of counts: "9*(36)" is 9 in 36 specimens, among them
// the holotype.
type Value struct {
	Interval
	Specimens int  // how many showed it; 0 where not stated
	Holotype  bool // the holotype shows it
	Rare      bool // outside the author's usual range
}

// Count is what was stated of one element.
type Count struct {
	Element  Element
	Interval           // everything observed, rare values included
	Usual    *Interval // the usual value or range, where the author singled one out
	Values   []Value   // the separate values of a list; empty for a plain range
	Derived  bool      // summed by us from single-valued parts, not written
}

// Statement is what one string says of one character.
type Statement struct {
	Character  Character
	Counts     []Count
	Combined   []Combination // alternatives that hold as a whole, such as "i,5/5,ii(4)"
	Sample     int           // specimens counted; 0 where not stated
	Convention Convention
	Unknown    bool // the author wrote a question mark for the count
	Column     int  // of its first character in the input, from 1
}

// Combination is one whole formula of several that were observed.
type Combination struct {
	Text      string // as written
	Specimens int
	Holotype  bool
}

// Convention is how the counts were made. The zero value is "not stated", and what
// is not stated is never assumed.
type Convention struct {
	LastRays  LastRays
	Rudiments Rudiments
	Angle     Angle
}

// LastRays says how the last two close-set rays of a dorsal or anal fin count.
// Source: Dictionary, "anal fin ray count"; K&F for the half.
type LastRays uint8

// How the last two rays count.
const (
	LastRaysUnstated LastRays = iota
	LastRaysOne
	LastRaysOneAndHalf
	LastRaysTwo
)

// Rudiments says whether rudimentary gill rakers were counted. Source: FNAM states
// either way, species by species.
type Rudiments uint8

// Whether rudiments count.
const (
	RudimentsUnstated Rudiments = iota
	RudimentsIncluded
	RudimentsExcluded
)

// Angle says where the raker at the angle of the arch was counted. Source: Kimura
// (lower limb); others write it apart as a middle term.
type Angle uint8

// Where the angle raker counts.
const (
	AngleUnstated Angle = iota
	AngleLower
	AngleUpper
	AngleApart
)

// Count finds the count of an element.
func (s *Statement) Count(e Element) (Count, bool) {
	for i := range s.Counts {
		if s.Counts[i].Element == e {
			return s.Counts[i], true
		}
	}
	return Count{}, false
}

// Mode gives the most frequent values: those with most specimens, or the author's
// single usual value. It is empty where neither was given.
func (c Count) Mode() []float64 {
	best := 0
	var mode []float64
	for _, v := range c.Values {
		switch {
		case v.Specimens == 0 || !v.Single() || v.Specimens < best:
		case v.Specimens > best:
			best, mode = v.Specimens, append(mode[:0], v.Min)
		default:
			mode = append(mode, v.Min)
		}
	}
	if len(mode) == 0 && c.Usual != nil && c.Usual.Single() {
		mode = append(mode, c.Usual.Min)
	}
	return mode
}

// Holotype gives the holotype's count where it is marked.
func (c Count) Holotype() (Interval, bool) {
	for _, v := range c.Values {
		if v.Holotype {
			return v.Interval, true
		}
	}
	return Interval{}, false
}

// Sample is the number of specimens over all values, 0 where not stated.
func (c Count) Sample() int {
	n := 0
	for _, v := range c.Values {
		n += v.Specimens
	}
	return n
}

// Intervals gives the separate stretches of counts observed: 8, 10 and 11 but not 9.
func (c Count) Intervals() []Interval {
	if len(c.Values) == 0 {
		return []Interval{c.Interval}
	}
	out := make([]Interval, 0, len(c.Values))
	for _, v := range c.Values {
		out = append(out, v.Interval)
	}
	if c.Usual != nil {
		out = append(out, *c.Usual)
	}
	return joinIntervals(out)
}

// joinIntervals sorts and merges neighbours (13 and 14 touch, 8 and 10 do not).
func joinIntervals(in []Interval) []Interval {
	for i := 1; i < len(in); i++ { // few values: insertion sort needs no closure
		for j := i; j > 0 && in[j].Min < in[j-1].Min; j-- {
			in[j], in[j-1] = in[j-1], in[j]
		}
	}
	out := in[:0]
	for _, iv := range in {
		if n := len(out); n > 0 && iv.Min <= out[n-1].Max+1 {
			out[n-1] = out[n-1].Union(iv)
			continue
		}
		out = append(out, iv)
	}
	return out
}
