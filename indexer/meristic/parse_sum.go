package meristic

// eachAlternative cuts the item at "or" and at the commas of a list, and hands over
// the parts lo..hi of each sum together with the index of a stated total, or -1.
func (p *parser) eachAlternative(visit func(lo, hi, total int)) {
	it := p.it
	if it.remark() && it.near|it.post == 0 && p.lastChar == p.cur && p.lastChar != NoCharacter {
		p.putRun(p.lastChar, p.lastElem, it.lo, it.hi)
		return
	}
	for lo := it.lo; lo < it.hi; {
		hi, total := lo+1, -1
		if lo+2 < it.hi && p.terms[lo+1].sep == sepEquals && p.terms[lo+2].sep.sums() {
			total, lo, hi = lo, lo+1, lo+3 // 24 = 10+14
		}
		for hi < it.hi && p.terms[hi].sep.sums() {
			hi++
		}
		end := hi
		if total < 0 && hi < it.hi && p.terms[hi].sep == sepEquals {
			total = hi
			for end = hi + 1; end < it.hi && p.terms[end].sep == sepOr; end++ {
			}
		}
		p.looseList(end)
		visit(lo, hi, total)
		if total >= hi {
			for i := total + 1; i < end; i++ {
				visit(i, i, i) // further totals: "= 32 or 33"
			}
		}
		lo = end
	}
}

// looseFar is how far apart two values of a list without "or" may lie before the
// comma is doubted.
const looseFar = 3

// looseList warns of a comma between counts that hardly make a list: 48,5.
func (p *parser) looseList(next int) {
	if next >= p.it.hi {
		return
	}
	t, prev := &p.terms[next], &p.terms[next-1]
	if t.sep == sepComma && !t.annotated() && !prev.annotated() && t.iv.Distance(prev.iv) > looseFar {
		p.warn(t.pos, "two counts for one character, or a comma for another sign")
	}
}

// sums reports a separator between parts of one sum or series.
func (s separator) sums() bool {
	switch s {
	case sepPlus, sepSlash, sepDash, sepColon, sepBar, sepDot:
		return true
	default:
		return false
	}
}

// descends faults a downward range where a dash can only mean a range.
func (p *parser) descends(lo, hi int) bool {
	for i := lo + 1; i < hi; i++ {
		if p.terms[i].sep == sepDash {
			return p.backwards(i)
		}
	}
	return false
}

// rakers reads gill rakers: upper+lower, upper+angle+lower, or one limb in words.
// Sources: Kimura (angle in the lower limb), notation 3 and 20.
func (p *parser) rakers(c Character, f feature) {
	two, three := false, false
	p.eachAlternative(func(lo, hi, _ int) {
		two, three = two || hi-lo == 2, three || hi-lo == 3
	})
	p.eachAlternative(func(lo, hi, total int) {
		if p.descends(lo, hi) {
			return
		}
		p.whole(c, lo, hi, func() {
			switch hi - lo {
			case 1:
				p.putRun(c, rakerElement(f), lo, hi)
			case 2:
				p.putRun(c, Upper, lo, lo)
				if two && three {
					none := term{pos: p.terms[lo].pos, kind: tNumber}
					p.put(c, Middle, &none)
				}
				p.putRun(c, Lower, lo+1, hi)
			case 3:
				p.putRun(c, Upper, lo, lo)
				p.putRun(c, Middle, lo+1, lo+1)
				p.putRun(c, Lower, lo+2, hi)
			default:
				p.fault(p.terms[lo].pos, "upper+lower or upper+angle+lower", "%d limbs of a gill arch", hi-lo)
			}
		})
		p.putTotal(c, total)
	})
}

func rakerElement(f feature) Element {
	switch {
	case f&fAngle != 0:
		return Middle
	case f&fHypo != 0:
		return Hypobranchial
	case f&fCerato != 0:
		return Ceratobranchial
	case f&fEpi != 0:
		return Epibranchial
	case f&fTotal != 0:
		return Total
	case f&fUpper != 0 && f&fLower == 0:
		return Upper
	case f&fLower != 0 && f&fUpper == 0:
		return Lower
	default:
		return Whole
	}
}

func (p *parser) putTotal(c Character, total int) {
	if total >= 0 {
		p.putRun(c, Total, total, total)
	}
}

