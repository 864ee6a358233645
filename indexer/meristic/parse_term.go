package meristic

// separator stands between two terms of a formula.
type separator uint8

const (
	sepNone separator = iota
	sepComma
	sepPlus
	sepSlash
	sepDash
	sepDot
	sepBlank // nothing but a blank: a lost sign
	sepEquals
	sepOr
	sepTo
	sepBar
	sepColon
	sepAnd
	sepSemicolon
)

const (
	termStar     uint16 = 1 << iota // holotype
	termOnes                        // 1, 11, 111: perhaps strokes
	termHalfLow                     // a half at the lower end
	termHalfHigh                    //
	termDashed                      // written with a dash, not "to"
	termSquare                      // its bracket is square
	termFreq                        // its bracket is a number of specimens, said so
	termDoubt                       // round and square brackets on one value
	termNumeral                     // its bracket holds numerals: no number of specimens
)

// term is one count or range with what hangs on it.
type term struct {
	iv           Interval
	pos, end     int32
	auxLo, auxHi int32 // bracketed counts, in parser.aux
	auxPre       int32 // how many of them stand before the count
	freq         int32 // specimens, once known
	kind         tokenKind
	sep          separator // before this term
	flags        uint16
	said         modifier // what a word in its bracket says of the bracketed counts
}

func (t *term) has(f uint16) bool { return t.flags&f != 0 }

// single reports a lone bracketed whole number after the count: the shape of A1.
func (t *term) singleBracket() bool { return t.auxHi-t.auxLo == 1 && t.auxPre == 0 }

// countLimit is the first number that is no count but a year, a page or a depth.
const countLimit = 1000

// startsFormula reports whether a count begins n tokens ahead.
func (p *parser) startsFormula(n int) bool {
	t := p.peek(n)
	next := p.peek(n + 1)
	switch t.kind {
	case tNumber:
		if next.kind == tWord && isOrdinal(p.text(next)) { // "1 st arch"
			return false
		}
		return !t.has(flagDecimal) && t.num < countLimit && !(next.kind == tWord && next.lex.class == wUnit)
	case tUpper:
		if t.lab.char != NoCharacter {
			return !p.isLabel(n)
		}
		return !t.has(flagFixed) || t.end-t.pos > 1 || next.kind == tComma || next.kind == tPlus || next.kind == tDash || next.kind == tSlash
	case tLower:
		return p.reading || p.pre.label != NoCharacter || t.end-t.pos > 1 || next.kind != tWord || next.lex.feat != 0 || next.lex.class == wOr || next.lex.class == wTo
	case tAbout, tMore, tLess, tAtLeast, tAtMost:
		return next.kind == tNumber && next.num < countLimit || next.kind == tUpper
	case tWord:
		if t.lex.class == wNumber && p.text(t) == "single" {
			return next.kind == tWord && next.lex.feat&(fHeadNoun|fRayKind) != 0
		}
		return t.lex.class == wNumber && !(next.kind == tDash && !next.has(flagSpace) && p.peek(n+2).kind == tWord && p.peek(n+2).lex.class != wNumber)
	case tOpen:
		return p.bracketBefore(n) || p.wrapped(n)
	default:
		return false
	}
}

// bracketBefore recognises rare values written before the usual ones: (17)18-20(21).
func (p *parser) bracketBefore(n int) bool {
	i := n + 1
	for {
		if k := p.peek(i).kind; k != tNumber && k != tUpper {
			return false
		}
		i++
		switch p.peek(i).kind {
		case tComma, tDash:
			i++
		case tClose:
			after := p.peek(i + 1)
			if after.kind == tDash && !after.has(flagSpace) {
				after = p.peek(i + 2)
			}
			return after.kind == p.peek(n+1).kind && after.num < countLimit && after.lab.char == NoCharacter
		default:
			return false
		}
	}
}

// wrapped recognises parts of a sum in brackets of their own: (7-8) + (16-18).
func (p *parser) wrapped(n int) bool {
	i := n + 1
	if p.peek(i).kind != tNumber {
		return false
	}
	if i++; p.peek(i).kind == tDash && p.peek(i+1).kind == tNumber {
		i += 2
	}
	if p.peek(i).kind != tClose {
		return false
	}
	if p.reading {
		return p.peek(n-1).kind == tPlus
	}
	return p.peek(i+1).kind == tPlus && p.peek(i+2).kind == tOpen
}

