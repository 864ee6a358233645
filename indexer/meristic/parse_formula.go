package meristic

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
