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
		switch {
		case p.bracketWord(k, t):
			p.at++
		case k.lex.class == wHolotype && p.peek(1).kind == tClose:
			p.at += 2
			t.flags |= termStar
			return true
		case k.lex.class == wSample && p.peek(1).kind == tEquals && p.peek(2).kind == tNumber && p.peek(3).kind == tClose:
			t.freq, t.flags = int32(p.peek(2).num), t.flags|termFreq
			p.at += 4
			return true
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
		switch k := p.tok(); {
		case k.kind == tComma:
			p.at++
			if w := p.tok(); w.kind == tWord && w.lex.class == wOr {
				p.at++
			}
		case k.kind == tWord && k.lex.class == wOr:
			p.at++
		case k.kind == tStar && p.peek(1).kind == tClose:
			t.flags |= termStar
			p.at += 2
			t.auxHi = int32(len(p.aux))
			return true
		case k.kind == tWord && k.lex.class == wSpecimens && len(p.aux) == had+1 && iv.Single():
			p.at++
			for p.tok().kind == tDot {
				p.at++
			}
			if p.tok().kind != tClose {
				return p.giveUp(start, had, t)
			}
			p.at++
			p.aux = p.aux[:had]
			t.freq, t.flags = int32(iv.Min), t.flags|termFreq
			return true
		case k.kind == tClose:
			p.at++
			t.auxHi = int32(len(p.aux))
			return true
		default:
			return p.giveUp(start, had, t)
		}
	}
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
	var m modifier
	switch k.lex.class {
	case wRare:
		m = modRare
	case wUsual:
		m = modUsual
	case wOverall:
		m = modOverall
	default:
		return false
	}
	if !p.bracketKind(t.kind, p.peek(1)) {
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