// isLabel decides whether a capital that is also a numeral (V, C) names a character
// here: A8 of the notation.
func (p *parser) isLabel(n int) bool {
	t, next, after := p.peek(n), p.peek(n+1), p.peek(n+2)
	if t.kind == tLabel {
		return p.labelCounts(n + 1)
	}
	if t.kind != tUpper || t.lab.char == NoCharacter {
		return false
	}
	if prev := p.peek(n - 1); p.reading && prev.kind == tWord && (prev.lex.class == wOr || prev.lex.class == wTo) {
		return false // IV or V
	}
	named := p.pre.label != NoCharacter && !p.reading // the character is named, its count still due
	switch next.kind {
	case tColon, tEquals:
		return !named
	case tDot:
		return !named && (after.kind == tNumber || after.kind == tUpper || after.kind == tLower)
	case tNumber, tUpper, tLower, tAbout, tMore:
		return !named
	case tDash:
		ascending := after.kind == tUpper && after.num > t.num
		return !ascending && p.labeled && !named && n == 0
	case tComma:
		return p.labeled && !named && n == 0 && p.peek(-1).kind != tOpen
	case tOpen:
		return p.labeled && !named
	default:
		return !named && p.opt.Character == NoCharacter && n == 0 && p.pre.near|p.pre.far == 0
	}
}

// labelCounts tells an abbreviation from a word in a sentence ("A new species"): it is
// followed by its count, by a sign, by words about rays or scales, or by nothing.
func (p *parser) labelCounts(n int) bool {
	for i := 0; i < 2; i++ {
		switch k := p.peek(n).kind; k {
		case tColon, tEquals, tEnd, tSemicolon, tQuery:
			return true
		case tDot, tDash, tComma:
			n++
		}
	}
	for i := 0; i < 4; i++ {
		t := p.peek(n + i)
		if t.kind != tWord {
			return t.kind == tOpen || t.kind == tEnd || t.kind == tBad || p.startsFormula(n+i)
		}
		if t.lex.feat == 0 && (t.lex.class == wPlain || t.lex.class == wUnknown) {
			return false
		}
	}
	return false
}

// formula reads terms as long as separators lead on to more of them.
func (p *parser) formula() (lo, hi int) {
	lo = len(p.terms)
	sep := sepNone
	for {
		if !p.term(sep) {
			break
		}
		p.reading = true
		next, width := p.leadsOn(lo)
		if next == sepNone {
			break
		}
		if sep = next; sep == sepBlank && !p.terms[len(p.terms)-1].annotated() {
			p.warn(p.tok().pos, "a sign is missing before this count")
		}
		p.at += width
	}
	p.reading = false
	return lo, len(p.terms)
}

// leadsOn looks for a separator and another term behind the one just read.
func (p *parser) leadsOn(lo int) (sep separator, width int) {
	t := p.tok()
	last := &p.terms[len(p.terms)-1]
	switch t.kind {
	case tComma:
		sep, width = sepComma, 1
		if w := p.peek(1); w.kind == tWord && (w.lex.class == wOr || w.lex.class == wAnd && last.auxHi > last.auxLo) {
			sep, width = sepOr, 2
		} else if last.kind == tNumber && last.auxHi == last.auxLo && p.wordsFollow(1) {
			return sepNone, 0 // "14-15, 3-4 anterior rays": another count
		}
	case tPlus:
		sep, width = sepPlus, 1
	case tSlash:
		sep, width = sepSlash, 1
	case tBar:
		sep, width = sepBar, 1
	case tEquals:
		sep, width = sepEquals, 1
	case tDash:
		sep, width = sepDash, 1
		if last.kind == tNumber && last.auxHi > last.auxLo && p.peek(1).kind == tNumber { // 32(4)-34(2)
			sep = sepTo
		}
	case tColon:
		if t.has(flagSpace) || p.peek(1).has(flagSpace) || p.peek(1).kind != tNumber {
			return sepNone, 0
		}
		sep, width = sepColon, 1
	case tDot:
		if p.peek(1).has(flagSpace) && (last.kind == tNumber || len(p.terms)-lo > 1) {
			return sepNone, 0 // the end of a sentence
		}
		sep, width = sepDot, 1
	case tWord:
		switch {
		case t.lex.class == wOr:
			sep, width = sepOr, 1
		case t.lex.class == wTo:
			sep, width = sepTo, 1
		case t.lex.class == wAnd && last.auxHi > last.auxLo && p.peek(1).kind != tWord:
			sep, width = sepOr, 1
		case t.lex.class == wAnd && last.sep == sepComma && last.kind == tNumber && p.peek(1).kind == tNumber:
			sep, width = sepComma, 1
		}
	case tNumber, tUpper, tLower, tOpen:
		sep = sepBlank
	}
	if next := p.peek(1); width == 1 && next.kind == t.kind && p.startsFormula(2) && sep.doubles() {
		p.warn(next.pos, "doubled %q read as one", p.text(t))
		return sep, 2
	}
	if sep == sepNone || !p.startsFormula(width) {
		return sepNone, 0
	}
	return sep, width
}

