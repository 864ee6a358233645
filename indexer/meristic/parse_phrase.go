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

// named finds the character that words name. cur is the character being described:
// "dorsal" is a fin, but a side of the caudal fin or of a body where those are
// described.
func named(f feature, cur Character) Character {
	switch {
	case f == 0:
		return NoCharacter
	case cur.snake() && f&(fDorsal|fVentral|fCaudal) != 0 && f&(fFin|fRay|fSpine|fShield) == 0:
		return snakeShields(f)
	case f&fMyomere != 0:
		return Myomeres
	case f&fVertebra != 0:
		return Vertebrae
	case f&(fHypo|fCerato|fEpi|fRaker) != 0:
		return GillRakers
	case f&fBranchiostegal != 0:
		return Branchiostegals
	case f&fCaeca != 0:
		return PyloricCaeca
	case f&fTooth != 0:
		return PharyngealTeeth
	case f&fScute != 0:
		return scutes(f)
	case f&(fShield|fVentrals|fCaudals) != 0:
		return shields(f, cur)
	case f&fProcurrent != 0 && f&fAnal == 0:
		if cur.fin() && f&(fCaudal|fDorsal|fVentral|fUpper|fLower) == 0 {
			return cur
		}
		return CaudalProcurrent
	}
	if c := scaleCharacter(f, cur); c != NoCharacter {
		return c
	}
	return finCharacter(f, cur)
}

// snakeShields reads the names that fins and shields share where a snake is described.
func snakeShields(f feature) Character {
	switch {
	case f&fDorsal != 0:
		return BodyRows
	case f&fVentral != 0:
		return VentralShields
	default:
		return SubcaudalShields
	}
}

func scutes(f feature) Character {
	switch {
	case f&fDorsal != 0:
		return DorsalScutes
	case f&fLateral != 0:
		return LateralScutes
	case f&fVentral != 0 || f&fAbdominal != 0:
		return VentralScutes
	case f&fRow != 0:
		return ScuteRows
	default:
		return LateralScutes
	}
}

func shields(f feature, cur Character) Character {
	switch {
	case f&fSupralabial != 0:
		return SupralabialShield
	case f&fInfralabial != 0:
		return InfralabialShield
	case f&fTemporal != 0:
		return TemporalShields
	case f&fSubcaudal != 0:
		return SubcaudalShields
	case f&fCaudals != 0:
		if cur.snake() {
			return SubcaudalShields
		}
		return Caudal
	case cur.snake() || cur == NoCharacter:
		return VentralShields
	default:
		return Pelvic
	}
}

// scaleCharacter tells the many rows of scales apart.
func scaleCharacter(f feature, cur Character) Character {
	scaly := f&(fScale|fRow) != 0
	switch {
	case f&fPored != 0:
		return PoredScales
	case f&fPredorsal != 0:
		return PredorsalScales
	case f&fPeduncle != 0:
		return PeduncleScales
	case f&fOpercle != 0 && scaly:
		return OpercleRows
	case f&fCheek != 0 && scaly:
		return CheekRows
	case f&fFormula != 0 && f&fScale != 0:
		return TransverseScales
	case scaly && f&(fMid|fNeck|fPosterior) != 0 && f&(fLateral|fLongitudinal) == 0 || cur == BodyRows && scaly && f&(fLateral|fTransverse|fLongitudinal) == 0:
		return BodyRows
	case f&(fAbove|fBelow) != 0 && (f&(fScale|fLine|fLateral|fRow) != 0 || cur.class() == classLine):
		return TransverseScales
	case f&fLine != 0 && f&fAngle != 0 && f&(fDorsal|fAnal|fPelvic|fVentral) != 0: // "between dorsal-fin origin and lateral line"
		return TransverseScales
	case f&fTransverse != 0 && (scaly || f&fAnyFin == 0):
		return TransverseRow
	case f&fLongitudinal != 0 && f&fAnyFin == 0:
		if f&fLine != 0 && f&fLateral != 0 {
			return LateralLine
		}
		return LongitudinalRow
	case f&fLine != 0 && f&fLateral != 0:
		return LateralLine
	case f&fLateral != 0 && scaly:
		return LongitudinalRow
	default:
		return NoCharacter
	}
}

func finCharacter(f feature, cur Character) Character {
	noun := f&(fFin|fRay|fSpine|fSoft|fBranched|fUnbranched|fSegmented|fFinlet) != 0
	sides := cur == CaudalProcurrent || cur == Caudal || cur.class() == classPlain && !noun
	switch {
	case f&fPectoral != 0:
		return Pectoral
	case f&fAnal != 0:
		return Anal
	case f&fPelvic != 0:
		return Pelvic
	case f&fPrincipal != 0 && f&(fDorsal|fVentral) == 0:
		return Caudal
	case cur.class() == classVertebrae && f&fCaudal != 0 && f&(fRay|fFin) == 0:
		return cur
	case f&fCaudal != 0:
		return Caudal
	case sides && !noun && f&(fDorsal|fVentral|fLateral) != 0:
		return sided(f, cur)
	case f&fVentral != 0:
		return Pelvic
	case f&fDorsal != 0 || f&(fUnbranched|fBranched) == 0 && f&(fFirst|fSecond|fThird) != 0 && cur.class() == classDorsal && f&fArch == 0 && noun:
		return dorsal(f)
	default:
		return NoCharacter
	}
}

// sided reads "dorsal" and "ventral" as sides of what is being described.
func sided(f feature, cur Character) Character {
	switch cur {
	case DorsalScutes, LateralScutes, VentralScutes, ScuteRows:
		return scutes(f | fScute)
	default:
		return cur
	}
}

func dorsal(f feature) Character {
	switch {
	case f&fFirst != 0:
		return Dorsal1
	case f&fSecond != 0:
		return Dorsal2
	case f&fThird != 0:
		return Dorsal3
	default:
		return Dorsal
	}
}
