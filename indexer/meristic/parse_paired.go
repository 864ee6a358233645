package meristic

// teeth reads pharyngeal teeth: 5-4 is left and right, 2,4-4,2 has minor rows.
// Source: A3 of the notation.
func (p *parser) teeth(c Character, f feature) {
	p.takeTotal(c)
	lo, hi := p.it.lo, p.it.hi
	if hi-lo == 1 && (p.it.near|p.it.post)&fRow != 0 {
		return // "in three rows"
	}
	major := -1 // the term before which the dash between the sides stands, or the range that holds it
	for i := lo; i < hi; i++ {
		t := &p.terms[i]
		if t.has(termDashed) || i > lo && (t.sep == sepDash || t.sep == sepSlash) {
			major = i
			break
		}
	}
	if major < 0 {
		p.list(c, f, Whole)
		return
	}
	t := &p.terms[major]
	p.assume(t.pos, "left and right pharyngeal teeth, not a range")
	left, right := *t, *t
	leftFrom, rightFrom := major, major+1
	if t.has(termDashed) {
		left.iv, right.iv = At(t.iv.Min), At(t.iv.Max)
	} else {
		left = p.terms[major-1]
		leftFrom = major - 1
	}
	if leftFrom > lo {
		p.putRun(c, LeftMinor, lo, leftFrom)
	}
	p.put(c, Left, &left)
	p.put(c, Right, &right)
	if rightFrom < hi {
		p.putRun(c, RightMinor, rightFrom, hi)
	}
}

// bodyRows reads the dorsal scale rows of snakes: neck-midbody-vent. Source: notation
// 21.
func (p *parser) bodyRows(c Character, f feature) {
	p.eachAlternative(func(lo, hi, total int) {
		p.putTotal(c, total)
		switch hi - lo {
		case 0:
		case 1:
			p.putRun(c, bodyElement(f), lo, hi)
		case 2:
			p.assume(p.terms[lo].pos, "rows at midbody and before the vent")
			p.putRun(c, Midbody, lo, lo)
			p.putRun(c, BeforeVent, lo+1, hi)
		case 3:
			p.putRun(c, Neck, lo, lo)
			p.putRun(c, Midbody, lo+1, lo+1)
			p.putRun(c, BeforeVent, lo+2, hi)
		default:
			p.fault(p.terms[lo].pos, "neck-midbody-vent", "%d positions of scale rows", hi-lo)
		}
	})
}

func bodyElement(f feature) Element {
	switch {
	case f&fMid != 0:
		return Midbody
	case f&fPosterior != 0:
		return BeforeVent
	case f&(fNeck|fAnterior) != 0:
		return Neck
	default:
		return Whole
	}
}

// labial reads paired head shields, left/right, and temporals in two rows, 1+2.
func (p *parser) labial(c Character, f feature) {
	p.takeTotal(c)
	lo, hi := p.it.lo, p.it.hi
	if c == TemporalShields && hi-lo > 1 && p.terms[lo+1].sep == sepPlus {
		for i := lo; i < hi; i++ {
			e := FirstPart
			if i > lo && p.terms[i].sep == sepPlus {
				e = SecondPart
			}
			p.putRun(c, e, i, i)
		}
		return
	}
	p.dropEyeShields()
	p.leftRight(c, f)
}

// dropEyeShields passes over brackets that name shields by their place: 8 (4,5) are
// eight, of which the fourth and the fifth touch the eye. Common practice, no source.
func (p *parser) dropEyeShields() {
	for i := p.it.lo; i < p.it.hi; i++ {
		t := &p.terms[i]
		if t.said != 0 || t.auxHi-t.auxLo == 1 && p.aux[t.auxLo].Single() {
			continue
		}
		for _, b := range p.aux[t.auxLo:t.auxHi] {
			if b.Max > t.iv.Max {
				return
			}
		}
		if t.auxHi > t.auxLo {
			p.assume(t.pos, "the bracketed shields are those that touch the eye")
			t.auxHi = t.auxLo
		}
	}
}

func (p *parser) leftRight(c Character, f feature) {
	p.eachAlternative(func(lo, hi, total int) {
		p.putTotal(c, total)
		switch {
		case hi-lo == 0:
		case hi-lo == 2 && p.terms[lo+1].sep == sepSlash:
			p.putRun(c, Left, lo, lo)
			p.putRun(c, Right, lo+1, hi)
		case hi-lo > 2:
			p.fault(p.terms[lo].pos, "left/right", "%d values for two sides", hi-lo)
		case p.descends(lo, hi):
		default:
			p.putRun(c, sideElement(f, Whole), lo, hi)
		}
	})
}

// sideElement is the side that words name, or e.
func sideElement(f feature, e Element) Element {
	switch {
	case f&fLeft != 0 && f&fRight == 0:
		return Left
	case f&fRight != 0 && f&fLeft == 0:
		return Right
	default:
		return e
	}
}

// withoutTip leaves out the half or divided shield at the end, "143 + 1/2". Common
// practice, no source.
func (p *parser) withoutTip(lo, hi int) int {
	for i := lo + 1; i < hi; i++ {
		if p.terms[i].sep == sepPlus && p.terms[i].iv.Max <= 2 {
			p.assume(p.terms[i].pos, "the last shield is left out of the count")
			return i
		}
	}
	return hi
}

// list reads plain counts, perhaps with a left and a right side, or in two parts
// (belly scutes before and behind the pelvic fins, 18+13).
func (p *parser) list(c Character, f feature, e Element) {
	p.eachAlternative(func(lo, hi, total int) {
		if c == VentralShields || c == SubcaudalShields {
			hi = p.withoutTip(lo, hi)
		}
		switch {
		case hi-lo == 0:
		case hi-lo == 1:
			p.putRun(c, sideElement(f, e), lo, hi)
		case hi-lo == 2 && p.terms[lo+1].sep == sepSlash:
			p.putRun(c, Left, lo, lo)
			p.putRun(c, Right, lo+1, hi)
		case hi-lo == 2 && p.terms[lo+1].sep == sepPlus:
			p.putRun(c, FirstPart, lo, lo)
			p.putRun(c, SecondPart, lo+1, hi)
		case p.descends(lo, hi):
		default:
			p.fault(p.terms[lo].pos, "one count, left/right, or two parts", "%d values for %s", hi-lo, c.Phrase())
		}
		p.putTotal(c, total)
	})
}
