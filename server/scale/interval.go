package scale

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// Interval is what a publication, or a picture held to be true to life, gives
// for a proportion, as fractions.
type Interval struct {
	Length, Over Measurement
	Min, Max     float64 // fractions: 0.3 whether written 0.3, 30 % or 3.33 times in
	Against      string  // the citation, or which picture
}

// notation is how a proportion is written.
type notation uint8

const (
	unstated notation = iota
	fraction          // 0.31 of SL
	percent           // 31 % of SL
	timesIn           // 3.2 in SL
)

// ReadInterval normalises a published proportion given as names and figures.
// Figures may be fractions, percent or "times in": the words say which
// (over = "in SL", "% of SL"); else the one reading that is usual for the two
// lengths, as HL 3.1-3.4 over SL can only be times in. ErrMeasurement for a
// length unknown here, ErrAmbiguous if no or more than one reading is usual,
// ErrLength if the figures are not an interval above 0.
func ReadInterval(length, over string, lo, hi float64, against string) (Interval, error) {
	if !positive(lo) || !positive(hi) || hi < lo {
		return Interval{}, fmt.Errorf("%s over %s %g-%g: %w", length, over, lo, hi, ErrLength)
	}
	how, over := notationOf(over)
	m, err := ParseMeasurement(length)
	if err != nil {
		return Interval{}, err
	}
	o, err := ParseMeasurement(over)
	if err != nil {
		return Interval{}, err
	}
	out := Interval{Length: m, Over: o, Against: against}
	if how == unstated {
		var readings []string
		for _, h := range []notation{fraction, percent, timesIn} {
			a, b := h.fractions(lo, hi)
			if l, u := usually(m, o); a >= l && b <= u {
				how = h
				readings = append(readings, fmt.Sprintf("%.3g-%.3g", a, b))
			}
		}
		if len(readings) != 1 {
			return Interval{}, fmt.Errorf("%s over %s %g-%g %w (%s); write it as a fraction, with %%, or as times in %s",
				m, o, lo, hi, ErrAmbiguous, or2(strings.Join(readings, " or "), "none usual"), o)
		}
	}
	out.Min, out.Max = how.fractions(lo, hi)
	return out, nil
}

// A figure or two, and the two orders in which a proportion is written.
const figures = `(\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(\d+(?:\.\d+)?))?`

var (
	figuresLast   = regexp.MustCompile(`^([\pL .-]+?)\s*(/|\bin\b|\bover\b|\bof\b)\s*([\pL .-]+?)[\s:=]+` + figures + `$`)
	figuresMiddle = regexp.MustCompile(`^([\pL .-]+?)[\s:=]+` + figures + `\s*(times in|in|of|%(?:\s*of)?|percent(?: of)?)\s*([\pL .-]+)$`)
)

// ParseInterval reads a statement such as "HL in SL 3.1-3.4", "head length
// 29-32 % of SL" or "BD/SL 0.25": errors as for ReadInterval, and ErrStatement.
func ParseInterval(s, against string) (Interval, error) {
	s = strings.TrimSpace(s)
	var length, over, how, low, high string
	if g := figuresLast.FindStringSubmatch(s); g != nil {
		length, how, over, low, high = g[1], g[2], g[3], g[4], g[5]
	} else if g := figuresMiddle.FindStringSubmatch(s); g != nil {
		length, low, high, how, over = g[1], g[2], g[3], g[4], g[5]
	} else {
		return Interval{}, fmt.Errorf("%q is %w; want such as %q or %q", s, ErrStatement, "HL in SL 3.1-3.4", "HL 29-32 % of SL")
	}
	lo, err := strconv.ParseFloat(low, 64)
	hi := lo
	if err == nil && high != "" {
		hi, err = strconv.ParseFloat(high, 64)
	}
	if err != nil {
		return Interval{}, fmt.Errorf("%q is %w: %w", s, ErrStatement, err)
	}
	if how == "/" || how == "over" || how == "of" {
		how = "" // 0.3 of SL and 30 over SL are both written
	}
	return ReadInterval(length, how+" "+over, lo, hi, against)
}

// notationOf splits "in SL", "times in SL", "% of SL" and "percent SL" into notation and length.
func notationOf(over string) (notation, string) {
	s := strings.ToLower(strings.TrimSpace(over))
	for _, w := range []struct {
		prefix string
		how    notation
	}{{"times in ", timesIn}, {"in ", timesIn}, {"% of ", percent}, {"%", percent}, {"percent of ", percent}, {"percent ", percent}, {"fraction of ", fraction}} {
		if rest, ok := strings.CutPrefix(s, w.prefix); ok {
			return w.how, rest
		}
	}
	return unstated, s
}

// fractions gives the interval as fractions.
func (n notation) fractions(lo, hi float64) (float64, float64) {
	switch n {
	case percent:
		return lo / 100, hi / 100
	case timesIn:
		return 1 / hi, 1 / lo
	default:
		return lo, hi
	}
}

// usually gives the range in which a proportion of a fish lies as a rule, to
// tell notations apart; common practice, no source. It judges no fish. The lower
// ends leave room for slender fishes, so that figures about 10, where percent and
// times in meet, are refused rather than guessed at.
func usually(m, over Measurement) (lo, hi float64) {
	type pair struct{ m, over Measurement }
	if over == FL || over == TL {
		over = SL // near enough for this purpose
		if m == SL || m == FL {
			return 0.6, 1
		}
	}
	switch (pair{m, over}) {
	case pair{HL, SL}:
		return 0.08, 0.55
	case pair{BD, SL}:
		return 0.06, 0.8
	case pair{ED, SL}:
		return 0.02, 0.18
	case pair{SnL, SL}:
		return 0.03, 0.3
	case pair{POL, SL}:
		return 0.06, 0.3
	case pair{PDL, SL}:
		return 0.12, 0.85
	case pair{PAL, SL}:
		return 0.25, 0.9
	case pair{FL, SL}, pair{TL, SL}:
		return 1, 1.8
	case pair{ED, HL}:
		return 0.11, 0.55
	case pair{SnL, HL}:
		return 0.12, 0.7
	case pair{POL, HL}:
		return 0.2, 0.75
	case pair{BD, HL}:
		return 0.4, 2.4
	default:
		return 0.05, 1
	}
}

func or2(s, fallback string) string {
	if s == "" {
		return fallback
	}
	return s
}
