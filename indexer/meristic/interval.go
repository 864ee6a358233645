package meristic

import "math"

// Bound says how firmly the ends of an interval were stated.
type Bound uint8

// The bounds. Anything but Exact leaves an end open or soft.
const (
	Exact    Bound = iota
	About          // "~70", "about 147"
	MoreThan       // ">110": more than Min
	AtLeast        // "80+"
	Under          // "<12": fewer than Max
	AtMost         // "up to 12"
)

// Interval is a closed range of counts. The ends are whole or half numbers: some
// authors count the last two close-set rays as 1½ (K&F).
type Interval struct {
	Min, Max float64
	Bound    Bound
}

// At is the interval of one value.
func At(n float64) Interval { return Interval{Min: n, Max: n} }

// Range is the interval from lo to hi; the caller keeps lo <= hi.
func Range(lo, hi float64) Interval { return Interval{Min: lo, Max: hi} }

// Single reports whether the interval is one exact value.
func (i Interval) Single() bool { return i.Min == i.Max && i.Bound == Exact }

// Overlaps reports whether any count lies in both; open ends reach without limit,
// an approximate value reaches one in twenty to each side.
func (i Interval) Overlaps(j Interval) bool {
	a, b := i.reach(), j.reach()
	return a.Min <= b.Max && b.Min <= a.Max
}

// Contains reports whether every count of j lies in i.
func (i Interval) Contains(j Interval) bool {
	a, b := i.reach(), j.reach()
	return a.Min <= b.Min && b.Max <= a.Max
}

// Distance is the number of counts between the nearest ends, 0 where they overlap.
func (i Interval) Distance(j Interval) float64 {
	a, b := i.reach(), j.reach()
	switch {
	case a.Max < b.Min:
		return b.Min - a.Max
	case b.Max < a.Min:
		return a.Min - b.Max
	default:
		return 0
	}
}

// Union is the smallest interval that covers both. An inexact bound stays if either
// has it.
func (i Interval) Union(j Interval) Interval {
	u := Interval{Min: min(i.Min, j.Min), Max: max(i.Max, j.Max), Bound: i.Bound}
	if u.Bound == Exact {
		u.Bound = j.Bound
	}
	return u
}

// reach widens the interval to what its bound leaves possible.
func (i Interval) reach() Interval {
	switch i.Bound {
	case About:
		slack := math.Ceil(i.Max / 20)
		return Interval{Min: i.Min - slack, Max: i.Max + slack}
	case MoreThan:
		return Interval{Min: i.Min + 1, Max: math.Inf(1)}
	case AtLeast:
		return Interval{Min: i.Min, Max: math.Inf(1)}
	case Under:
		return Interval{Min: 0, Max: i.Max - 1}
	case AtMost:
		return Interval{Min: 0, Max: i.Max}
	default:
		return i
	}
}

func (i Interval) shift(j Interval) Interval {
	return Interval{Min: i.Min + j.Min, Max: i.Max + j.Max, Bound: max(i.Bound, j.Bound)}
}
