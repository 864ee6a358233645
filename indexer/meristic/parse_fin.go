package meristic

// rank orders the parts of one fin: spines, unbranched rays, branched rays, trailing
// unbranched rays. A term that doesn't come later begins another alternative, or
// another fin.
type rank uint8

const (
	rankNone rank = iota
	rankSpine
	rankUnbranched
	rankRay
	rankTrailing
)

// part is one fin of one alternative: indices of terms, -1 where absent.
type part struct {
	spine, spineTo int // a run of alternatives joined by "or": XI or XIII
	unbr, unbrTo   int
	ray, rayTo     int
	trail, trailTo int
	plus           separator // what stood before it
}

var emptyPart = part{-1, -1, -1, -1, -1, -1, -1, -1, sepNone}

// fin reads one item as the formula of a dorsal, anal, pectoral or pelvic fin.
func (p *parser) fin(c Character, f feature) {
	it := p.it
	if f&fFinlet != 0 && p.plainList(it) {
		p.finlets(c)
		return
	}
	if it.remark() && p.lastChar == c {
		p.retype(c, f)
	}
	if it.remark() && p.lastChar == c && (f&fRayKind == 0 || p.lastElem == p.rayElement(c, f, true)) {
		p.putRun(c, p.lastElem, it.lo, it.hi)
		return
	}
	if f&fProcurrent != 0 {
		p.putRun(c, Procurrent, it.lo, it.hi)
		return
	}
	if f&(fRayKind|fRay) == 0 {
		f |= it.header
	}
	p.takeTotal(c) // v + 12 = 17
	lo := it.lo
	for lo < it.hi {
		hi := p.alternativeEnd(c, lo)
		p.finAlternative(c, f, lo, hi)
		p.combine(c, lo, hi)
		lo = hi
	}
}

// alternativeEnd finds where one of several complete formulae ends: after "or", or
// where a bracketed frequency is followed by a term of the same or a lower rank.
func (p *parser) alternativeEnd(c Character, lo int) int {
	r := rankOf(&p.terms[lo], rankNone)
	for i := lo + 1; i < p.it.hi; i++ {
		t, prev := &p.terms[i], &p.terms[i-1]
		next := rankOf(t, r)
		switch {
		case (t.sep == sepOr || t.sep == sepTo) && next <= r && r >= rankRay && t.kind != tNumber:
			return i
		case (t.sep == sepOr || t.sep == sepTo) && next == r:
			continue // XI or XIII, 8 or 9: one place, several values
		case t.sep == sepOr:
			return i
		case prev.annotated() && t.kind == tLower && r == rankRay && i+1 < p.it.hi && p.terms[i+1].kind == tNumber && p.terms[i+1].sep != sepOr:
			return i // i,7(10), i,8(1)
		case prev.annotated() && next <= r && t.sep != sepPlus && t.sep != sepSlash:
			if next == r && r == rankRay || c.class() == classDorsal && next == rankSpine && r == rankSpine {
				r = next
				continue
			}
			return i
		}
		r = next
	}
	return p.it.hi
}

func rankOf(t *term, before rank) rank {
	switch t.kind {
	case tUpper:
		return rankSpine
	case tLower:
		if before == rankRay || before == rankTrailing {
			return rankTrailing
		}
		return rankUnbranched
	default:
		return rankRay
	}
}

// finReader collects the fins of one alternative, term by term.
type finReader struct {
	p     *parser
	c     Character
	cur   part
	parts []part
	hi    int
}

// finAlternative divides the terms lo..hi into fins and records each.
func (p *parser) finAlternative(c Character, f feature, lo, hi int) {
	if p.parts == nil {
		p.parts = make([]part, 0, 2)
	}
	r := finReader{p: p, c: c, cur: emptyPart, parts: p.parts[:0], hi: hi}
	for i := lo; i < hi; i++ {
		ok := true
		switch p.kindOf(c, &p.terms[i], i, hi, r.cur) {
		case tUpper:
			r.numeral(i)
		case tLower:
			ok = r.lower(i)
		default:
			ok = r.figure(i)
		}
		if !ok {
			return
		}
	}
	p.parts = append(r.parts, r.cur)
	p.recordParts(c, f, p.parts)
}

