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

func (p *parser) recordDorsals(c Character, f feature, parts []part) {
	parts = p.oldStyle(c, parts)
	n := len(parts)
	if n == 1 {
		one := parts[0]
		if one.spine >= 0 && one.ray >= 0 && one.unbr < 0 && (c == Dorsal1 && p.opt.Character == Dorsal1 && f&fFirst == 0 && p.it.label == NoCharacter || p.finletsFollow()) {
			p.assume(p.terms[one.spine].pos, "spines and rays belong to two dorsal fins")
			first, second := one, one
			first.ray, first.rayTo = -1, -1
			second.spine, second.spineTo = -1, -1
			p.record(Dorsal1, f, first)
			p.record(Dorsal2, f, second)
			p.cur = Dorsal2
			return
		}
		p.record(c, f, one)
		return
	}
	if fl := parts[n-1]; p.finletsFollow() && fl.spine < 0 && fl.unbr < 0 && fl.plus == sepPlus && f&fFinlet != 0 {
		p.recordDorsals(c, f&^fFinlet, parts[:n-1])
		p.putRun(p.cur, Finlet, fl.ray, fl.rayTo)
		return
	}
	if n == 2 && parts[0].spine >= 0 && parts[0].ray >= 0 && p.looksLikeFinlets(parts[1], parts[0]) {
		first, second := parts[0], parts[0]
		first.ray, first.rayTo = -1, -1
		second.spine, second.spineTo = -1, -1
		p.record(Dorsal1, f, first)
		p.record(Dorsal2, f, second)
		p.cur = Dorsal2
		p.putRun(Dorsal2, Finlet, parts[1].ray, parts[1].rayTo)
		return
	}
	if n > 3 {
		p.fault(p.terms[p.it.lo].pos, "at most three dorsal fins", "%d fins in one formula", n)
		return
	}
	chars := [...]Character{Dorsal1, Dorsal2, Dorsal3}
	for i, one := range parts {
		if one.plus == sepBlank && one.spine >= 0 {
			p.assume(p.terms[one.spine].pos, "a second dorsal fin begins here")
		}
		p.record(chars[i], f, one)
		p.cur = chars[i]
	}
}

// oldStyle mends parts in figures only. 7 | 1/9 has seven spines in the first fin (19th
// century); 3 + 8½ of a spineless fish is one fin of unbranched and branched rays.
func (p *parser) oldStyle(c Character, parts []part) []part {
	if len(parts) != 2 {
		return parts
	}
	a, b := &parts[0], &parts[1]
	if a.ray < 0 || a.spine >= 0 || a.unbr >= 0 || b.ray < 0 || b.unbr >= 0 {
		return parts
	}
	first, second := &p.terms[a.ray], &p.terms[b.ray]
	switch {
	case b.spine >= 0 && p.terms[b.spine].kind == tNumber && c.class() == classDorsal:
		p.assume(first.pos, "the first fin's count is read as spines")
		a.spine, a.spineTo, a.ray, a.rayTo = a.ray, a.rayTo, -1, -1
	case b.spine < 0 && b.plus == sepPlus && first.iv.Max <= unbranchedMost && (second.has(termHalfHigh) || p.opt.SoftRayed):
		p.assume(first.pos, "unbranched and branched rays of one fin")
		one := *b
		one.unbr, one.unbrTo = a.ray, a.rayTo
		return []part{one}
	}
	return parts
}

// unbranchedMost is the largest number of unbranched rays in front of a dorsal or anal
// fin that a bare figure may be taken for. From memory.
const unbranchedMost = 7

// finletsFollow reports finlets in this item or right behind it: the rays before them
// are then those of a second dorsal fin. Source: notation 22.
func (p *parser) finletsFollow() bool {
	if (p.it.near|p.it.post)&fFinlet != 0 {
		return true
	}
	if next := p.itemIndex + 1; next < len(p.items) {
		it := &p.items[next]
		return it.label == NoCharacter && (it.near|it.post)&fFinlet != 0 && (it.near|it.post)&fAnyFin == 0 && it.clause == p.it.clause
	}
	return false
}

func (p *parser) recordAnals(c Character, f feature, parts []part) {
	parts = p.oldStyle(c, parts)
	n := len(parts)
	if fl := parts[n-1]; n > 1 && f&fFinlet != 0 && fl.spine < 0 && fl.unbr < 0 {
		p.recordAnals(c, f&^fFinlet, parts[:n-1])
		p.putRun(c, Finlet, fl.ray, fl.rayTo)
		return
	}
	if n == 2 && parts[0].spine >= 0 && parts[0].ray < 0 && parts[0].unbr < 0 && parts[1].spine >= 0 {
		p.freeSpines(c, f, parts[0], parts[1])
		return
	}
	switch {
	case n == 1:
		p.record(c, f, parts[0])
	case n == 2 && p.looksLikeFinlets(parts[1], parts[0]):
		p.record(c, f, parts[0])
		p.putRun(c, Finlet, parts[1].ray, parts[1].rayTo)
	case n == 2:
		p.record(Anal1, f, parts[0])
		p.record(Anal2, f, parts[1])
	default:
		p.fault(p.terms[p.it.lo].pos, "at most two anal fins", "%d fins in one formula", n)
	}
}

