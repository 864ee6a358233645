package meristic

// word takes in one word before a count.
func (p *parser) word(t *token) {
	p.pre.near |= t.lex.feat
	if t.lex.feat&^(fTooth|fRow|fBoth) != 0 {
		p.pre.foreign = false
	}
	p.spinousDorsal(t)
	switch t.lex.class {
	case wUnknown:
		p.pre.near |= p.misspelt(t)
	case wRespectively:
		if n := len(p.items); n > 0 {
			p.items[n-1].inTurn = true
		}
	case wForeign:
		p.pre.foreign = true
	case wCounted:
		p.skipHowCounted()
	case wAs:
		if prev := p.text(p.peek(-2)); p.startsFormula(0) && prev != "many" && prev != "few" {
			p.at++
		}
	case wMeasure:
		p.pre.foreign = p.startsFormula(0)
	case wAbsent:
		if p.pre.label != NoCharacter || p.pre.near&fAnyFin != 0 && p.pre.near&(fRay|fSpine|fScale) == 0 {
			p.constant(t, 0)
		}
	case wIn:
		p.lostLetter(t)
	case wAnd:
		p.pre.joint = sepAnd
		if p.pre.near&fDorsal != 0 && p.tok().lex.feat == fAnal {
			p.pre.near |= fBoth // "dorsal and anal fins"
		}
	case wVersus:
		p.skipOther()
	case wNone:
		p.none(t)
	case wArticle:
		p.article(t)
	case wSample:
		if p.tok().kind == tEquals && p.peek(1).kind == tNumber {
			if n := len(p.items); n > 0 {
				p.items[n-1].sample = int32(p.peek(1).num)
			}
			p.at += 2
		}
	default:
		p.qualify(t.lex.class)
	}
}

// qualify notes how a word bounds the count to come, or what standing it gives it.
func (p *parser) qualify(c wordClass) {
	switch c {
	case wAbout:
		p.pre.bound = About
	case wAtLeast:
		p.pre.bound = AtLeast
	case wAtMost:
		p.pre.bound = AtMost
	case wMoreThan:
		p.pre.bound = MoreThan
	case wLessThan:
		p.pre.bound = Under
	default:
		p.pre.mods |= standing(c)
	}
}

// standing is what a word says of a count: usual, rare, the holotype's.
func standing(c wordClass) modifier {
	switch c {
	case wUsual:
		return modUsual
	case wRare:
		return modRare
	case wOverall:
		return modOverall
	case wHolotype:
		return modHolotype
	case wOther:
		return modOther
	default:
		return 0
	}
}

// spinousDorsal reads "spinous dorsal" and "soft dorsal" as the first and the second
// fin, but "soft dorsal-fin rays" as a kind of ray.
func (p *parser) spinousDorsal(t *token) {
	if t.lex.feat&(fSpine|fSoft) == 0 || p.tok().lex.feat != fDorsal {
		return
	}
	i := 1
	for p.peek(i).kind == tDash || p.peek(i).lex.feat == fFin {
		i++
	}
	if p.peek(i).lex.feat&(fRay|fSpine|fSoft) != 0 {
		return
	}
	p.pre.near &^= t.lex.feat
	if t.lex.feat&fSpine != 0 {
		p.pre.near |= fFirst
	} else {
		p.pre.near |= fSecond
	}
}

// notCounting passes over figures that are no counts: after "last", "mean", "Fig.".
func (p *parser) notCounting() bool {
	prev := p.peek(-1)
	for i := -1; p.at+i >= 0 && (prev.kind == tDot || prev.kind == tEquals); {
		i--
		prev = p.peek(i)
	}
	if p.at == 0 || prev.kind != tWord {
		return false
	}
	switch prev.lex.class {
	case wLast, wMean, wIgnore:
		return true
	default:
		return false
	}
}

// skipOther passes over a count that belongs to another taxon: "24-26 vs. 26-29".
// Source: A12 of the notation.
func (p *parser) skipOther() {
	for {
		switch t := p.tok(); t.kind {
		case tEnd, tSemicolon, tClose, tOpen, tComma:
			return
		case tDot:
			if p.peek(1).has(flagSpace) && p.peek(-1).lex.class != wVersus {
				return
			}
		default:
		}
		p.at++
	}
}

// skipHowCounted passes over the figure in "Weberian apparatus counted as four
// elements": it tells how the count was made.
func (p *parser) skipHowCounted() {
	for i := 0; i < 4; i++ {
		t := p.peek(i)
		switch {
		case t.kind == tNumber || t.kind == tWord && t.lex.class == wNumber:
			p.at += i + 1
			return
		case t.kind != tWord:
			return
		}
	}
}

// none reads "no upper procurrent rays" as a count of zero.
func (p *parser) none(t *token) {
	for i := 0; i < 5; i++ {
		w := p.peek(i)
		if w.kind == tDash {
			continue
		}
		if w.kind != tWord {
			return
		}
		if w.lex.feat&(fRay|fSpine|fScale|fRaker|fFinlet) != 0 {
			p.constant(t, 0)
			return
		}
	}
}

// article reads "followed by a simple ray" as a count of one. In other places an
// article counts nothing.
func (p *parser) article(t *token) {
	prev := p.peek(-2)
	if prev.kind != tWord || prev.lex.class != wPlus && prev.lex.class != wAnd && p.text(prev) != "by" {
		return
	}
	for i := 0; i < 3; i++ {
		w := p.peek(i)
		if w.kind != tWord {
			return
		}
		switch s := p.text(w); {
		case s == "ray" || s == "spine":
			p.constant(t, 1)
			return
		case w.lex.feat&fRayKind == 0:
			return
		}
	}
}

func (p *parser) constant(t *token, n float64) {
	lo := len(p.terms)
	p.terms = append(p.terms, term{iv: At(n), pos: t.pos, end: t.end, kind: tNumber})
	p.item(lo, t.pos, -1)
}

// value reads a formula and the words behind it.
func (p *parser) value(inner int) {
	pos := p.tok().pos
	lo, hi := p.formula()
	if hi == lo {
		p.at++
		return
	}
	if next := p.tok(); next.kind == tWord && next.lex.class == wUnit || next.kind == tOther && next.pos < int32(len(p.src)) && p.src[next.pos] == '%' {
		p.terms = p.terms[:lo]
		p.at++
		return
	}
	p.item(lo, pos, inner)
}

// item closes the formula whose terms begin at lo.
func (p *parser) item(lo int, pos int32, inner int) {
	b := p.pre
	if n := len(p.items); n > 0 && p.continues(&p.items[n-1], lo) {
		p.terms[lo].sep = sepPlus
		p.items[n-1].hi = len(p.terms)
		p.pre = pre{}
		p.post(&p.items[n-1])
		return
	}
	if b.bound != Exact {
		p.terms[lo].iv.Bound = b.bound
	}
	p.items = append(p.items, item{
		lo: lo, hi: len(p.terms), near: b.near, far: b.far, label: b.label, labelElem: b.labelElem, labelPos: b.labelPos,
		mods: b.mods, joint: b.joint, inner: inner, clause: p.clause, pos: pos, foreign: b.foreign,
	})
	if p.header != 0 && p.headerClause == p.clause {
		p.items[len(p.items)-1].header = p.header
	}
	p.pre = pre{}
	p.post(&p.items[len(p.items)-1])
}