// begin closes one fin and opens the next.
func (r *finReader) begin(sep separator) {
	r.parts = append(r.parts, r.cur)
	r.cur = emptyPart
	r.cur.plus = sep
}

// numeral takes a capital numeral: spines, which open another fin if this one has any
// part already.
func (r *finReader) numeral(i int) {
	t, cur := &r.p.terms[i], &r.cur
	switch {
	case cur.spine >= 0 && cur.ray < 0 && cur.unbr < 0 && (t.sep == sepOr || t.sep == sepTo):
	case cur.ray >= 0 && cur.unbr >= 0 && i == r.hi-1 && t.iv.Max <= 4:
		r.p.warn(t.pos, "capital numeral after the branched rays read as lower case")
		setRun(&cur.trail, &cur.trailTo, i)
		return
	case cur.unbr >= 0 && cur.spine < 0 && cur.ray < 0 && t.sep == sepPlus && i+1 < r.hi && r.p.terms[i+1].kind == tNumber:
		// iii + II + 7: unsegmented and segmented unbranched rays. Common practice in
		// catfishes, no source.
		r.p.assume(t.pos, "both numerals count unbranched rays")
		before := &r.p.terms[i-1]
		before.iv = before.iv.shift(t.iv)
		return
	case cur.spine >= 0 || cur.ray >= 0 || cur.unbr >= 0:
		r.begin(t.sep)
	}
	setRun(&r.cur.spine, &r.cur.spineTo, i)
}

// lower takes a lower-case numeral: unbranched rays before or behind the branched.
func (r *finReader) lower(i int) bool {
	t, cur := &r.p.terms[i], &r.cur
	value := t.sep == sepOr || t.sep == sepTo || i > 0 && (t.sep == sepComma || t.sep == sepBlank) && r.p.terms[i-1].annotated()
	switch {
	case !value && (cur.trail >= 0 || cur.unbr >= 0 && cur.ray < 0):
		r.p.fault(t.pos, "unbranched, branched and trailing unbranched rays, in this order", "one part too many in the formula of a fin")
		return false
	case cur.ray >= 0:
		setRun(&cur.trail, &cur.trailTo, i)
	default:
		setRun(&cur.unbr, &cur.unbrTo, i)
	}
	return true
}

// figure takes an arabic count: rays, one more value of them, or those of the next
// fin; in 10/11 the figures before the stroke turn out to be spines.
func (r *finReader) figure(i int) bool {
	t, cur := &r.p.terms[i], &r.cur
	if cur.ray >= 0 && !r.p.anotherValue(r.c, i, r.hi) {
		alone := cur.spine < 0 && cur.unbr < 0 && cur.ray == i-1
		stroke := t.sep == sepSlash || t.sep == sepBar && r.c.class() == classPaired
		first := r.p.terms[i-1].iv
		switch {
		case alone && first == At(0) && (t.sep == sepComma || t.sep == sepPlus), // 0,11: no spines
			alone && stroke && (r.c.class() != classPaired || first.Max <= pairedSpines):
			cur.spine, cur.spineTo = i-1, i
			cur.ray, cur.rayTo = -1, -1
		case t.sep == sepDash && r.p.backwards(i):
			return false
		default:
			r.begin(t.sep)
		}
	}
	setRun(&r.cur.ray, &r.cur.rayTo, i)
	return true
}

// pairedSpines is the largest number of spines of a paired fin, so that V. 1/5 is spine
// and rays, P. 17/16 left and right. From memory.
const pairedSpines = 2

// takeTotal puts what stands behind an equals sign and takes it off the item.
func (p *parser) takeTotal(c Character) {
	for i := p.it.lo + 1; i < p.it.hi; i++ {
		if p.terms[i].sep == sepEquals {
			p.putRun(c, Total, i, p.it.hi)
			p.it.hi = i
		}
	}
}

