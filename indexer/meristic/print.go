package meristic

import (
	"strconv"
	"strings"
)

// numberText writes a count in the style of its kind of numeral.
func numberText(kind tokenKind, n float64) string {
	var b []byte
	switch kind {
	case tUpper:
		b = appendRoman(b, int(n))
	case tLower:
		b = []byte(strings.ToLower(string(appendRoman(b, int(n)))))
	default:
		b = appendCount(b, n)
	}
	return string(b)
}

func appendCount(b []byte, n float64) []byte {
	whole := int(n)
	b = strconv.AppendInt(b, int64(whole), 10)
	if n != float64(whole) {
		b = append(b, "½"...)
	}
	return b
}

// rangeText writes an interval in arabic figures.
func rangeText(i Interval) string {
	b := appendCount(nil, i.Min)
	if i.Max != i.Min {
		b = append(b, '-')
		b = appendCount(b, i.Max)
	}
	return string(b)
}
