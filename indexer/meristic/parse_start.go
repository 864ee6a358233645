package meristic

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
		return !t.has(flagDecimal) && t.num < countLimit && (next.kind != tWord || next.lex.class != wUnit)
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
		if w := p.peek(n + 2); next.kind == tDash && !next.has(flagSpace) && w.kind == tWord && w.lex.class != wNumber {
			return false // one-third
		}
		return t.lex.class == wNumber
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
	if !p.sameKind(tNumber, p.peek(i)) || p.peek(i).kind == tWord {
		return false
	}
	if i++; p.peek(i).kind == tDash && p.peek(i+1).kind == tNumber && p.sameKind(tNumber, p.peek(i+1)) {
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
		default:
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