// retype gives rays of a kind not stated the kind that a remark on them states:
// "8-9½, usually 8½ branched rays".
func (p *parser) retype(c Character, f feature) {
	e := p.rayElement(c, f, true)
	if p.lastElem != Ray || e != Branched && e != Segmented {
		return
	}
	for i := range p.res.Statements {
		s := &p.res.Statements[i]
		if _, has := s.Count(e); s.Character != c || has {
			continue
		}
		for j := range s.Counts {
			if s.Counts[j].Element == Ray {
				s.Counts[j].Element, p.lastElem = e, e
				p.touched(c, e).item = p.touched(c, Ray).item
			}
		}
	}
}

// plainList reports an item of figures only, one or several joined by "or" or commas.
func (p *parser) plainList(it *item) bool {
	for i := it.lo; i < it.hi; i++ {
		t := &p.terms[i]
		if t.kind != tNumber || i > it.lo && t.sep.sums() {
			return false
		}
	}
	return true
}

// remark reports a bare count that says something more of the count before it: a mode,
// a rare value, the holotype's.
func (it *item) remark() bool {
	return it.hi-it.lo == 1 && it.label == NoCharacter && (it.mods != 0) && (it.near|it.post)&(fAnyFin|fSpine) == 0
}

func setRun(from, to *int, i int) {
	if *from < 0 {
		*from = i
	}
	*to = i + 1
}

// kindOf is the kind of a term, after mending strokes read as figures: "111 + 9".
func (p *parser) kindOf(c Character, t *term, i, hi int, cur part) tokenKind {
	if t.kind != tNumber || !t.has(termOnes) || i+1 >= hi || cur.spine >= 0 || cur.ray >= 0 || cur.unbr >= 0 {
		return t.kind
	}
	next := &p.terms[i+1]
	if next.kind != tNumber || next.sep != sepPlus && next.sep != sepComma || next.iv.Min > t.iv.Max && t.iv.Max != 1 {
		return t.kind
	}
	n := float64(len(p.src[t.pos:t.end]))
	if c.class() == classPaired && n > 1 || t.iv.Max == 1 && next.sep != sepPlus && next.sep != sepComma || n > 3 {
		return t.kind
	}
	p.warn(t.pos, "%q read as the numeral %s", p.src[t.pos:t.end], numberText(tUpper, n))
	t.kind, t.iv = tUpper, At(n)
	return tUpper
}

// anotherValue reports whether the ray count at i is one more value of the same
// place, and not the rays of the next fin.
func (p *parser) anotherValue(c Character, i, hi int) bool {
	t, prev := &p.terms[i], &p.terms[i-1]
	switch t.sep {
	case sepOr, sepTo:
		return prev.kind == tNumber
	case sepComma, sepBlank:
		if prev.kind != tNumber {
			return false
		}
		if c.class() == classPaired || prev.annotated() || t.annotated() {
			return true
		}
		for j := i + 1; j < hi; j++ {
			if p.terms[j].sep == sepOr {
				return true
			}
		}
		// 13, 20, 19 are the fins of a cod; 13, 14, 15 a list.
		return t.iv.Single() && prev.iv.Single() && t.iv.Min > prev.iv.Max && t.iv.Min-prev.iv.Max <= 2
	default:
		return false
	}
}

// backwards handles a dash that led to a smaller or a third number.
func (p *parser) backwards(i int) bool {
	t, prev := &p.terms[i], &p.terms[i-1]
	if i+1 < p.it.hi && p.terms[i+1].sep == sepSlash {
		return false // 6-1/9: two fins
	}
	if t.iv.Min >= prev.iv.Max {
		p.fault(t.pos, "a range of two ends", "a range of three ends")
	} else {
		p.fault(t.pos, "the smaller count first; the ends are not swapped", "the range runs downward, from %g to %g", prev.iv.Max, t.iv.Min)
	}
	return true
}
