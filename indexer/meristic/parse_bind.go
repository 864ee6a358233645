package meristic

// touch remembers which item last wrote a count, and whether its character was named
// by an abbreviation then.
type touch struct {
	char    Character
	elem    Element
	item    int
	labeled bool
	clause  int
}

// bind turns items into statements: which character, which element, how brackets read.
func (p *parser) bind() {
	p.bracketStyle()
	p.cur = p.opt.Character
	for i := range p.items {
		it := &p.items[i]
		if it.foreign || p.numberOfFins(it) {
			continue
		}
		p.shareNoun(i)
		p.inTurn(i)
		c, f := p.character(i)
		if c == NoCharacter {
			p.fault(it.pos, "a label such as D, A or GR, or the character given apart", "the count names no character")
			return
		}
		if i > 0 && it.label == NoCharacter && it.lo < it.hi && f|it.far == 0 && it.header == 0 && it.clause != p.items[i-1].clause && !p.terms[it.hi-1].annotated() {
			p.warn(it.pos, "no label here: read as more of %s", c)
		}
		p.cur = c
		if it.lo == it.hi {
			s := p.statement(c, it)
			s.Unknown = true
			continue
		}
		p.it, p.itemIndex = it, i
		if c == Anal && f&fBoth != 0 && f&fDorsal != 0 {
			p.read(Dorsal, f)
		}
		p.read(c, f)
	}
	p.settle()
}

// demote turns a count into a total once its parts follow in brackets: "9 rays
// (i.5-7.ii-iii)".
func (p *parser) demote(c Character) {
	if p.it.inner < 0 || p.it.hi-p.it.lo < 2 || p.it.mods != 0 {
		return
	}
	outer := &p.items[p.it.inner]
	if outer.hi-outer.lo != 1 || p.terms[outer.lo].kind != tNumber {
		return
	}
	for i := range p.res.Statements {
		s := &p.res.Statements[i]
		if _, has := s.Count(Total); has {
			continue
		}
		for j := range s.Counts {
			if e := s.Counts[j].Element; s.Character == c && (e == Ray || e == Whole) {
				s.Counts[j].Element = Total
			}
		}
	}
}

// inTurn hands "dorsal and ventral procurrent rays 12 and 11 respectively" out to the
// two counts, the first name to the first.
func (p *parser) inTurn(i int) {
	if i+1 >= len(p.items) || !p.items[i+1].inTurn || p.items[i+1].joint != sepAnd {
		return
	}
	it, next := &p.items[i], &p.items[i+1]
	for _, pair := range [...][2]feature{{fUpper, fLower}, {fDorsal, fVentral}, {fDorsal, fAnal}, {fPectoral, fPelvic}, {fAbdominal, fCaudal}} {
		if it.near&pair[0] != 0 && it.near&pair[1] != 0 {
			next.near |= it.near &^ pair[0]
			it.near &^= pair[1] | fBoth
			return
		}
	}
}

// numberOfFins recognises "two dorsal fins": no count of rays.
func (p *parser) numberOfFins(it *item) bool {
	return it.label == NoCharacter && it.hi-it.lo == 1 && p.terms[it.lo].kind == tNumber && it.near == 0 &&
		it.post&fFin != 0 && it.post&^(fAnyFin|fFin|fFree) == 0
}

// read hands an item to the grammar of its character.
func (p *parser) read(c Character, f feature) {
	if p.it.forced {
		p.putRun(c, p.it.elem, p.it.lo, p.it.hi)
		return
	}
	p.demote(c)
	switch c.class() {
	case classDorsal, classAnal, classPaired:
		p.fin(c, f)
	case classCaudal:
		p.caudal(c, f)
	case classProcurrent:
		p.procurrent(c, f)
	case classRakers:
		p.rakers(c, f)
	case classVertebrae:
		p.vertebrae(c, f)
	case classLine:
		p.line(c, f)
	case classTransverse:
		p.transverse(c, f)
	case classTeeth:
		p.teeth(c, f)
	case classBody:
		p.bodyRows(c, f)
	case classLabial:
		p.labial(c, f)
	default:
		p.list(c, f, Whole)
	}
}

// bracketStyle decides A1 for the whole string: 12(3) is twelve in three specimens,
// or twelve and rarely three. One author writes one way.
func (p *parser) bracketStyle() {
	p.bracketsAs = 0
	doubtful := -1
	singles := 0
	for i := range p.items {
		it := &p.items[i]
		inItem := 0
		for j := it.lo; j < it.hi; j++ {
			t := &p.terms[j]
			if !t.singleBracket() || t.said != 0 || t.has(termNumeral) {
				continue
			}
			b := p.aux[t.auxLo]
			if !b.Single() || b.Min != float64(int(b.Min)) {
				continue
			}
			singles++
			inItem++
			near := b.Min < t.iv.Min && t.iv.Min-b.Min <= rareReach || b.Min > t.iv.Max && b.Min-t.iv.Max <= rareReach
			if t.has(termStar) || t.kind != tNumber || !near || inItem > 1 {
				p.bracketsAs = ReadBracketFrequency
				return
			}
			doubtful = j
		}
	}
	if doubtful < 0 {
		return
	}
	p.bracketsAs = p.choose(p.terms[doubtful].pos, ReadBracketRare, ReadBracketFrequency, "the bracketed figure may be a number of specimens")
}

