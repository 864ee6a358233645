package meristic

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
	case f&fSupralabial != 0 && f&fInfralabial != 0: // "lower labials"
		if f&fLower != 0 {
			return InfralabialShield
		}
		return SupralabialShield
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
