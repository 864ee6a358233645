package sheet

import (
	"fmt"
	"math"
	"strconv"
)

// bar is a scale bar: a round true length and what it measures on paper.
type bar struct {
	trueMM  float64
	paperMM float64
}

// barFor is the longest bar of 1, 2 or 5 times a power of ten mm of animal that is at most longest mm on paper, where a mm of animal is paper mm. It is zero without a scale.
func barFor(paper, longest float64) bar {
	if !positive(paper) || !positive(longest) {
		return bar{}
	}
	exp := math.Floor(math.Log10(longest / paper))
	for ; ; exp-- { // the logarithm may be one too high by rounding, never two
		for _, digit := range []float64{5, 2, 1} {
			if l := digit * math.Pow(10, exp); l*paper <= longest*(1+1e-12) {
				return bar{l, l * paper}
			}
		}
	}
}

func (b bar) String() string {
	return fmt.Sprintf("%s of animal = %s mm on paper", trueLength(b.trueMM), figure(b.paperMM, 4))
}

// trueLength writes a round length in the unit that suits it.
func trueLength(mm float64) string {
	switch {
	case mm >= 1000:
		return figure(mm/1000, 4) + " m"
	case mm >= 100:
		return figure(mm/10, 4) + " cm"
	case mm < 0.1:
		return figure(mm*1000, 4) + " µm"
	default:
		return figure(mm, 4) + " mm"
	}
}

// figure writes a number with so many significant digits and no needless zeros.
func figure(f float64, digits int) string {
	if f == 0 || math.IsNaN(f) || math.IsInf(f, 0) {
		return strconv.FormatFloat(f, 'f', -1, 64)
	}
	decimals := max(0, digits-1-int(math.Floor(math.Log10(math.Abs(f)))))
	s := strconv.FormatFloat(f, 'f', decimals, 64)
	if decimals > 0 {
		s = trimZeros(s)
	}
	return s
}

func trimZeros(s string) string {
	for s[len(s)-1] == '0' {
		s = s[:len(s)-1]
	}
	if s[len(s)-1] == '.' {
		s = s[:len(s)-1]
	}
	return s
}

// times writes a factor of size.
func times(f float64) string { return "×" + figure(f, 3) }
