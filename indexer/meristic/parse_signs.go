package meristic

// afterFormula reports whether the token just passed touches a formula: only then is
// a separator without a second element a fault, and not punctuation of a sentence.
func (p *parser) afterFormula(t *token) bool {
	n := len(p.items)
	return n > 0 && len(p.terms) > 0 && p.terms[p.items[n-1].hi-1].end <= t.pos && p.onlyBlank(p.terms[p.items[n-1].hi-1].end, t.pos)
}

func (p *parser) onlyBlank(from, to int32) bool {
	for i := from; i < to; i++ {
		if p.src[i] != ' ' {
			return false
		}
	}
	return true
}

// ends reports whether nothing of the clause follows.
func (p *parser) ends() bool {
	k := p.tok().kind
	return k == tEnd || k == tSemicolon || k == tClose || k == tDot && p.peek(1).kind == tEnd
}

func (p *parser) dangling(t *token, want string) {
	if !p.afterFormula(t) {
		return
	}
	it := &p.items[len(p.items)-1]
	last := &p.terms[it.hi-1]
	bare := last.kind != tNumber && it.post == 0 // spines or unbranched rays alone
	switch t.kind {
	case tSlash, tEquals:
		if p.ends() || p.tok().kind == tComma {
			p.fault(t.pos, want, "nothing follows %q", p.text(t))
		}
	case tComma:
		if bare && p.ends() {
			p.fault(t.pos, want, "nothing follows the comma")
		}
	default:
	}
}

// headless faults a plus or a stroke right behind a label: D +11.
func (p *parser) headless(t *token) {
	if p.pre.label != NoCharacter && p.pre.near == 0 && p.startsFormula(0) {
		p.fault(t.pos, "a count before the sign", "nothing stands before %q", p.text(t))
	}
}

func (p *parser) danglingPlus(t *token) {
	if p.ends() || p.tok().kind == tComma {
		p.fault(t.pos, "a count after the plus sign", "nothing follows the plus sign")
	}
}

// dash judges a dash that leads no range: a hyphen between words, a lost end.
func (p *parser) dash(t *token) {
	prev, next := p.peek(-2), p.tok()
	touchesNext := !next.has(flagSpace)
	if p.afterFormula(t) {
		switch {
		case p.ends() || next.kind == tComma:
			p.fault(t.pos, "the upper end of the range", "the range has no upper end")
		case p.startsFormula(0):
			p.strayDash(t)
		}
		return
	}
	if !p.startsFormula(0) || !touchesNext || !t.has(flagSpace) && prev.kind != tComma && prev.kind != tColon && p.at > 1 {
		return
	}
	if n := len(p.items); n > 0 && p.items[n-1].clause == p.clause && p.pre.label == NoCharacter && p.items[n-1].post != 0 {
		p.pre.joint = sepEquals
		p.warn(t.pos, "hyphen read as an equals sign before a total")
		return
	}
	p.fault(t.pos, "the lower end of the range, or no sign before the count", "a range without its lower end")
}

// strayDash is a dash between two counts that make no range and no formula.
func (p *parser) strayDash(t *token) {
	p.warn(t.pos, "hyphen between unlike counts passed over")
}

func (p *parser) bad(t *token) {
	named := p.pre.label != NoCharacter || p.pre.near&(fAnyFin|fHeadNoun) != 0
	n := len(p.items)
	inFormula := n > 0 && p.items[n-1].clause == p.clause && p.peek(-2).kind != tWord
	if alone := p.opt.Character != NoCharacter && p.at == 1; !named && !inFormula && !alone {
		return
	}
	w := p.text(t)
	if isDigit(w[0]) || containsDigit(w) {
		p.fault(t.pos, "figures, or a numeral of I, V, X, L", "%q mixes letters and figures", w)
		return
	}
	p.fault(t.pos, "a numeral such as IX", "%q is no roman numeral", w)
}

func containsDigit(s string) bool {
	for i := 0; i < len(s); i++ {
		if isDigit(s[i]) {
			return true
		}
	}
	return false
}
