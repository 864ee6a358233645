package meristic

// formula reads terms as long as separators lead on to more of them.
func (p *parser) formula() (lo, hi int) {
	lo = len(p.terms)
	sep := sepNone
	for p.term(sep) {
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
	sep, width = p.separator(lo)
	if next := p.peek(1); width == 1 && next.kind == t.kind && p.startsFormula(2) && sep.doubles() {
		p.warn(next.pos, "doubled %q read as one", p.text(t))
		return sep, 2
	}
	if sep == sepNone || !p.startsFormula(width) {
		return sepNone, 0
	}
	return sep, width
}

// separator reads the sign or the word at hand as one; width is how many tokens it has.
func (p *parser) separator(lo int) (sep separator, width int) {
	t, next := p.tok(), p.peek(1)
	last := &p.terms[len(p.terms)-1]
	bracketed := last.auxHi > last.auxLo
	switch t.kind {
	case tComma:
		if next.kind == tWord && (next.lex.class == wOr || next.lex.class == wAnd && bracketed) {
			return sepOr, 2
		}
		if last.kind == tNumber && !bracketed && p.wordsFollow(1) {
			return sepNone, 0 // "14-15, 3-4 anterior rays": another count
		}
		return sepComma, 1
	case tPlus:
		return sepPlus, 1
	case tSlash:
		return sepSlash, 1
	case tBar:
		return sepBar, 1
	case tEquals:
		return sepEquals, 1
	case tDash:
		if last.kind == tNumber && bracketed && next.kind == tNumber { // 32(4)-34(2)
			return sepTo, 1
		}
		return sepDash, 1
	case tColon:
		if t.has(flagSpace) || next.has(flagSpace) || next.kind != tNumber {
			return sepNone, 0
		}
		return sepColon, 1
	case tDot:
		if next.has(flagSpace) && (last.kind == tNumber || len(p.terms)-lo > 1) {
			return sepNone, 0 // the end of a sentence
		}
		return sepDot, 1
	case tWord:
		return conjunction(t, next, last)
	case tNumber, tUpper, tLower, tOpen:
		return sepBlank, 0
	default:
		return sepNone, 0
	}
}

// conjunction reads "or", "to", and "and" where a list goes on.
func conjunction(t, next *token, last *term) (separator, int) {
	switch {
	case t.lex.class == wOr:
		return sepOr, 1
	case t.lex.class == wTo:
		return sepTo, 1
	case t.lex.class == wAnd && last.auxHi > last.auxLo && next.kind != tWord: // 8(1) and 9(3)
		return sepOr, 1
	case t.lex.class == wAnd && last.sep == sepComma && last.kind == tNumber && next.kind == tNumber: // 10, 17 and 18
		return sepComma, 1
	default:
		return sepNone, 0
	}
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
