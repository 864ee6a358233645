package meristic

// continues recognises a formula that a remark in brackets interrupted: "VII (not
// apparent in adults) + I + 20-22".
func (p *parser) continues(it *item, lo int) bool {
	return p.pre.joint == sepPlus && p.pre.label == NoCharacter && p.pre.near|p.pre.far == 0 && p.pre.mods == 0 &&
		it.clause == p.clause && it.post == 0 && it.inner < 0 && it.hi == lo && p.peek(-1).end > p.terms[lo].pos
}

// postscript gathers the words behind a formula, and where they might be parted.
type postscript struct {
	got  feature
	mods modifier
	// in is the token of the first "in", -1 without one; beforeIn what stood before it.
	in       int
	beforeIn feature
	// parted is the token behind the last word that names no character yet.
	parted       int
	beforeParted feature
}

// post takes in the words behind a formula, up to a comma, a conjunction with another
// count behind it, or the next count. Where words stand between two counts and
// nothing divides them, they go to the second if the first is named already.
func (p *parser) post(it *item) {
	start := p.at
	w := postscript{in: -1, parted: p.at}
	for p.postWord(it, &w) {
	}
	if p.startsFormula(0) {
		whole := w.in < 0 || w.beforeIn&fHeadNoun == 0
		switch {
		case whole && it.near&fHeadNoun != 0 && w.got&fHeadNoun != 0: // "spines 3 soft rays 8"
			p.at = start
			return
		case named(w.got, NoCharacter) != NoCharacter &&
			(it.label != NoCharacter || (it.near|it.far)&fAnyFin != 0 || w.beforeParted != 0): // "12 rays anal fin 8"
			p.at, w.got = w.parted, w.beforeParted
		}
		if !whole && p.startsFormula(0) { // "5-9 pored scales in a series of 30"
			p.at, w.got = w.in, w.beforeIn
		}
	}
	it.post |= w.got
	it.mods |= w.mods
}

// postWord takes one word behind a formula; it reports false where they end.
func (p *parser) postWord(it *item, w *postscript) bool {
	t, next := p.tok(), p.peek(1)
	switch {
	case t.kind == tDash && next.kind == tWord && next.lex.class != wNumber,
		t.kind == tDot && next.kind == tWord && !next.has(flagSpace):
		p.at++
		return true
	case t.kind != tWord || p.isLabel(0) || p.startsFormula(0):
		return false
	case t.lex.class == wIn && w.got == 0 && p.startsFormula(1) && it.hi > it.lo && (next.kind == tNumber || p.specimensAt(2)): // 13 in 4
		last := &p.terms[it.hi-1]
		last.freq, last.flags = int32(p.peekCount(next)), last.flags|termFreq
		p.at += 2
		return true
	case w.got == 0 && p.specimensAt(0) && p.numbersSpecimens(it): // one specimen with 10
		it.foreign = true
		p.pre.mods |= modOther
		p.at++
		return false
	case p.breaks(t):
		return false
	}
	switch t.lex.class {
	case wIn:
		if w.in < 0 {
			w.in, w.beforeIn = p.at, w.got
		}
	case wRespectively:
		it.inTurn = true
	case wElement:
		it.forced, it.elem = true, Element(t.lex.num)
	case wForeign:
		it.foreign = it.foreign || w.got&fHeadNoun == 0
	case wUnknown:
		w.got |= p.misspelt(t)
	default:
		w.mods |= standing(t.lex.class)
	}
	w.got |= t.lex.feat
	p.at++
	if t.lex.feat&(fRay|fSpine) != 0 && named(w.got, NoCharacter) == NoCharacter {
		w.parted, w.beforeParted = p.at, w.got
	}
	return true
}

// specimensAt reports a word for specimens n tokens ahead.
func (p *parser) specimensAt(n int) bool {
	t := p.peek(n)
	return t.kind == tWord && (t.lex.class == wSpecimens || t.lex.class == wOther)
}

// numbersSpecimens reports a bare count that can be a number of specimens.
func (p *parser) numbersSpecimens(it *item) bool {
	return it.hi-it.lo == 1 && it.label == NoCharacter && it.near == 0 && p.terms[it.lo].kind == tNumber && p.terms[it.lo].freq == 0
}

// breaks reports words that begin something new behind a count.
func (p *parser) breaks(t *token) bool {
	switch t.lex.class {
	case wAnd:
		return p.countAhead()
	case wOr, wTo, wAbout:
		return p.startsFormula(1)
	case wPlus, wVersus, wRare, wOverall, wNone, wArticle, wLast, wSample, wMean, wIncluding, wExcluding:
		return true
	case wUsual:
		return p.countAhead()
	default:
		return false
	}
}

// countAhead looks for a count before the clause, the bracket or the next comma ends.
func (p *parser) countAhead() bool {
	for i := 1; ; i++ {
		switch t := p.peek(i); t.kind {
		case tEnd, tComma, tSemicolon, tOpen, tClose:
			return false
		default:
			if p.startsFormula(i) || t.lex.class == wNone || p.isLabel(i) {
				return true
			}
		}
	}
}
