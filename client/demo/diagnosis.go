package demo

import (
	"strconv"
	"strings"
)

// Formula writes the published counts of a species.
func (s Species) Formula() string {
	var out []string
	for _, d := range s.Diagnosis {
		var parts []string
		for _, part := range []struct {
			r     Range
			write func(int) string
		}{{d.Spines, roman}, {d.Unbranched, func(n int) string { return strings.ToLower(roman(n)) }}, {d.Rays, strconv.Itoa}} {
			if part.r.Max > 0 {
				parts = append(parts, span(part.r, part.write))
			}
		}
		out = append(out, labels()[d.Fin]+" "+strings.Join(parts, ","))
	}
	if s.LateralLine.Max > 0 {
		out = append(out, "LL "+span(s.LateralLine, strconv.Itoa))
	}
	return strings.Join(out, "; ")
}

func span(r Range, write func(int) string) string {
	if r.Min == r.Max {
		return write(r.Min)
	}
	return write(r.Min) + "-" + write(r.Max)
}
