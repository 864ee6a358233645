package meristic

// recordParts gives each part its character: one fin, two or three dorsals, free
// spines before an anal fin.
func (p *parser) recordParts(c Character, f feature, parts []part) {
	if !p.checkParts(c, parts) {
		return
	}
	switch c.class() {
	case classDorsal:
		p.recordDorsals(c, f, parts)
	case classAnal:
		p.recordAnals(c, f, parts)
	default:
		p.recordPaired(c, f, parts)
	}
}

// checkParts faults numerals that run downward (XIV-XII) where no two fins are meant,
// and a lost hyphen's repair.
func (p *parser) checkParts(c Character, parts []part) bool {
	for i := 1; i < len(parts); i++ {
		cur, prev := parts[i], parts[i-1]
		if cur.plus != sepDash || cur.spine < 0 || prev.spine < 0 || prev.ray >= 0 {
			continue
		}
		a, b := &p.terms[prev.spine], &p.terms[cur.spine]
		if b.iv.Min > secondFinSpines && c.class() != classNone {
			p.fault(b.pos, "the smaller count first; the ends are not swapped", "the range runs downward, from %g to %g", a.iv.Max, b.iv.Min)
			return false
		}
	}
	return true
}

// secondFinSpines is the largest number of spines that a second dorsal fin, or an
// anal fin behind free spines, is believed to have when a hyphen before it could be
// that of a swapped range. From memory; VIII-V would be refused, VIII-II not.
const secondFinSpines = 3

// record puts the terms of one fin.
func (p *parser) record(c Character, f feature, one part) {
	spine := Spine
	if one.spine >= 0 && one.ray >= 0 && p.capitalUnbranched(one) {
		spine = Unbranched
	}
	if one.spine >= 0 {
		if one.ray < 0 && one.unbr < 0 && one.trail < 0 && f&fUnbranched != 0 && f&fSpine == 0 {
			spine = Unbranched
		}
		p.putRun(c, spine, one.spine, one.spineTo)
	}
	if one.unbr >= 0 {
		p.putRun(c, Unbranched, one.unbr, one.unbrTo)
	}
	if one.trail >= 0 {
		p.putRun(c, TrailingUnbranched, one.trail, one.trailTo)
	}
	if one.ray < 0 {
		return
	}
	alone := one.spine < 0 && one.unbr < 0 && one.trail < 0
	e := p.rayElement(c, f, alone)
	if e == Spine && f&fTotal != 0 {
		// Databases keep "spines" and "soft rays" apart and put unbranched rays with the
		// spines of spineless fishes. Source: published FishBase record of Alburnus.
		if p.choose(p.it.pos, ReadCapitalSpine, ReadCapitalUnbranched, "the total of spines may be unbranched rays") == ReadCapitalUnbranched {
			e = Unbranched
		}
	}
	if !alone && e == Ray && (one.unbr >= 0 || one.trail >= 0 || spine == Unbranched) {
		e = Branched
	}
	p.bothHalves(c, one)
	p.putRun(c, e, one.ray, one.rayTo)
	if f&fUltimate != 0 && e == Unbranched && f&fAnterior != 0 {
		last := term{iv: At(1), pos: p.it.pos, kind: tNumber}
		p.put(c, TrailingUnbranched, &last)
	}
}

// capitalUnbranched decides A7: capital numerals of fishes without spines.
func (p *parser) capitalUnbranched(one part) bool {
	t := &p.terms[one.spine]
	if one.unbr >= 0 || t.iv.Max == 0 {
		return false
	}
	if p.opt.SoftRayed {
		return p.choose(t.pos, ReadCapitalUnbranched, ReadCapitalSpine, "the capital numeral may count spines") == ReadCapitalUnbranched
	}
	return p.force&(1<<ReadCapitalUnbranched) != 0
}

// rayElement is what the words around a bare number make of it.
func (p *parser) rayElement(c Character, f feature, alone bool) Element {
	if kinds := p.it.post & (fRayKind | fRay); kinds != 0 && kinds != fRay {
		f = f&^(fRayKind|fRay) | kinds // "anal-fin rays with 3 weak spines": what follows is nearer
	}
	switch {
	case f&fTotal != 0 && alone && f&(fSoft|fSpine) == 0:
		return Ray
	case f&fUnbranched != 0 && f&fBranched == 0 && alone:
		if s, ok := p.res.Statement(c); ok {
			_, branched := s.Count(Branched)
			_, front := s.Count(Unbranched)
			if f&fUltimate != 0 && f&fAnterior == 0 || branched && front && p.touched(c, Branched).clause == p.it.clause {
				return TrailingUnbranched
			}
		}
		return Unbranched
	case f&fSpine != 0 && f&(fSoft|fRay|fBranched) == 0 && alone:
		if f&fFree != 0 {
			return FreeSpine
		}
		return Spine
	case f&fBranched != 0:
		return Branched
	case f&fSegmented != 0:
		return Segmented
	default:
		return Ray
	}
}

// bothHalves extends "17-20½" to both ends: the half belongs to the way of counting,
// not to one end. Source: K&F, meaning MEMORY.
func (p *parser) bothHalves(c Character, one part) {
	for i := one.ray; i < one.rayTo; i++ {
		t := &p.terms[i]
		if t.has(termDashed) && t.has(termHalfHigh) && !t.has(termHalfLow) {
			t.iv.Min += 0.5
			p.assume(t.pos, "the half holds for both ends of the range")
		}
		if t.has(termHalfHigh) && one.spine >= 0 && !p.opt.SoftRayed && c.class() != classPaired {
			p.warn(t.pos, "half rays are not counted beside spines: two conventions clash")
		}
	}
}

func (p *parser) putRun(c Character, e Element, from, to int) {
	if to <= from {
		to = from + 1
	}
	for i := from; i < to; i++ {
		p.put(c, e, &p.terms[i])
	}
}

func (p *parser) finlets(c Character) {
	p.putRun(c, Finlet, p.it.lo, p.it.hi)
}
