package meristic

// caudal reads principal caudal rays: 9+8, i,9,8,i, procurrent+principal+principal+
// procurrent 8+9+8+10, or a single count. Sources: Fahay, notation 12.
func (p *parser) caudal(c Character, f feature) {
	it := p.it
	for lo := it.lo; lo < it.hi; {
		hi := p.caudalEnd(lo)
		p.whole(c, lo, hi, func() { p.caudalAlternative(c, f, lo, hi) })
		lo = hi
	}
}

// caudalEnd finds the end of one alternative; commas inside i,9,8,i are none.
func (p *parser) caudalEnd(lo int) int {
	for i := lo + 1; i < p.it.hi; i++ {
		t, prev := &p.terms[i], &p.terms[i-1]
		switch {
		case t.sep == sepOr || t.sep == sepTo:
			return i
		case prev.annotated() && t.sep != sepPlus && t.sep != sepSlash:
			return i
		case t.sep == sepComma && prev.kind == tNumber && t.kind == tNumber && !p.lobesByComma(lo) && !p.fourByComma(lo):
			return i
		}
	}
	return p.it.hi
}

// lobesByComma recognises i,9,8,i: two figures between numerals.
func (p *parser) lobesByComma(lo int) bool {
	return p.terms[lo].kind == tLower || p.terms[lo].kind == tUpper
}

// fourByComma recognises 5-6, 9+8, 5-6: procurrent rays to both sides of the lobes.
func (p *parser) fourByComma(lo int) bool {
	if p.it.hi-lo != 4 {
		return false
	}
	t := p.terms[lo : lo+4]
	return t[0].kind == tNumber && t[3].kind == tNumber && t[1].sep == sepComma && t[3].sep == sepComma &&
		(t[2].sep == sepPlus || t[2].sep == sepSlash)
}

func (p *parser) caudalAlternative(c Character, f feature, lo, hi int) {
	total := -1
	for i := lo; i < hi; i++ {
		if p.terms[i].sep == sepEquals && i > lo {
			total, hi = i, i
		}
	}
	front, back := lo, hi
	for front < hi && p.terms[front].kind != tNumber {
		front++
	}
	for back > front && p.terms[back-1].kind != tNumber {
		back--
	}
	for i := front; i < back; i++ {
		if p.terms[i].kind != tNumber {
			p.fault(p.terms[i].pos, "unbranched rays at the margins only", "a numeral between the lobes of the caudal fin")
			return
		}
	}
	p.putTotal(c, total)
	p.caudalLobes(c, f, lobes{lo, front, back, hi})
}

// lobes are the bounds of one caudal formula: numerals, figures, numerals.
type lobes struct{ lo, front, back, hi int }

func (p *parser) caudalLobes(c Character, f feature, l lobes) {
	margins := l.front > l.lo || l.hi > l.back
	switch l.back - l.front {
	case 0:
		p.numeralsOnly(c, l)
	case 1:
		if !margins && f&fBoth != 0 && f&fBranched != 0 { // in each lobe
			p.putRun(c, UpperBranched, l.front, l.back)
			p.putRun(c, LowerBranched, l.front, l.back)
			return
		}
		if !margins {
			p.putRun(c, caudalElement(f), l.front, l.back)
			return
		}
		if p.dashedLobes(l) {
			p.splitLobes(c, l)
			return
		}
		p.margin(c, UpperProcurrent, Unbranched, l.lo, l.front, true)
		p.putRun(c, Branched, l.front, l.back)
		p.margin(c, LowerProcurrent, TrailingUnbranched, l.back, l.hi, false)
	case 2:
		if p.terms[l.front+1].sep == sepDash && !margins {
			p.descends(l.front, l.back)
			return
		}
		upper, lower := Upper, Lower
		if margins || f&fBranched != 0 {
			upper, lower = UpperBranched, LowerBranched
		}
		p.margin(c, UpperProcurrent, UpperUnbranched, l.lo, l.front, true)
		p.putRun(c, upper, l.front, l.front)
		p.putRun(c, lower, l.front+1, l.back)
		p.margin(c, LowerProcurrent, LowerUnbranched, l.back, l.hi, false)
	case 4:
		for i, e := range [...]Element{UpperProcurrent, Upper, Lower, LowerProcurrent} {
			p.putRun(c, e, l.front+i, l.front+i)
		}
	default:
		p.fault(p.terms[l.front].pos, "upper+lower, or procurrent+upper+lower+procurrent", "%d parts of a caudal fin", l.back-l.front)
	}
}

