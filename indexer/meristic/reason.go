package meristic

// Reason says in a short phrase how the counts compare: "D X-XI overlaps X-XII",
// "D X against XI: outside by 1".
func (d Difference) Reason() string {
	if d.Why == whyNotStated {
		return d.Character.String() + " is not stated"
	}
	kind := tNumber
	switch {
	case d.Element == Spine && d.Found.Min >= 1 && d.Expected.Min >= 1:
		kind = tUpper
	case (d.Element == Unbranched || d.Element == TrailingUnbranched) && d.Found.Min >= 1 && d.Expected.Min >= 1:
		kind = tLower
	}
	b := append([]byte(nil), d.Character.String()...)
	if w := d.noun(); w != "" && kind == tNumber {
		b = append(b, ' ')
		b = append(b, w...)
	}
	b = append(b, ' ')
	b = appendRange(b, d.Found, kind)
	switch d.Verdict {
	case Agrees:
		switch {
		case d.Found == d.Expected:
			return string(append(b, " agrees"...))
		case d.Within:
			b = append(b, " lies within "...)
		default:
			b = append(b, " overlaps "...)
		}
		return string(appendRange(b, d.Expected, kind))
	case OutsideBy, Contradicts:
		b = append(b, " against "...)
		b = appendRange(b, d.Expected, kind)
		b = append(b, ": "...)
		if d.Verdict == Contradicts {
			b = append(b, "contradicts, "...)
		}
		b = append(b, "outside by "...)
		return string(appendCount(b, d.Distance))
	default:
		b = append(b, " and "...)
		b = appendRange(b, d.Expected, kind)
		b = append(b, " are not comparable"...)
		if d.Why != "" {
			b = append(b, ": "...)
			b = append(b, d.Why...)
		}
		return string(b)
	}
}

// noun is the element's name where figures alone would not tell it.
func (d Difference) noun() string {
	switch d.Element {
	case Whole, Ray, Total:
		return ""
	case Branched, Segmented:
		return d.Element.String()
	default:
		return d.Element.Phrase(2)
	}
}
