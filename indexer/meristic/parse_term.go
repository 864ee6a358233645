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
	if sep == sepBlank && p.lostHyphen(&t) {
		return true
	}
	p.terms = append(p.terms, t)
	return true
}

// lostHyphen joins "9 11" into a range: two bare figures, the second larger.
func (p *parser) lostHyphen(t *term) bool {
	prev := &p.terms[len(p.terms)-1]
	if t.kind != tNumber || prev.kind != tNumber || t.annotated() || prev.annotated() || !t.iv.Single() || !prev.iv.Single() || t.iv.Min <= prev.iv.Max {
		return false
	}
	prev.iv.Max, prev.end = t.iv.Max, t.end
	prev.flags = prev.flags&^(termOnes|termHalfHigh) | termDashed | t.flags&termHalfHigh
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
		if t.sep == sepPlus && p.peek(2).kind == tPlus {
			return // 7+7 to 8+8
		}
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

// suffix reads what may follow a count: "+", "or more", asterisks, brackets.
func (p *parser) suffix(t *term) {
	p.orMore(t)
	for brackets := 0; ; {
		k := p.tok()
		switch {
		case k.kind == tStar:
			t.flags |= termStar
			p.at++
		case k.kind == tDash && !k.has(flagSpace) && p.peek(1).kind == tOpen && !p.peek(1).has(flagSpace) && p.peek(2).kind == tNumber: // 7-(8)
			p.at++
			if !p.bracket(t.kind, t) {
				p.at--
				return
			}
		case k.kind == tOpen:
			if t.kind != tNumber && p.peek(1).kind == tNumber && p.bracketBefore(0) {
				return // III (6) 7-8: the bracket belongs to what follows
			}
			if !p.bracket(t.kind, t) {
				return
			}
			if brackets++; brackets > 1 && k.has(flagSquare) != t.has(termSquare) {
				p.warn(k.pos, "round and square brackets on one count: which is the holotype's?")
			}
			if k.has(flagSquare) {
				t.flags |= termSquare
			}
		default:
			return
		}
	}
}

// orMore reads "80+", "80 or more", "80 or fewer".
func (p *parser) orMore(t *term) {
	k, next := p.tok(), p.peek(1)
	switch {
	case k.kind == tPlus && !k.has(flagSpace) && t.kind == tNumber && t.sep != sepPlus:
		switch next.kind {
		case tEnd, tComma, tSemicolon, tClose, tDot:
			p.at++
			t.iv.Bound = AtLeast
		default:
		}
	case k.kind == tWord && (k.lex.class == wOr || k.lex.class == wAnd) && next.kind == tWord:
		switch next.lex.class {
		case wMoreThan:
			p.at += 2
			t.iv.Bound = AtLeast
		case wLessThan:
			p.at += 2
			t.iv.Bound = AtMost
		default:
		}
	}
}
