package meristic

import "strings"

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
	if s.Character == PharyngealTeeth { // a hyphen would part left and right
		return append(b, strings.ReplaceAll(string(s.appendParts(nil)), "-", " to ")...)
	}
	return s.appendParts(b)
}

// label is the abbreviation that Parse reads back without doubt.
func (c Character) label(s *Statement) string {
	switch c {
	case Pelvic: // V alone may be vertebrae
		if s.Unknown {
			return "P2"
		}
		if _, spines := s.Count(Spine); spines {
			_, total := s.Count(Total)
			if _, ok := s.finShape(); ok && !total {
				return "V"
			}
		}
		return "P2"
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
	if s.Character.class() == classCaudal && s.margins() {
		return s.appendMargins(b)
	}
	if s.Character.class() == classLine {
		if text, ok := s.appendLine(b); ok {
			return text
		}
	}
	sep, forms := sumForms(s.Character)
	if sep == '-' && s.ranges() {
		sep = ':' // 17-19:17:15
	}
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

// appendLine writes scales on the caudal base, 45-48+3, or the parts of an interrupted
// line, 17+7, where their sizes tell Parse which of the two it is.
func (s *Statement) appendLine(b []byte) ([]byte, bool) {
	whole, ok := s.Count(Whole)
	if !ok {
		return b, false
	}
	first, ok := s.Count(FirstPart)
	second, both := s.Count(SecondPart)
	if ok && both && len(s.Counts) == 3 {
		ok = second.Max > caudalBaseMost && first.shift(second.Interval) == whole.Interval
	} else {
		first = whole
		second, both = s.Count(OnCaudalBase)
		ok = both && len(s.Counts) == 2 && second.Max <= caudalBaseMost
	}
	if !ok || !whole.plain() || !first.plain() || !second.plain() || whole.Bound != Exact || second.Bound != Exact {
		return b, false
	}
	b = append(first.append(b, tNumber), '+')
	return second.append(b, tNumber), true
}

func (s *Statement) ranges() bool {
	for i := range s.Counts {
		if s.Counts[i].Min != s.Counts[i].Max {
			return true
		}
	}
	return false
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
		if c.Derived {
			continue
		}
		if !c.plain() || c.Bound != Exact && s.Character == BodyRows {
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

// margins reports a caudal fin of plain lobes with unbranched margins, i,9+8,i.
func (s *Statement) margins() bool {
	n := 0
	for _, e := range [...]Element{UpperProcurrent, UpperUnbranched, UpperBranched, LowerBranched, LowerUnbranched, LowerProcurrent} {
		c, ok := s.Count(e)
		if !ok {
			if e == UpperProcurrent || e == LowerProcurrent {
				continue
			}
			return false
		}
		if !c.plain() || c.Bound != Exact || !c.roman(lowerMax) && e != UpperBranched && e != LowerBranched {
			return false
		}
		n++
	}
	return n == len(s.Counts)
}

func (s *Statement) appendMargins(b []byte) []byte {
	for i, part := range [...]struct {
		e    Element
		kind tokenKind
	}{{UpperProcurrent, tLower}, {UpperUnbranched, tLower}, {UpperBranched, tNumber}, {LowerBranched, tNumber}, {LowerUnbranched, tLower}, {LowerProcurrent, tLower}} {
		c, ok := s.Count(part.e)
		if !ok {
			continue
		}
		switch last := b[len(b)-1]; {
		case part.e == LowerBranched:
			b = append(b, '+')
		case i > 0 && last != ' ':
			b = append(b, ',')
		}
		b = c.append(b, part.kind)
	}
	return b
}

func (s *Statement) appendWords(b []byte) []byte {
	var prev *Count
	for i := range s.Counts {
		c := &s.Counts[i]
		if c.Derived {
			continue
		}
		switch {
		case prev == nil:
		case prev.plain() && c.plain() && c.Bound == Exact && s.Character != PharyngealTeeth:
			b = append(b, ", "...)
		default: // a comma would go on with the list
			b = append(b, " with "...)
		}
		prev = c
		b = c.appendWorded(b, s.Character)
	}
	return b
}