// numeralsOnly reads caudal rays in numerals alone: one count, or two lobes.
func (p *parser) numeralsOnly(c Character, l lobes) {
	switch l.hi - l.lo {
	case 1:
		p.putRun(c, Whole, l.lo, l.hi)
	case 2:
		p.putRun(c, Upper, l.lo, l.lo)
		p.putRun(c, Lower, l.lo+1, l.hi)
	default:
		p.fault(p.terms[l.lo].pos, "figures for the branched rays", "%d numerals and no figure", l.hi-l.lo)
	}
}

// dashedLobes recognises i,7-7,i and ii-7-8-ii, where the dash stands between the
// lobes (A3), and not in a range.
func (p *parser) dashedLobes(l lobes) bool {
	t := &p.terms[l.front]
	if !t.has(termDashed) || l.front == l.lo || l.back == l.hi {
		return false
	}
	return t.iv.Min == t.iv.Max || t.sep == sepDash && p.terms[l.back].sep == sepDash
}

func (p *parser) splitLobes(c Character, l lobes) {
	upper, lower := p.terms[l.front], p.terms[l.front]
	upper.iv, lower.iv = At(upper.iv.Min), At(lower.iv.Max)
	p.margin(c, UpperProcurrent, UpperUnbranched, l.lo, l.front, true)
	p.put(c, UpperBranched, &upper)
	p.put(c, LowerBranched, &lower)
	p.margin(c, LowerProcurrent, LowerUnbranched, l.back, l.hi, false)
}

// margin reads the numerals at one edge: the unbranched principal ray next to the
// figures, procurrent rays outside of it.
func (p *parser) margin(c Character, outer, inner Element, from, to int, leading bool) {
	switch to - from {
	case 0:
	case 1:
		p.putRun(c, inner, from, to)
	case 2:
		if !leading {
			outer, inner = inner, outer
		}
		p.putRun(c, outer, from, from)
		p.putRun(c, inner, from+1, to)
	default:
		p.fault(p.terms[from].pos, "unbranched and procurrent rays at each margin", "%d numerals at one margin of the caudal fin", to-from)
	}
}

func caudalElement(f feature) Element {
	up := f&(fUpper|fDorsal) != 0
	low := f&(fLower|fVentral) != 0
	switch {
	case up && !low && f&fBranched != 0:
		return UpperBranched
	case low && !up && f&fBranched != 0:
		return LowerBranched
	case up && !low && f&fUnbranched != 0:
		return UpperUnbranched
	case low && !up && f&fUnbranched != 0:
		return LowerUnbranched
	case f&fTotal != 0:
		return Total
	case up && !low:
		return Upper
	case low && !up:
		return Lower
	case f&fBranched != 0:
		return Branched
	case f&fUnbranched != 0:
		return Unbranched
	case f&fSegmented != 0:
		return Segmented
	default:
		return Whole
	}
}

// procurrent reads the procurrent rays above and below the principal ones, in
// figures or lower-case numerals. Source: notation 13.
func (p *parser) procurrent(c Character, f feature) {
	up := f&(fUpper|fDorsal) != 0
	low := f&(fLower|fVentral) != 0
	p.eachAlternative(func(lo, hi, total int) {
		if p.descends(lo, hi) {
			return
		}
		switch {
		case hi-lo == 0:
		case hi-lo == 2:
			p.putRun(c, Upper, lo, lo)
			p.putRun(c, Lower, lo+1, hi)
		case hi-lo > 2:
			p.fault(p.terms[lo].pos, "upper+lower", "%d groups of procurrent rays", hi-lo)
		case up == low && (f&fBoth != 0 || up):
			p.putRun(c, Upper, lo, hi)
			p.putRun(c, Lower, lo, hi)
		case up:
			p.putRun(c, Upper, lo, hi)
		case low:
			p.putRun(c, Lower, lo, hi)
		default:
			p.putRun(c, Whole, lo, hi)
		}
		p.putTotal(c, total)
	})
}
