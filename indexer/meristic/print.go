package meristic

import "strconv"

// Print writes statements as one canonical formula: "D X-XI,11-13; A III,8". Parse of
// it gives the same counts. Signs that the literature uses in two senses are written
// out: 9(n=36) for frequencies, 9 (rarely 10) for rare values.
func Print(statements []Statement) string {
	var b []byte
	for i := range statements {
		if i > 0 {
			b = append(b, "; "...)
		}
		b = statements[i].append(b)
	}
	return string(b)
}

// String writes one statement, label and formula.
func (s Statement) String() string { return string(s.append(nil)) }

func (s *Statement) append(b []byte) []byte {
	b = append(b, s.Character.label(s)...)
	if s.Unknown || len(s.Counts) == 0 {
		return append(b, ": ?"...)
	}
	b = append(b, ' ')
	if s.Character.fin() {
		return s.appendFin(b)
	}
	return s.appendParts(b)
}

// label is the abbreviation that Parse reads back without doubt.
func (c Character) label(s *Statement) string {
	switch c {
	case Pelvic: // V alone may be vertebrae
		if _, spines := s.Count(Spine); !spines {
			return "P2"
		}
		return "V"
	case VentralShields:
		return "VEN"
	case SubcaudalShields:
		return "SC"
	case SupralabialShield:
		return "SUPL"
	case TemporalShields:
		return "TEMP"
	default:
		return c.String()
	}
}

// appendFin writes spines in capitals, unbranched rays in lower case, rays in
// figures, as far as the fin has that shape; the rest in words.
func (s *Statement) appendFin(b []byte) []byte {
	start := len(b)
	spine, hasSpine := s.Count(Spine)
	free, hasFree := s.Count(FreeSpine)
	unbr, hasUnbr := s.Count(Unbranched)
	trail, hasTrail := s.Count(TrailingUnbranched)
	branched, hasBranched := s.Count(Branched)
	ray, hasRay := s.Count(Ray)
	asFormula := (!hasSpine || spine.roman()) && (!hasUnbr || unbr.roman()) && (!hasTrail || trail.roman())
	margins := hasUnbr || hasTrail
	if margins {
		asFormula = asFormula && hasBranched && !hasRay
	} else {
		asFormula = asFormula && !hasBranched && (hasRay || hasSpine)
	}
	if hasFree {
		spine.Interval = Interval{Min: spine.Min - free.Min, Max: spine.Max - free.Max}
		asFormula = asFormula && free.roman() && spine.roman() && free.plain() && spine.plain()
	}
	if !asFormula {
		return s.appendWords(b)
	}
	comma := func() {
		if len(b) > start {
			b = append(b, ',')
		}
	}
	if hasFree {
		b = append(free.append(b, tUpper), '+')
		start = len(b)
	}
	if hasSpine {
		b = spine.append(b, tUpper)
	}
	if hasUnbr {
		comma()
		b = unbr.append(b, tLower)
	}
	if hasRay {
		comma()
		b = ray.append(b, tNumber)
	}
	if hasBranched {
		comma()
		b = branched.append(b, tNumber)
	}
	if hasTrail {
		comma()
		b = trail.append(b, tLower)
	}
	for i := range s.Counts {
		switch c := &s.Counts[i]; c.Element {
		case Segmented, Finlet, Procurrent, Total, Whole, Left, Right:
			b = append(b, ", "...)
			b = c.appendWorded(b)
		}
	}
	return b
}

// roman reports whether the count can be written in numerals.
func (c Count) roman() bool {
	for _, i := range c.Intervals() {
		if i.Min < 1 || i.Max > romanMax || i.Min != float64(int(i.Min)) || i.Max != float64(int(i.Max)) || i.Bound != Exact {
			return false
		}
	}
	return c.Min >= 1
}

// plain reports a range without list or usual value.
func (c Count) plain() bool { return len(c.Values) == 0 && c.Usual == nil }

// sumForms are the characters' formulae of several parts, longest first.
func sumForms(c Character) (sep byte, forms [][]Element) {
	switch c.class() {
	case classRakers:
		return '+', [][]Element{{Upper, Middle, Lower}, {Upper, Lower}}
	case classVertebrae:
		return '+', [][]Element{{Abdominal, CaudalRegion}}
	case classProcurrent:
		return '+', [][]Element{{Upper, Lower}}
	case classCaudal:
		return '+', [][]Element{{UpperProcurrent, Upper, Lower, LowerProcurrent}, {Upper, Lower}}
	case classTransverse:
		return '/', [][]Element{{Above, AtLine, Below}, {Above, Below}}
	case classBody:
		return '-', [][]Element{{Neck, Midbody, BeforeVent}}
	case classLabial:
		return '/', [][]Element{{Left, Right}}
	case classTeeth:
		return '/', [][]Element{{Left, Right}}
	default:
		return 0, nil
	}
}

// appendParts writes a sum where all its parts are plain, and words otherwise.
func (s *Statement) appendParts(b []byte) []byte {
	if len(s.Counts) == 1 && s.Counts[0].Element == Whole {
		return s.Counts[0].append(b, tNumber)
	}
	sep, forms := sumForms(s.Character)
	for _, form := range forms {
		if !s.hasExactly(form) {
			continue
		}
		for i, e := range form {
			if i > 0 {
				b = append(b, sep)
			}
			c, _ := s.Count(e)
			b = c.append(b, tNumber)
		}
		if total, ok := s.Count(Total); ok && !total.Derived {
			b = append(b, '=')
			b = total.append(b, tNumber)
		}
		return b
	}
	return s.appendWords(b)
}

// hasExactly reports whether the statement has these elements, plain, and no others
// but a total.
func (s *Statement) hasExactly(form []Element) bool {
	n := 0
	for i := range s.Counts {
		c := &s.Counts[i]
		if c.Element == Total {
			if !c.plain() {
				return false
			}
			continue
		}
		if !c.plain() {
			return false
		}
		n++
	}
	for _, e := range form {
		if _, ok := s.Count(e); !ok {
			return false
		}
	}
	return n == len(form)
}

func (s *Statement) appendWords(b []byte) []byte {
	first := true
	for i := range s.Counts {
		c := &s.Counts[i]
		if c.Derived {
			continue
		}
		if !first {
			b = append(b, ", "...)
		}
		first = false
		b = c.appendWorded(b)
	}
	return b
}

func (c *Count) appendWorded(b []byte) []byte {
	b = c.append(b, tNumber)
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
		return "ultimate unbranched rays"
	case Finlet:
		return "finlets"
	case Procurrent:
		return "procurrent rays"
	case Middle:
		return "at angle"
	case UpperBranched:
		return "upper branched"
	case LowerBranched:
		return "lower branched"
	case UpperUnbranched:
		return "upper unbranched"
	case LowerUnbranched:
		return "lower unbranched"
	case UpperProcurrent:
		return "upper procurrent"
	case LowerProcurrent:
		return "lower procurrent"
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
	}
	b = appendNumeral(b, i.Min, kind)
	if i.Max != i.Min {
		b = append(b, '-')
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
