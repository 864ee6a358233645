package meristic

// continues recognises a formula that a remark in brackets interrupted: "VII (not
// apparent in adults) + I + 20-22".
func (p *parser) continues(it *item, lo int) bool {
	return p.pre.joint == sepPlus && p.pre.label == NoCharacter && p.pre.near|p.pre.far == 0 && p.pre.mods == 0 &&
		it.clause == p.clause && it.post == 0 && it.inner < 0 && it.hi == lo && p.peek(-1).end > p.terms[lo].pos
}

// post takes in the words behind a formula, up to a comma, a conjunction with another
// count behind it, or the next count. Where words stand between two counts and
// nothing divides them, they go to the second if the first is named already.
func (p *parser) post(it *item) {
	start, in := p.at, -1
	var got, beforeIn feature
	parted, beforeParted := p.at, feature(0) // behind the last word that names no character
	var mods modifier
	for {
		t := p.tok()
		if t.kind == tDash {
			if p.peek(1).kind != tWord || p.peek(1).lex.class == wNumber {
				break
			}
			p.at++
			continue
		}
		if t.kind == tDot && !p.peek(1).has(flagSpace) && p.peek(1).kind == tWord {
			p.at++
			continue
		}
		if t.kind != tWord || p.isLabel(0) {
			break
		}
		if p.startsFormula(0) {
			break
		}
		if t.lex.class == wIn && got == 0 && p.peek(1).kind == tNumber && p.startsFormula(1) && it.hi > it.lo {
			last := &p.terms[it.hi-1]
			last.freq, last.flags = int32(p.peek(1).num), last.flags|termFreq
			p.at += 2
			continue
		}
		if p.breaks(t) {
			break
		}
		switch t.lex.class {
		case wIn:
			if in < 0 {
				in, beforeIn = p.at, got
			}
		case wRespectively:
			it.inTurn = true
		case wElement:
			it.forced, it.elem = true, Element(t.lex.num)
		case wForeign:
			it.foreign = it.foreign || got&fHeadNoun == 0
		case wUsual:
			mods |= modUsual
		case wHolotype:
			mods |= modHolotype
		case wOther:
			mods |= modOther
		}
		got |= t.lex.feat
		if t.lex.feat&(fRay|fSpine) != 0 && named(got, NoCharacter) == NoCharacter {
			parted, beforeParted = p.at+1, got
		}
		if t.lex.class == wUnknown {
			got |= p.misspelt(t)
		}
		p.at++
	}
	if p.startsFormula(0) {
		switch {
		case it.near&fHeadNoun != 0 && got&fHeadNoun != 0 && (in < 0 || beforeIn&fHeadNoun == 0): // "spines 3 soft rays 8"
			p.at = start
			return
		case named(got, NoCharacter) != NoCharacter && (it.label != NoCharacter || (it.near|it.far)&fAnyFin != 0 || beforeParted != 0): // "12 rays anal fin 8"
			p.at, got = parted, beforeParted
		}
	}
	if in >= 0 && beforeIn&fHeadNoun != 0 && p.startsFormula(0) { // "5-9 pored scales in a series of 30"
		p.at, got = in, beforeIn
	}
	it.post |= got
	it.mods |= mods
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
