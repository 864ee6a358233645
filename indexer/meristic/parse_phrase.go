package meristic

// character decides what an item counts: its label, the words around it, the item
// before it, or the context given to Parse; in this order.
func (p *parser) character(i int) (Character, feature) {
	it := &p.items[i]
	f := it.near | it.post
	if it.label != NoCharacter {
		return p.labelled(it, f), f | elementFeature(it.labelElem)
	}
	if c := named(f, p.cur); c != NoCharacter {
		return c, f
	}
	if c := named(f|it.far, p.cur); c != NoCharacter {
		return c, f | it.far&fPosition
	}
	if c := p.bareScales(it, f); c != NoCharacter {
		return c, f
	}
	if p.cur != NoCharacter {
		return p.cur, f
	}
	for j := i + 1; j < len(p.items) && p.items[j].clause == it.clause; j++ {
		if next := &p.items[j]; next.label == NoCharacter {
			if c := named(next.near|next.post, NoCharacter); c != NoCharacter {
				return c, f
			}
		}
	}
	return NoCharacter, f
}

// bareScales reads "scales 7-45-14" and, after fins, "scales 45": older authors count
// the lateral series so. Source: Forbes & Richardson 1908 (READ) for the series of
// three; the single count common practice, no source.
func (p *parser) bareScales(it *item, f feature) Character {
	switch {
	case f&fScale == 0:
		return NoCharacter
	case p.isTransverse(it):
		return TransverseScales
	case p.cur.fin() || p.cur == NoCharacter:
		p.assume(it.pos, "scales without a row named are read as those in longitudinal series")
		return LongitudinalRow
	default:
		return NoCharacter
	}
}

func elementFeature(e Element) feature {
	switch e {
	case Ray:
		return fRay
	case Total:
		return fTotal
	case Above:
		return fAbove
	case Below:
		return fBelow
	default:
		return 0
	}
}

// labelled resolves the abbreviations that two characters share: V is the ventral fin
// or the vertebrae (A8), Pr. either paired fin, LL and Ltr by shape.
func (p *parser) labelled(it *item, f feature) Character {
	c := it.label
	if it.lo == it.hi {
		return c
	}
	t := &p.terms[it.lo]
	switch {
	case c == Pelvic && p.isLetter(it, 'V') && p.opt.Character.snake():
		return VentralShields
	case c == Pelvic && p.isLetter(it, 'V'):
		return p.ventralOrVertebrae(it, t)
	case c == Pectoral && p.opt.Character.class() == classCaudal && p.isDouble(it, "Pr"):
		return Caudal // principal rays, beside Sec
	case c == Pectoral && t.kind == tUpper && p.isDouble(it, "Pr"):
		p.assume(it.pos, "Pr. with a spine is read as the pelvic fin")
		return Pelvic
	case c.class() == classLine && p.isTransverse(it):
		return TransverseScales
	case c == LateralLine && f&fPored != 0:
		return PoredScales
	}
	return c
}

// isLetter reports whether the label was written as the one letter.
func (p *parser) isLetter(it *item, letter byte) bool {
	return it.labelPos >= 0 && int(it.labelPos) < len(p.src) && p.src[it.labelPos] == letter &&
		(int(it.labelPos)+1 >= len(p.src) || !isLower(p.src[it.labelPos+1]) && !isUpper(p.src[it.labelPos+1]))
}

func (p *parser) isDouble(it *item, s string) bool {
	i := int(it.labelPos)
	return i >= 0 && i+len(s) <= len(p.src) && p.src[i:i+len(s)] == s
}

// pelvicMost is the largest ray count of a pelvic fin, vertebraeFewest the smallest
// number of vertebrae, in any fish that a bare "V" may count. From memory.
const (
	pelvicMost      = 17
	vertebraeFewest = 16
)

func (p *parser) ventralOrVertebrae(it *item, t *term) Character {
	if t.kind == tUpper || t.kind == tLower {
		return Pelvic
	}
	sum := it.hi-it.lo > 1 && p.terms[it.lo+1].sep == sepPlus
	switch {
	case sum && t.iv.Min >= 5, t.iv.Min > pelvicMost:
		p.assume(it.pos, "V stands for vertebrae here")
		return Vertebrae
	case t.iv.Max < vertebraeFewest-4:
		return Pelvic
	}
	if p.choose(it.pos, ReadLabelPelvic, ReadLabelVertebrae, "V may stand for vertebrae") == ReadLabelVertebrae {
		return Vertebrae
	}
	return Pelvic
}

// isTransverse recognises above/line/below among scale counts.
func (p *parser) isTransverse(it *item) bool {
	if it.hi-it.lo != 3 {
		return false
	}
	s := p.terms[it.lo+1].sep
	return s == p.terms[it.lo+2].sep && (s == sepSlash || s == sepDash)
}
