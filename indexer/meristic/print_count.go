package meristic

import "strconv"

func (c *Count) appendWorded(b []byte, char Character) []byte {
	b = c.append(b, tNumber)
	if c.Element == Total && char.class() == classVertebrae {
		return b // a bare count of vertebrae is the total
	}
	if w := elementWord(c.Element); w != "" {
		b = append(b, ' ')
		b = append(b, w...)
	}
	return b
}

// elementWord is what Parse reads back as the element, behind a count.
func elementWord(e Element) string {
	switch e {
	case Whole:
		return ""
	case Ray:
		return "rays"
	case Spine:
		return "spines"
	case FreeSpine:
		return "free spines"
	case Branched:
		return "branched rays"
	case Unbranched:
		return "unbranched rays"
	case Segmented:
		return "segmented rays"
	case TrailingUnbranched:
		return "trailing"
	case Finlet:
		return "finlets"
	case Procurrent:
		return "procurrent rays"
	case Middle:
		return "angular"
	case UpperBranched:
		return "upper branched"
	case LowerBranched:
		return "lower branched"
	case UpperUnbranched:
		return "upper unbranched"
	case LowerUnbranched:
		return "lower unbranched"
	case UpperProcurrent:
		return "epaxials"
	case LowerProcurrent:
		return "hypaxials"
	case Total:
		return "altogether"
	case FirstPart:
		return "forepart"
	case SecondPart:
		return "hindpart"
	case OnCaudalBase:
		return "basal"
	case AtLine:
		return "line"
	default:
		return e.String()
	}
}

// append writes the count in its kind of numeral, with list, frequencies, usual and
// rare values.
func (c *Count) append(b []byte, kind tokenKind) []byte {
	if len(c.Values) == 0 {
		b = appendRange(b, c.Interval, kind)
	}
	first := true
	for _, v := range c.Values {
		if v.Rare {
			continue
		}
		if !first {
			b = append(b, " or "...)
		}
		first = false
		b = appendRange(b, v.Interval, kind)
		if v.Holotype {
			b = append(b, '*')
		}
		if v.Specimens > 0 {
			b = append(b, "(n="...)
			b = strconv.AppendInt(b, int64(v.Specimens), 10)
			b = append(b, ')')
		}
	}
	rare := 0
	for _, v := range c.Values {
		if !v.Rare {
			continue
		}
		if rare++; rare == 1 {
			b = append(b, " (rarely "...)
		} else {
			b = append(b, ", "...)
		}
		b = appendRange(b, v.Interval, kind)
	}
	if rare > 0 {
		b = append(b, ')')
	} else if c.Usual != nil {
		b = append(b, " (usually "...)
		b = append(appendRange(b, *c.Usual, kind), ')')
	}
	return b
}

func appendRange(b []byte, i Interval, kind tokenKind) []byte {
	switch i.Bound {
	case About:
		b = append(b, '~')
	case MoreThan:
		b = append(b, '>')
	case AtLeast:
		b = append(b, "≥"...)
	case Under:
		b = append(b, '<')
	case AtMost:
		b = append(b, "≤"...)
	default:
	}
	b = appendNumeral(b, i.Min, kind)
	if i.Max != i.Min {
		if i.Max != float64(int(i.Max)) && i.Min == float64(int(i.Min)) {
			b = append(b, " to "...) // behind a hyphen the half would hold for both ends
		} else {
			b = append(b, '-')
		}
		b = appendNumeral(b, i.Max, kind)
	}
	return b
}

func appendNumeral(b []byte, n float64, kind tokenKind) []byte {
	from := len(b)
	switch kind {
	case tUpper:
		return appendRoman(b, int(n))
	case tLower:
		b = appendRoman(b, int(n))
		for i := from; i < len(b); i++ {
			b[i] |= 0x20
		}
		return b
	default:
		return appendCount(b, n)
	}
}

func appendCount(b []byte, n float64) []byte {
	whole := int(n)
	b = strconv.AppendInt(b, int64(whole), 10)
	if n != float64(whole) {
		b = append(b, "½"...)
	}
	return b
}

// numberText writes a count in its kind of numeral.
func numberText(kind tokenKind, n float64) string { return string(appendNumeral(nil, n, kind)) }

// rangeText writes an interval in figures.
func rangeText(i Interval) string { return string(appendRange(nil, i, tNumber)) }
