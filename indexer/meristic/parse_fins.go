package meristic

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
