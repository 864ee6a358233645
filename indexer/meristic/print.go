package meristic

import (
	"strconv"
	"strings"
)

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

// appendFin writes spines in capitals, unbranched rays in lower case, rays in
// figures, as far as the fin has that shape; the rest in words.
func (s *Statement) appendFin(b []byte) []byte {
	f, ok := s.finShape()
	if !ok {
		return s.appendWords(b)
	}
	total, inBrackets := s.Count(Total)
	if inBrackets {
		b = append(total.append(b, tNumber), " ("...)
	}
	start := len(b)
	add := func(c Count, kind tokenKind) {
		if len(b) > start {
			b = append(b, ',')
		}
		b = c.append(b, kind)
	}
	if f.free.Element == FreeSpine {
		b = append(f.free.append(b, tUpper), '+')
		start = len(b)
	}
	for _, part := range [...]struct {
		e    Element
		kind tokenKind
	}{{Spine, tUpper}, {Unbranched, tLower}, {Ray, tNumber}, {Branched, tNumber}, {TrailingUnbranched, tLower}} {
		if c, ok := s.Count(part.e); ok {
			if part.e == Spine {
				c = f.spine
			}
			add(c, part.kind)
		}
	}
	if inBrackets {
		b = append(b, ')')
	}
	for i := range s.Counts {
		switch c := &s.Counts[i]; c.Element {
		case Segmented, Finlet, Procurrent, Whole, Left, Right:
			b = append(b, " with "...)
			b = c.appendWorded(b, s.Character)
		}
	}
	return b
}

// finShape is what a formula of numerals and figures needs beside the counts: the
// spines of the fin proper and those that stand before it.
type finShape struct{ spine, free Count }

// finShape reports whether the fin can be written in numerals and figures.
func (s *Statement) finShape() (finShape, bool) {
	var f finShape
	spine, hasSpine := s.Count(Spine)
	free, hasFree := s.Count(FreeSpine)
	unbr, hasUnbr := s.Count(Unbranched)
	trail, hasTrail := s.Count(TrailingUnbranched)
	_, hasBranched := s.Count(Branched)
	ray, hasRay := s.Count(Ray)
	if ray.Derived {
		return f, false
	}
	ok := (!hasSpine || spine.roman(romanMax)) && (!hasUnbr || unbr.roman(lowerMax)) && (!hasTrail || trail.roman(lowerMax) && trail.plain())
	if hasUnbr || hasTrail {
		ok = ok && hasBranched && !hasRay
	} else {
		ok = ok && !hasBranched && (hasRay || hasSpine)
	}
	if total, has := s.Count(Total); has {
		ok = ok && total.plain() && (hasUnbr || hasTrail) && !hasFree // a formula of several parts, in brackets
	}
	if _, finlets := s.Count(Finlet); finlets {
		ok = ok && !(hasSpine && hasRay) // would be two dorsal fins
	}
	if hasFree {
		spine.Interval = Interval{Min: spine.Min - free.Min, Max: spine.Max - free.Max}
		ok = ok && hasSpine && s.Character.class() == classAnal && free.roman(romanMax) && free.plain() && spine.plain() &&
			spine.Min <= spine.Max && spine.roman(romanMax)
		f.free = free
	}
	f.spine = spine
	return f, ok
}

// lowerMax is the largest count written in lower-case numerals, of i, v and x.
const lowerMax = 39

// roman reports whether the count can be written in numerals up to most.
func (c Count) roman(most float64) bool {
	for _, i := range c.Intervals() {
		if i.Min < 1 || i.Max > most || i.Min != float64(int(i.Min)) || i.Max != float64(int(i.Max)) || i.Bound != Exact {
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
		ok = second.Max > caudalBaseMost && first.Interval.shift(second.Interval) == whole.Interval
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
		return "on line"
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
