package indexer

import (
	"strconv"
	"strings"
)

// readDate reads a date of making in EDTF (ISO 8601-2 levels 0 and 1): days,
// months, years, decades and centuries with X, seasons, intervals, and the marks
// of doubt, which are passed over. What it can't read counts as undated.
func readDate(s string) dated {
	s = strings.TrimSpace(s)
	first, last, interval := strings.Cut(s, "/")
	d := oneDate(first)
	if interval {
		end := oneDate(last)
		switch {
		case d.from == 0:
			d = dated{from: end.from, to: end.to}
		case end.to != 0:
			d.to = max(d.to, end.to)
		}
		d.year = ""
	}
	if d.from == 0 {
		return dated{}
	}
	if d.year == "" {
		d.year = years(d)
	}
	return d
}

func years(d dated) string {
	from, to := d.from/10000, d.to/10000
	if from == to {
		return strconv.Itoa(int(from))
	}
	return strconv.Itoa(int(from)) + "–" + strconv.Itoa(int(to))
}

// oneDate reads one date: its first and last day.
func oneDate(s string) dated {
	s = strings.Trim(s, "?~%")
	if len(s) < 4 {
		return dated{}
	}
	var d dated
	year := s[:4]
	lo, hi := number4(strings.ReplaceAll(year, "X", "0")), number4(strings.ReplaceAll(year, "X", "9"))
	if lo < 0 || hi == 0 {
		return dated{}
	}
	d.from, d.to = max(lo, 1)*10000+101, hi*10000+1231
	if strings.HasSuffix(year, "X") {
		d.year = year
	}
	if len(s) == 4 || lo != hi {
		return d
	}
	return d.within(lo*10000, s[4:])
}

// within narrows a year to the month, season or day that follows.
func (d dated) within(year int32, rest string) dated {
	if len(rest) < 3 || rest[0] != '-' {
		return dated{}
	}
	if rest == "-XX" || rest == "-XX-XX" {
		return d
	}
	month := number2(rest[1:3])
	switch {
	case month >= 1 && month <= 12:
		d.from, d.to = year+month*100+1, year+month*100+31
	case month >= 21 && month <= 24 && len(rest) == 3: // seasons: the year is known, the months differ by hemisphere
		return d
	default:
		return dated{}
	}
	if len(rest) == 3 || rest[3:] == "-XX" {
		return d
	}
	if len(rest) != 6 || rest[3] != '-' {
		return dated{}
	}
	day := number2(rest[4:])
	if day < 1 || day > 31 {
		return dated{}
	}
	d.from, d.to = year+month*100+day, year+month*100+day
	return d
}

func number4(s string) int32 { return digits(s, 4) }
func number2(s string) int32 { return digits(s, 2) }

// digits reads exactly n figures, -1 if they aren't.
func digits(s string, n int) int32 {
	if len(s) != n {
		return -1
	}
	var v int32
	for i := range n {
		if s[i] < '0' || s[i] > '9' {
			return -1
		}
		v = v*10 + int32(s[i]-'0')
	}
	return v
}