// finletsMost is the largest number of finlets behind one fin. From memory.
const finletsMost = 12

// looksLikeFinlets recognises a short plain count behind a plus and a longer fin:
// "XV-XVIII, 15-22 + 7-10" though the word is missing.
func (p *parser) looksLikeFinlets(last, before part) bool {
	if last.plus != sepPlus || last.spine >= 0 || last.unbr >= 0 || last.ray < 0 || before.ray < 0 {
		return false
	}
	a, b := p.terms[before.ray].iv, p.terms[last.ray].iv
	if b.Max > finletsMost || b.Max >= a.Min || b.Bound != Exact {
		return false
	}
	p.assume(p.terms[last.ray].pos, "the short count behind the plus is read as finlets")
	return true
}

// freeSpines reads II+I,18-20: three spines, of which two stand detached. Source:
// notation 17.
func (p *parser) freeSpines(c Character, f feature, free, fin part) {
	all := p.terms[fin.spine]
	loose := &p.terms[free.spine]
	all.iv = all.iv.shift(loose.iv)
	p.put(c, Spine, &all)
	p.put(c, FreeSpine, loose)
	fin.spine, fin.spineTo = -1, -1
	p.record(c, f, fin)
}

func (p *parser) recordPaired(c Character, f feature, parts []part) {
	switch {
	case len(parts) == 1:
		if one := parts[0]; one.ray >= 0 && one.spine < 0 && one.unbr < 0 && sideElement(f, Ray) != Ray {
			p.putRun(c, sideElement(f, Ray), one.ray, one.rayTo)
			return
		}
		p.record(c, f, parts[0])
	case len(parts) == 2 && parts[1].plus == sepSlash && parts[0].spine < 0 && parts[1].spine < 0 && parts[0].unbr < 0:
		p.putRun(c, Left, parts[0].ray, parts[0].rayTo)
		p.putRun(c, Right, parts[1].ray, parts[1].rayTo)
	case len(parts) == 2 && c == Pelvic && parts[0].spine >= 0 && parts[0].ray >= 0 && parts[1].spine >= 0 && parts[1].ray < 0:
		p.twoSpines(c, f, parts[0], parts[1])
	default:
		p.fault(p.terms[p.it.lo].pos, "one fin, or left/right", "%d parts in the formula of a paired fin", len(parts))
	}
}

// twoSpines reads I+3+I, the pelvic fin of rabbitfishes with a spine at each edge.
// Common practice, no source.
func (p *parser) twoSpines(c Character, f feature, fin, inner part) {
	all := p.terms[fin.spine]
	all.iv = all.iv.shift(p.terms[inner.spine].iv)
	p.assume(all.pos, "a spine at each edge of the fin")
	p.put(c, Spine, &all)
	fin.spine, fin.spineTo = -1, -1
	p.record(c, f, fin)
}

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
	if one.unbr >= 0 {
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

// combine keeps a whole formula as one of several alternatives.
func (p *parser) combine(c Character, lo, hi int) {
	if hi-lo < 2 || lo == p.it.lo && hi == p.it.hi {
		return
	}
	if s, ok := p.res.Statement(c); ok {
		s.Combined = append(s.Combined, p.combination(lo, hi))
	}
}

func (p *parser) combination(lo, hi int) Combination {
	first, last := &p.terms[lo], &p.terms[hi-1]
	return Combination{Text: p.src[first.pos:p.bareEnd(last)], Specimens: p.specimens(last), Holotype: last.has(termStar)}
}

// whole reads a sum lo..hi through put. A frequency behind a sum is that of the whole
// sum, not of its last part.
func (p *parser) whole(c Character, lo, hi int, put func()) {
	if hi == lo {
		return
	}
	last := &p.terms[hi-1]
	if hi-lo < 2 || !last.annotated() || p.specimens(last) == 0 && !last.has(termStar) {
		put()
		p.combine(c, lo, hi)
		return
	}
	comb := p.combination(lo, hi)
	last.auxHi, last.freq = last.auxLo, 0
	last.flags &^= termStar
	put()
	if s, ok := p.res.Statement(c); ok {
		s.Combined = append(s.Combined, comb)
	}
}

// bareEnd is where a term ends without its brackets and marks.
func (p *parser) bareEnd(t *term) int32 {
	for i := t.pos; i < t.end; i++ {
		switch p.src[i] {
		case '(', '*', '[', ' ':
			if i > t.pos {
				return i
			}
		}
	}
	return t.end
}

// specimens is the frequency hung on a term.
func (p *parser) specimens(t *term) int {
	if t.freq > 0 {
		return int(t.freq)
	}
	if t.singleBracket() && p.bracketsAs == ReadBracketFrequency {
		return int(p.aux[t.auxLo].Min)
	}
	return 0
}
