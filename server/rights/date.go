package rights

import (
	"math"
	"time"
)

// Day is a calendar day, counted from 1970-01-01.
type Day int32

// The ends of time: no beginning stated, and no end (the legal term of copyright).
const (
	minDay Day = math.MinInt32
	maxDay Day = math.MaxInt32
)

// DayOf is the day of a date of the Gregorian calendar.
func DayOf(year int, month time.Month, day int) Day {
	return Day(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

func (d Day) time() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// Date is the day as an exact date; the ends of time are the zero Date.
func (d Day) Date() Date {
	if d == minDay || d == maxDay {
		return Date{}
	}
	y, m, n := d.time().Date()
	return Date{Year: y, Month: int(m), Day: n}
}

// String writes YYYY-MM-DD.
func (d Day) String() string { return d.Date().String() }

// Date is a date known to the day, the month (Day is 0) or the year (Month is 0):
// EDTF level 0. The zero Date is absent.
type Date struct {
	Year, Month, Day int
}

// ParseDate reads YYYY, YYYY-MM or YYYY-MM-DD; "" is the absent date. The error is a *FieldError without a field.
func ParseDate(s string) (Date, error) {
	bad := &FieldError{Found: s, Wanted: "a date as YYYY-MM-DD, YYYY-MM or YYYY"}
	var d Date
	switch len(s) {
	case 0:
		return d, nil
	case 4, 7, 10:
	default:
		return d, bad
	}
	parts := [...]struct {
		at, n int
		to    *int
	}{{0, 4, &d.Year}, {5, 2, &d.Month}, {8, 2, &d.Day}}
	for _, p := range parts {
		if p.at > len(s) {
			break
		}
		if p.at > 0 && s[p.at-1] != '-' {
			return Date{}, bad
		}
		for _, c := range []byte(s[p.at : p.at+p.n]) {
			if c < '0' || c > '9' {
				return Date{}, bad
			}
			*p.to = *p.to*10 + int(c-'0')
		}
		if *p.to == 0 {
			return Date{}, bad
		}
	}
	if d.Month > 12 || d.Day > d.monthEnd() {
		bad.Wanted = "a day of the calendar"
		return Date{}, bad
	}
	return d, nil
}

func (d Date) monthEnd() int {
	return time.Date(d.Year, time.Month(max(d.Month, 1))+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// IsZero reports whether the date is absent.
func (d Date) IsZero() bool { return d.Year == 0 }

// First is the earliest day that the date can mean.
func (d Date) First() Day {
	return DayOf(d.Year, time.Month(max(d.Month, 1)), max(d.Day, 1))
}

// Last is the latest day that the date can mean.
func (d Date) Last() Day {
	switch {
	case d.Month == 0:
		return DayOf(d.Year, time.December, 31)
	case d.Day == 0:
		return DayOf(d.Year, time.Month(d.Month), d.monthEnd())
	default:
		return d.First()
	}
}

// String writes the date as it was given, "" if it is absent.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	text := make([]byte, 0, len("2006-01-02"))
	text = append(text, byte('0'+d.Year/1000%10), byte('0'+d.Year/100%10), byte('0'+d.Year/10%10), byte('0'+d.Year%10))
	for _, n := range [...]int{d.Month, d.Day} {
		if n == 0 {
			break
		}
		text = append(text, '-', byte('0'+n/10), byte('0'+n%10))
	}
	return string(text)
}

// reading is how an imprecise date is taken.
type reading bool

const (
	wide   reading = true  // protects another party: conflict and availability
	narrow reading = false // gives permission: licensed use
)

// begin reads a first day, end a last day; absent dates give the fallback.
func (r reading) begin(d Date, absent Day) Day {
	switch {
	case d.IsZero():
		return absent
	case r == wide:
		return d.First()
	default:
		return d.Last()
	}
}

func (r reading) end(d Date, absent Day) Day {
	switch {
	case d.IsZero():
		return absent
	case r == wide:
		return d.Last()
	default:
		return d.First()
	}
}

// addMonths counts calendar months from a day; a day that the month lacks is its last day.
func addMonths(d Day, months int) Day {
	t := d.time()
	first := time.Date(t.Year(), t.Month()+time.Month(months), 1, 0, 0, 0, 0, time.UTC)
	end := first.AddDate(0, 1, -1).Day()
	return DayOf(first.Year(), first.Month(), min(t.Day(), end))
}

// span is a run of days, both ends included; lo after hi is empty.
type span struct{ lo, hi Day }

func always() span { return span{minDay, maxDay} }

func (s span) empty() bool { return s.lo > s.hi }

func (s span) and(t span) span { return span{max(s.lo, t.lo), min(s.hi, t.hi)} }

// minus is what is left before and after t; either may be empty.
func (s span) minus(t span) (before, after span) {
	none := span{1, 0}
	if s.and(t).empty() {
		return s, none
	}
	before, after = none, none
	if s.lo < t.lo {
		before = span{s.lo, t.lo - 1}
	}
	if t.hi < s.hi {
		after = span{t.hi + 1, s.hi}
	}
	return before, after
}
