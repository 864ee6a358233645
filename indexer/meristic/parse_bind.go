package meristic

// bind turns items into statements: which character, which element, how brackets read.
func (p *parser) bind() {
	p.bracketStyle()
	p.cur = p.opt.Character
	nameless := false
	for i := range p.items {
		it := &p.items[i]
		if p.numberOfFins(it) {
			p.cur = named(it.post, p.cur) // "two dorsal fins, the first with ..."
			continue
		}
		if it.foreign {
			continue
		}
		p.shareNoun(i)
		p.inTurn(i)
		c, f := p.character(i)
		if c == NoCharacter {
			if !nameless {
				p.fault(it.pos, "a label such as D, A or GR, or the character given apart", "the count names no character")
			}
			nameless = true
			continue
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
		if it.inner >= 0 && f&(fRayKind|fHeadNoun) == 0 { // "7+6 branched rays (one specimen with 7+7)"
			outer := &p.items[it.inner]
			f |= (outer.near | outer.post) & fRayKind
		}
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
	doubtful, sum := -1, false
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
			doubtful, sum = j, t.sep.sums() && j == it.hi-1
		}
	}
	if doubtful < 0 {
		return
	}
	if sum { // 7/6(8): the bracket is behind the whole
		p.bracketsAs = p.choose(p.terms[doubtful].pos, ReadBracketFrequency, ReadBracketRare, "the bracketed figure may be a rare value")
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
