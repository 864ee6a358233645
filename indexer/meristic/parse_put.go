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

// statement finds the statement of a character, or begins one.
func (p *parser) statement(c Character, it *item) *Statement {
	for i := range p.res.Statements {
		if p.res.Statements[i].Character == c {
			return &p.res.Statements[i]
		}
	}
	if p.res.Statements == nil {
		p.res.Statements = make([]Statement, 0, 2)
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
	if p.touches == nil {
		p.touches = make([]touch, 0, 4)
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
	case t.freq > 0:
		p.remember(c, old)
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
	if t.auxHi == t.auxLo {
		if v.Specimens > 0 || v.Holotype {
			c.Values = addValue(c.Values, v)
		}
		return
	}
	p.bracketed(c, t, v)
}

// bracketed adds what the counts in a term's brackets say: a number of specimens, the
// usual or the whole range, rare values.
func (p *parser) bracketed(c *Count, t *term, v Value) {
	n := t.auxHi - t.auxLo
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
	if len(c.Values) > 0 || v.Holotype || v.Specimens > 0 { // a list: it must hold all that the interval spans
		c.Values = addValue(c.Values, v)
	}
}