// rareReach is how far from the usual count a bracketed rare value may lie, in
// counts. Source: A1 of the notation (within three).
const rareReach = 3

// shareNoun lends "principal caudal rays" of "five upper and four lower principal
// caudal rays" to the first of the two counts.
func (p *parser) shareNoun(i int) {
	it := &p.items[i]
	if i+1 >= len(p.items) || it.label != NoCharacter {
		return
	}
	next := &p.items[i+1]
	if next.joint != sepAnd || next.label != NoCharacter || next.inner != it.inner ||
		(it.near|it.post)&fHeadNoun != 0 || next.near&(fHeadNoun|fAnyFin) != 0 {
		return
	}
	shared := next.post
	if shared&fHeadNoun == 0 {
		return
	}
	own := it.near | it.post
	if own&fRayKind != 0 {
		shared &^= fRayKind
	}
	if own&fPosition != 0 {
		shared &^= fPosition &^ (fDorsal | fVentral)
	}
	if own&(fDorsal|fVentral) != 0 {
		shared &^= fDorsal | fVentral
	}
	it.post |= shared
}

// statement finds the statement of a character, or begins one.
func (p *parser) statement(c Character, it *item) *Statement {
	for i := range p.res.Statements {
		if p.res.Statements[i].Character == c {
			return &p.res.Statements[i]
		}
	}
	if p.res.Statements == nil {
		p.res.Statements = make([]Statement, 0, 4)
	}
	p.res.Statements = append(p.res.Statements, Statement{Character: c, Column: p.column(it.pos)})
	return &p.res.Statements[len(p.res.Statements)-1]
}

// put records one term as a count of an element.
func (p *parser) put(c Character, e Element, t *term) {
	s := p.statement(c, p.it)
	if t.has(termHalfLow|termHalfHigh) && !halves(c, e) {
		p.warn(t.pos, "half counts are not made of %s", c.Phrase())
	}
	var count *Count
	for i := range s.Counts {
		if s.Counts[i].Element == e {
			count = &s.Counts[i]
		}
	}
	fresh := count == nil
	if fresh {
		if s.Counts == nil {
			s.Counts = make([]Count, 0, 3)
		}
		s.Counts = append(s.Counts, Count{Element: e, Interval: t.iv})
		count = &s.Counts[len(s.Counts)-1]
	}
	seen := p.touched(c, e)
	switch {
	case fresh:
	case seen.item == p.itemIndex:
		p.another(count, t)
	default:
		p.again(count, t, seen, c)
	}
	p.annotate(count, t, fresh)
	p.lastChar, p.lastElem = c, e
	seen.item, seen.clause, seen.labeled = p.itemIndex, p.it.clause, p.it.label != NoCharacter
	if p.it.sample > 0 {
		s.Sample = int(p.it.sample)
	}
}

// halves reports where authors count halves: the last two rays of dorsal and anal
// fins, and transverse scales. Source: K&F.
func halves(c Character, e Element) bool {
	switch c.class() {
	case classTransverse:
		return true
	case classDorsal, classAnal:
		return e != Spine && e != FreeSpine && e != Finlet
	default:
		return false
	}
}

func (p *parser) touched(c Character, e Element) *touch {
	for i := range p.touches {
		if p.touches[i].char == c && p.touches[i].elem == e {
			return &p.touches[i]
		}
	}
	p.touches = append(p.touches, touch{char: c, elem: e, item: -1})
	return &p.touches[len(p.touches)-1]
}

// another adds one more value of a list: "8, 9 or 10".
func (p *parser) another(c *Count, t *term) {
	if len(c.Values) == 0 && c.Interval == t.iv && t.auxHi == t.auxLo && t.freq == 0 && !t.has(termStar) {
		return // the carried prefix: "ii,8 or ii,9"
	}
	switch {
	case p.it.mods&modUsual != 0 && c.Usual != nil:
		usual := c.Usual.Union(t.iv)
		c.Usual, c.Interval = &usual, c.Union(t.iv)
		return
	case p.it.mods&(modRare|modOther) != 0 && c.Usual != nil:
		c.Values = addValue(c.Values, Value{Interval: t.iv, Rare: true})
		c.Interval = c.Union(t.iv)
		return
	case len(c.Values) == 0:
		c.Values = append(c.Values, Value{Interval: c.Interval})
	}
	if !t.annotated() {
		c.Values = addValue(c.Values, Value{Interval: t.iv})
	}
	c.Interval = c.Union(t.iv)
}

func (t *term) annotated() bool {
	return t.auxHi > t.auxLo || t.freq > 0 || t.has(termStar)
}

func addValue(values []Value, v Value) []Value {
	for i := range values {
		if values[i].Interval == v.Interval {
			values[i].Specimens += v.Specimens
			values[i].Holotype = values[i].Holotype || v.Holotype
			return values
		}
	}
	return append(values, v)
}

