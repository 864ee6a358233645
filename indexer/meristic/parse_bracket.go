package meristic

// bracket reads a bracket that holds nothing but counts of the kind (or the word
// holotype, or "n = 3", or "3 specimens") and stores them on the term. It leaves the
// position alone and reports false for any other bracket.
func (p *parser) bracket(kind tokenKind, t *term) bool {
	start, had := p.at, len(p.aux)
	if t.auxHi > t.auxLo && int(t.auxHi) != had {
		return false
	}
	p.at++
	if k := p.tok(); k.kind == tWord {
		if p.bracketMark(k, t) {
			return true
		}
		if p.bracketWord(k, t) {
			p.at++
		}
	}
	if t.auxHi == t.auxLo {
		t.auxLo = int32(had)
	}
	for {
		iv, ok := p.bracketCount(kind, t)
		if !ok {
			return p.giveUp(start, had, t)
		}
		p.aux = append(p.aux, iv)
		k := p.tok()
		if k.kind == tComma {
			p.at++
			if k = p.tok(); k.kind != tWord || k.lex.class != wOr {
				continue
			}
		}
		if k.kind == tWord && k.lex.class == wOr {
			p.at++
			continue
		}
		return p.bracketEnd(start, had, t)
	}
}

// bracketMark takes "(holotype)" and "(n = 3)".
func (p *parser) bracketMark(k *token, t *term) bool {
	switch n := p.peek(2); {
	case k.lex.class == wHolotype && p.peek(1).kind == tClose:
		p.at += 2
		t.flags |= termStar
		return true
	case k.lex.class == wSample && p.peek(1).kind == tEquals && n.kind == tNumber && p.peek(3).kind == tClose:
		p.at += 4
		t.freq, t.flags = int32(n.num), t.flags|termFreq
		return true
	default:
		return false
	}
}

// bracketEnd takes the closing bracket, and the asterisk or "specimens" before it.
func (p *parser) bracketEnd(start, had int, t *term) bool {
	k := p.tok()
	specimens := k.kind == tWord && k.lex.class == wSpecimens && len(p.aux) == had+1 && p.aux[had].Single()
	if specimens || k.kind == tStar {
		p.at++
	}
	for specimens && p.tok().kind == tDot { // "3 ex."
		p.at++
	}
	if p.tok().kind != tClose {
		return p.giveUp(start, had, t)
	}
	p.at++
	if specimens {
		t.freq, t.flags = int32(p.aux[had].Min), t.flags|termFreq
		p.aux = p.aux[:had]
		return true
	}
	if k.kind == tStar {
		t.flags |= termStar
	}
	t.auxHi = int32(len(p.aux))
	return true
}

func (p *parser) giveUp(start, had int, t *term) bool {
	p.at, p.aux = start, p.aux[:had]
	t.said = 0
	if int(t.auxHi) > had {
		t.auxHi = int32(had)
	}
	return false
}

// bracketWord takes "rarely", "usually" or "range" before bracketed counts.
func (p *parser) bracketWord(k *token, t *term) bool {
	m := standing(k.lex.class)
	if m&(modRare|modUsual|modOverall) == 0 || !p.bracketKind(t.kind, p.peek(1)) {
		return false
	}
	t.said = m
	return true
}

// bracketCount reads a count or a range inside a bracket, without repairs.
func (p *parser) bracketCount(kind tokenKind, t *term) (Interval, bool) {
	k := p.tok()
	if !p.bracketKind(kind, k) {
		return Interval{}, false
	}
	iv := At(p.peekCount(k))
	if k.kind == tUpper || k.kind == tLower {
		t.flags |= termNumeral
	}
	p.at++
	sep := p.tok()
	if sep.kind == tDash || sep.kind == tWord && sep.lex.class == wTo {
		hi := p.peek(1)
		if hi.kind != k.kind || hi.num >= countLimit || p.peekCount(hi) < iv.Min {
			return Interval{}, false
		}
		iv.Max = p.peekCount(hi)
		p.at += 2
	}
	return iv, true
}

func (p *parser) bracketKind(kind tokenKind, t *token) bool {
	if t.has(flagDecimal) || t.num >= countLimit {
		return false
	}
	return t.kind == tNumber || t.kind == kind || kind == tNumber && t.kind == tWord && t.lex.class == wNumber
}