// doubles reports a sign that may be printed twice by mistake.
func (s separator) doubles() bool {
	switch s {
	case sepComma, sepPlus, sepSlash, sepDash, sepDot:
		return true
	default:
		return false
	}
}

// wordsFollow looks past a count or a range, n tokens ahead, for a word that says
// what it counts.
func (p *parser) wordsFollow(n int) bool {
	if p.peek(n).kind != tNumber {
		return p.peek(n).kind == tWord && p.peek(n).lex.class == wNumber && saysWhat(p.peek(n+1))
	}
	if p.peek(n+1).kind == tDash && p.peek(n+2).kind == tNumber {
		n += 2
	}
	return saysWhat(p.peek(n + 1))
}

func saysWhat(w *token) bool {
	return w.kind == tWord && (w.lex.feat != 0 || w.lex.class == wElement)
}

// term reads one count or range with its brackets and marks.
func (p *parser) term(sep separator) bool {
	t := term{sep: sep, pos: p.tok().pos, auxLo: int32(len(p.aux)), auxHi: int32(len(p.aux))}
	wrapped := p.tok().kind == tOpen && p.wrapped(0)
	if wrapped {
		p.at++
	} else if p.tok().kind == tOpen {
		p.bracket(p.peek(1).kind, &t)
		t.auxPre = t.auxHi - t.auxLo
		if p.tok().kind == tDash {
			p.at++ // (6)-7-(8)
		}
	}
	bound := p.boundSign()
	kind, n, ok := p.count(&t)
	if !ok {
		return false
	}
	t.kind, t.iv = kind, Interval{Min: n, Max: n, Bound: bound}
	if n != float64(int(n)) {
		t.flags |= termHalfLow | termHalfHigh
	}
	p.rangeEnd(&t)
	if wrapped {
		p.at++
	}
	p.suffix(&t)
	t.end = p.peek(-1).end
	p.terms = append(p.terms, t)
	return true
}

func (p *parser) boundSign() Bound {
	var b Bound
	switch p.tok().kind {
	case tAbout:
		b = About
	case tMore:
		b = MoreThan
	case tLess:
		b = Under
	case tAtLeast:
		b = AtLeast
	case tAtMost:
		b = AtMost
	default:
		return Exact
	}
	p.at++
	return b
}

// count reads one number: figures, a numeral or a word.
func (p *parser) count(t *term) (kind tokenKind, n float64, ok bool) {
	k := p.tok()
	switch k.kind {
	case tNumber:
		if k.has(flagOnes) {
			t.flags |= termOnes
		}
		kind = tNumber
	case tUpper, tLower:
		kind = k.kind
	case tWord:
		if k.lex.class != wNumber {
			return 0, 0, false
		}
		p.at++
		n = float64(k.lex.num)
		if next := p.tok(); n >= 20 { // twenty-one, twenty one
			if next.kind == tDash {
				next = p.peek(1)
			}
			if next.kind == tWord && next.lex.class == wNumber && next.lex.num < 10 && next.lex.num > 0 {
				n += float64(next.lex.num)
				for p.peek(-1) != next {
					p.at++
				}
			}
		}
		return tNumber, n, true
	default:
		return 0, 0, false
	}
	switch {
	case k.has(flagFixed):
		p.warn(k.pos, "%q read as %s: letters and figures confused", p.text(k), numberText(kind, k.num))
	case k.has(flagIrregular):
		p.warn(k.pos, "%q read as %g, commonly written %s", p.text(k), k.num, numberText(kind, k.num))
	}
	p.at++
	return kind, k.num, true
}