// cover makes a list reach over an interval, unless it does so already.
func (c *Count) cover(iv Interval) {
	hull := c.Values[0].Interval
	for _, v := range c.Values {
		hull = hull.Union(v.Interval)
	}
	if iv.Min < hull.Min || iv.Max > hull.Max {
		c.Values = append(c.Values, Value{Interval: iv})
	}
}

// again joins a count with what an earlier item said of the same element.
func (p *parser) again(c *Count, t *term, seen *touch, char Character) {
	old := c.Interval
	c.Interval = c.Union(t.iv)
	switch m := p.it.mods; {
	case old == t.iv && m&(modRare|modOther) != 0:
	case m&modUsual != 0:
		iv := t.iv
		c.Usual = &iv
	case m&(modRare|modOther) != 0:
		p.remember(c, old)
		c.Values = addValue(c.Values, Value{Interval: t.iv, Rare: true})
		if c.Usual == nil {
			c.Usual = &old
		}
	case m&modHolotype != 0:
		p.remember(c, old)
		c.Values = addValue(c.Values, Value{Interval: t.iv, Holotype: true})
	case m&modOverall != 0:
		if c.Usual == nil && old != c.Interval {
			c.Usual = &old
		}
	case p.it.inner >= 0:
		if old == c.Interval {
			return
		}
		if c.Usual == nil {
			c.Usual = &old
		}
		if p.choose(t.pos, ReadBracketRare, ReadBracketParatypes, "the bracketed counts may be those of paratypes, the first of the holotype") == ReadBracketParatypes {
			c.Usual = nil
			c.Values = append(c.Values, Value{Interval: old, Holotype: true})
		}
	case p.it.label != NoCharacter && seen.labeled && seen.clause <= p.it.clause && old != t.iv && !t.annotated():
		p.fault(t.pos, "one count for each fin, or a list with \"or\"", "%s is stated twice with different counts", char)
	case len(c.Values) > 0 || t.annotated():
		p.remember(c, old)
		if !t.annotated() {
			c.Values = addValue(c.Values, Value{Interval: t.iv})
		}
	case !old.Overlaps(t.iv) && p.it.label == NoCharacter && p.it.near|p.it.post == 0 && !p.sameClause(seen):
		p.fault(t.pos, "a label for the second formula", "a second count without a label differs from the first")
	case old.Distance(t.iv) > looseFar && p.it.label == NoCharacter:
		p.warn(t.pos, "a second count of the same kind, far from the first")
	}
}

func (p *parser) sameClause(seen *touch) bool { return seen.clause == p.it.clause }

// remember keeps a plain range as the first value once others join it.
func (p *parser) remember(c *Count, old Interval) {
	if len(c.Values) == 0 {
		c.Values = append(c.Values, Value{Interval: old})
	}
}

// annotate adds what brackets and marks say about a term.
func (p *parser) annotate(c *Count, t *term, fresh bool) {
	if fresh && p.it.mods&modUsual != 0 {
		iv := t.iv
		c.Usual = &iv
	}
	if fresh && p.it.mods&modHolotype != 0 && !t.annotated() {
		c.Values = append(c.Values, Value{Interval: t.iv, Holotype: true})
	}
	v := Value{Interval: t.iv, Specimens: int(t.freq), Holotype: t.has(termStar)}
	n := t.auxHi - t.auxLo
	if n == 0 {
		if v.Specimens > 0 || v.Holotype {
			c.Values = addValue(c.Values, v)
		}
		return
	}
	first := p.aux[t.auxLo]
	bracketed := first
	for _, b := range p.aux[t.auxLo:t.auxHi] {
		bracketed = bracketed.Union(b)
	}
	usual := t.iv
	switch {
	case t.said == 0 && !t.has(termNumeral) && t.singleBracket() && first.Single() && p.bracketsAs == ReadBracketFrequency:
		v.Specimens = int(first.Min)
		c.Values = addValue(c.Values, v)
		return
	case t.said == modUsual, t.said == 0 && n == 1 && !first.Single() && first != t.iv && t.iv.Contains(first):
		c.Usual = &bracketed // 15-18 (16-17)
	case t.said == modOverall:
		c.Usual = &usual
	case t.said == 0 && n == 1 && !first.Single() && first.Contains(t.iv):
		if p.choose(t.pos, ReadBracketRare, ReadBracketParatypes, "the bracketed range may be that of paratypes, the first count the holotype's") == ReadBracketParatypes {
			v.Holotype = true
			c.Values = append(c.Values, Value{Interval: first})
			break
		}
		c.Usual = &usual
	default:
		c.Usual = &usual
		c.Values = addValue(c.Values, v)
		for _, rare := range p.aux[t.auxLo:t.auxHi] {
			c.Values = addValue(c.Values, Value{Interval: rare, Rare: true})
			c.Interval = c.Union(rare)
		}
		return
	}
	c.Interval = c.Union(bracketed)
	if len(c.Values) > 0 || v.Holotype { // a list: it must hold all that the interval spans
		c.Values = addValue(c.Values, v)
	}
}
