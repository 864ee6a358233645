package meristic

// modifier is what words say about the standing of a count.
type modifier uint8

const (
	modUsual modifier = 1 << iota
	modRare
	modOverall // "range 3-4"
	modHolotype
	modOther   // a specimen that differs
	modSpecial = modUsual | modRare | modOverall | modHolotype | modOther
)

// pre is what the words before a count have said so far.
type pre struct {
	near, far feature // since the last comma; before it, in the same clause
	label     Character
	labelElem Element
	labelPos  int32
	mods      modifier
	bound     Bound
	joint     separator // what joins it to the count before
	foreign   bool      // after a noun that is none of ours
}

// item is one formula with the words that belong to it.
type item struct {
	lo, hi    int // terms
	near, far feature
	post      feature
	label     Character
	labelElem Element
	labelPos  int32
	mods      modifier
	joint     separator
	inner     int // the item in whose bracket it stands, or -1
	clause    int
	pos       int32
	sample    int32
	header    feature // what a heading with a colon says for the whole clause
	foreign   bool    // counts something that is none of ours
	inTurn    bool    // "12 and 11 respectively"
	forced    bool    // elem is named outright
	elem      Element
}

// frame is one open bracket that holds more than counts.
type frame struct {
	inner int // what inner was outside
	pos   int32
	pre   pre
	at    int // its token
	items int // items before it
}

// scan cuts the tokens into items: formulae, and the words before and after each.
func (p *parser) scan() {
	p.inner = -1
	for {
		t := p.tok()
		switch {
		case p.isLabel(0) && (len(p.stack) == 0 || p.startsFormula(1) || p.peek(1).kind == tColon):
			p.takeLabel()
		case p.startsFormula(0) && !p.notCounting():
			p.value(p.inner)
		case t.kind == tOpen:
			p.open(t)
		case t.kind == tClose:
			p.close(t)
		case t.kind == tEnd:
			p.emptyLabel()
			for _, f := range p.stack {
				p.fault(f.pos, "a closing bracket", "the bracket is never closed")
			}
			return
		default:
			p.skip(t)
		}
	}
}

// open enters a bracket. Behind a count it says more of that count; elsewhere it is
// as if it weren't there.
func (p *parser) open(t *token) {
	p.stack = append(p.stack, frame{p.inner, t.pos, p.pre, p.at, len(p.items)})
	if n := len(p.items); n > 0 && p.pre.near|p.pre.far == 0 && p.pre.label == NoCharacter && p.items[n-1].clause == p.clause {
		p.inner = n - 1
	}
	p.at++
}

// sides are the words that a bracket of their own may add to a count: "7 (left)".
const sides = fLeft | fRight | fUpper | fLower | fTotal | fRayKind

// close leaves a bracket and goes on as before it.
func (p *parser) close(t *token) {
	p.at++
	n := len(p.stack)
	if n == 0 {
		p.fault(t.pos, "an opening bracket before it", "the bracket was never opened")
		return
	}
	f, inside, of := p.stack[n-1], p.pre, p.inner
	p.stack, p.pre, p.inner = p.stack[:n-1], f.pre, f.inner
	empty := len(p.items) == f.items
	if !empty {
		p.pre.label = NoCharacter // the bracket held its count
	}
	switch {
	case of >= 0:
		if empty && p.at-f.at <= 4 {
			p.items[of].post |= inside.near & sides
		}
		p.post(&p.items[of])
	case inside.label != NoCharacter && p.pre.label == NoCharacter: // transverse scale count (TRB) 7.5
		p.pre.label, p.pre.labelElem, p.pre.labelPos = inside.label, inside.labelElem, t.end
	}
}

// skip passes over a token that starts neither a label, a count nor a bracket.
func (p *parser) skip(t *token) {
	p.at++
	switch t.kind {
	case tComma:
		p.pre.far |= p.pre.near
		p.pre.near = 0
		p.dangling(t, "a count after the comma")
	case tSemicolon:
		p.endClause()
	case tDot:
		if next := p.tok(); next.has(flagSpace) && p.peek(-2).end-p.peek(-2).pos > 4 {
			p.endClause()
		}
	case tColon:
		if p.pre.near&fAnyFin == 0 {
			p.header, p.headerClause = p.pre.near&(fRayKind|fRay), p.clause
		}
	case tPlus:
		p.pre.joint = sepPlus
		if !p.startsFormula(0) {
			p.danglingPlus(t)
		}
		p.headless(t)
	case tEquals:
		p.pre.joint = sepEquals
		p.dangling(t, "a total after the equals sign")
	case tSlash:
		p.dangling(t, "a count after the stroke")
		p.headless(t)
	case tDash:
		p.dash(t)
	case tQuery:
		p.unknown(t)
	case tBad:
		p.bad(t)
	case tWord:
		p.word(t)
	case tLabel: // inside a bracket, without a count: (TRB)
		p.pre.label, p.pre.labelElem, p.pre.labelPos = t.lab.char, t.lab.elem, t.pos
	case tUpper:
		if t.lab.char != NoCharacter && p.peek(1).kind != tWord {
			p.pre.label, p.pre.labelPos = t.lab.char, t.pos
		}
	default:
	}
}

// takeLabel reads an abbreviation and the sign that may follow it.
func (p *parser) takeLabel() {
	p.emptyLabel()
	t := p.tok()
	joint := p.pre.joint
	p.pre = pre{label: t.lab.char, labelElem: t.lab.elem, labelPos: t.pos, joint: joint}
	p.labeled = true
	p.at++
	if t.has(flagFixed) {
		p.warn(t.pos, "%q read as the label %s", p.text(t), t.lab.char)
	}
	for {
		switch k := p.tok(); k.kind {
		case tDot, tColon, tEquals:
			p.at++
			continue
		case tComma:
			if p.startsFormula(1) {
				p.warn(k.pos, "comma after the label passed over")
				p.at++
				continue
			}
		case tDash: // D-IX,10
			if next := p.peek(1); !k.has(flagSpace) || next.has(flagSpace) {
				p.at++
				continue
			}
		default:
		}
		return
	}
}

// emptyLabel reports a label that got no count.
func (p *parser) emptyLabel() {
	if p.pre.label != NoCharacter && p.pre.labelPos >= 0 && len(p.items) > 0 {
		p.warn(p.pre.labelPos, "no count after %s", p.pre.label)
	}
	p.pre.label = NoCharacter
}

func (p *parser) unknown(t *token) {
	if p.pre.label == NoCharacter {
		return
	}
	p.items = append(p.items, item{lo: len(p.terms), hi: len(p.terms), label: p.pre.label, labelPos: p.pre.labelPos, inner: -1, clause: p.clause, pos: t.pos})
	for p.tok().kind == tDash || p.tok().kind == tQuery {
		p.at++
	}
	p.pre = pre{}
}

func (p *parser) endClause() {
	p.emptyLabel()
	p.clause++
	p.pre = pre{}
}