// rangeEnd reads "-12" or "to 12" after a lower end.
func (p *parser) rangeEnd(t *term) {
	k := p.tok()
	if k.kind == tWord && k.lex.class == wTo {
		if hi := p.peek(1); p.sameKind(t.kind, hi) {
			if p.peekCount(hi) < t.iv.Min {
				p.fault(hi.pos, "the smaller count first; the ends are not swapped", "the range runs downward, from %g to %g", t.iv.Min, p.peekCount(hi))
				return
			}
			p.at++
			t.iv.Max = p.upper(t)
		}
		return
	}
	if k.kind != tDash {
		return
	}
	hi := p.peek(1)
	switch {
	case hi.kind == tQuery:
		p.at += 2
		t.iv.Bound = AtLeast
		return
	case !p.sameKind(t.kind, hi):
		return
	case hi.kind == tUpper && hi.lab.char != NoCharacter && p.peek(2).kind == tDot:
		return
	}
	n := p.peekCount(hi)
	if n < t.iv.Min || t.kind == tNumber && (p.third() || t.sep == sepDash && p.terms[len(p.terms)-1].kind == tNumber) {
		return // descending, or one of a series of positions: leadsOn takes the dash
	}
	if k.has(flagDouble) {
		p.warn(k.pos, "doubled hyphen read as a range")
	}
	if t.kind == tUpper && n <= 3 && t.iv.Min < n &&
		p.choose(t.pos, ReadRomanHyphenRange, ReadRomanHyphenSeparates, "the hyphen may separate two fins") == ReadRomanHyphenSeparates {
		return
	}
	p.at++
	t.flags |= termDashed
	t.iv.Max = p.upper(t)
}

func (p *parser) upper(t *term) float64 {
	flags := t.flags
	_, n, _ := p.count(t)
	t.flags = flags &^ (termOnes | termHalfHigh)
	if n != float64(int(n)) {
		t.flags |= termHalfHigh
	}
	return n
}

func (p *parser) sameKind(kind tokenKind, t *token) bool {
	if kind == tNumber && t.kind == tWord {
		return t.lex.class == wNumber
	}
	return t.kind == kind && !t.has(flagDecimal) && t.num < countLimit
}

func (p *parser) peekCount(t *token) float64 {
	if t.kind == tWord {
		return float64(t.lex.num)
	}
	return t.num
}

// third reports a further "-37" behind "53-75": a series of positions, not a range.
func (p *parser) third() bool {
	k, n := p.peek(2), p.peek(3)
	return k.kind == tDash && !k.has(flagSpace) && !n.has(flagSpace) && n.kind == tNumber
}

// suffix reads what may follow a count: "+", "*", brackets, "or more".
func (p *parser) suffix(t *term) {
	if k, next := p.tok(), p.peek(1); k.kind == tPlus && !k.has(flagSpace) && t.kind == tNumber && t.sep != sepPlus &&
		(next.kind == tEnd || next.kind == tComma || next.kind == tSemicolon || next.kind == tClose || next.kind == tDot) {
		p.at++
		t.iv.Bound = AtLeast
	}
	if k, next := p.tok(), p.peek(1); k.kind == tWord && (k.lex.class == wOr || k.lex.class == wAnd) && next.kind == tWord {
		switch next.lex.class {
		case wMoreThan:
			p.at += 2
			t.iv.Bound = AtLeast
		case wLessThan:
			p.at += 2
			t.iv.Bound = AtMost
		}
	}
	for n := 0; ; {
		switch k := p.tok(); k.kind {
		case tStar:
			t.flags |= termStar
			p.at++
			continue
		case tDash: // 7-(8)
			if p.peek(1).kind != tOpen || k.has(flagSpace) || p.peek(1).has(flagSpace) || p.peek(2).kind != tNumber {
				return
			}
			p.at++
			if !p.bracket(t.kind, t) {
				p.at--
				return
			}
			continue
		case tOpen:
			square := k.has(flagSquare)
			pos := k.pos
			if t.kind != tNumber && p.peek(1).kind == tNumber && p.bracketBefore(0) {
				return // III (6) 7-8: the bracket belongs to what follows
			}
			if !p.bracket(t.kind, t) {
				return
			}
			if n++; n > 1 && square != t.has(termSquare) {
				p.warn(pos, "round and square brackets on one count: which is the holotype's?")
				t.flags |= termDoubt
			}
			if square {
				t.flags |= termSquare
			}
			continue
		default:
			return
		}
	}
}