// vertebrae reads abdominal+caudal, a region in words, or the total. Source: Kimura
// (urostyle included).
func (p *parser) vertebrae(c Character, f feature) {
	p.eachAlternative(func(lo, hi, total int) {
		if p.descends(lo, hi) {
			return
		}
		p.whole(c, lo, hi, func() {
			switch hi - lo {
			case 1:
				p.putRun(c, vertebraElement(f), lo, hi)
			case 2:
				p.putRun(c, Abdominal, lo, lo)
				p.putRun(c, CaudalRegion, lo+1, hi)
			default:
				p.fault(p.terms[lo].pos, "abdominal+caudal", "%d regions of the vertebral column", hi-lo)
			}
		})
		p.putTotal(c, total)
	})
}

func vertebraElement(f feature) Element {
	switch {
	case f&fTotal != 0:
		return Total
	case f&fAbdominal != 0:
		return Abdominal
	case f&fCaudal != 0:
		return CaudalRegion
	default:
		return Total
	}
}

// line reads scales along the body: one count, or the line and the scales on the
// caudal base (45-48 + 3), or the two parts of an interrupted line (17+7).
func (p *parser) line(c Character, f feature) {
	if p.isTransverse(p.it) {
		p.transverse(TransverseScales, f)
		return
	}
	p.eachAlternative(func(lo, hi, total int) {
		if p.descends(lo, hi) {
			return
		}
		switch {
		case hi-lo == 0:
		case hi-lo == 1:
			p.putRun(c, sideElement(f, Whole), lo, hi)
		case hi-lo == 2 && p.terms[lo+1].sep == sepSlash:
			p.putRun(c, Left, lo, lo)
			p.putRun(c, Right, lo+1, hi)
		case hi-lo == 2:
			p.twoParts(c, lo)
		default:
			p.fault(p.terms[lo].pos, "the line's count, or line + caudal base", "%d parts of a lateral line", hi-lo)
		}
		p.putTotal(c, total)
	})
}

// caudalBaseMost is the largest count taken for scales on the caudal base; an
// interrupted line's second part is longer in most fishes. Common practice, no source.
const caudalBaseMost = 4

func (p *parser) twoParts(c Character, lo int) {
	first, second := &p.terms[lo], &p.terms[lo+1]
	usual, other := ReadPlusCaudalBase, ReadPlusInterrupted
	text := "the plus may join two parts of an interrupted line"
	if second.iv.Max > caudalBaseMost {
		usual, other, text = other, usual, "the scales after the plus may lie on the caudal base"
	}
	if p.choose(second.pos, usual, other, text) == ReadPlusCaudalBase {
		p.put(c, Whole, first)
		p.put(c, OnCaudalBase, second)
		return
	}
	all := *first
	all.iv = all.iv.shift(second.iv)
	all.auxHi = all.auxLo
	p.put(c, Whole, &all)
	p.put(c, FirstPart, first)
	p.put(c, SecondPart, second)
}

// transverse reads above/line/below. Sources: Hubbs, notation 16.
func (p *parser) transverse(c Character, f feature) {
	p.eachAlternative(func(lo, hi, total int) {
		if hi-lo > 1 {
			c = TransverseScales
		}
		p.putTotal(c, total)
		switch hi - lo {
		case 0:
		case 1:
			p.oneTransverse(c, f, lo)
		case 2:
			p.putRun(c, Above, lo, lo)
			p.putRun(c, Below, lo+1, hi)
		case 3:
			p.putRun(c, Above, lo, lo)
			p.putRun(c, AtLine, lo+1, lo+1)
			p.putRun(c, Below, lo+2, hi)
		default:
			p.fault(p.terms[lo].pos, "above/line/below", "%d parts of a transverse count", hi-lo)
		}
	})
}

func (p *parser) oneTransverse(c Character, f feature, lo int) {
	t := &p.terms[lo]
	switch {
	case f&fAbove != 0 && f&fBelow == 0, f&fAngle != 0 && f&fDorsal != 0:
		p.put(c, Above, t)
	case f&fBelow != 0, f&fAngle != 0 && f&(fAnal|fPelvic|fVentral) != 0:
		p.put(c, Below, t)
	case c == TransverseScales && t.has(termDashed) && t.iv.Max-t.iv.Min >= 3 &&
		p.choose(t.pos, ReadHyphenRange, ReadHyphenTransverse, "the hyphen may separate scales above and below the line") == ReadHyphenTransverse:
		above, below := *t, *t
		above.iv, below.iv = At(t.iv.Min), At(t.iv.Max)
		p.put(c, Above, &above)
		p.put(c, Below, &below)
	case f&fLine != 0 && f&(fLateral|fScale) == 0:
		p.put(c, AtLine, t)
	default:
		p.put(c, Whole, t)
	}
}
