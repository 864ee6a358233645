package plan

import (
	"slices"

	"platarium/indexer/meristic"
)

// Names say under which names a picture may show a structure.
type Names struct {
	// Same are names that mean the structure, the usual one first.
	Same []string
	// Within are names of larger or neighboring structures on which it is seen.
	Within []string
	// Outside is true if a view of the whole animal shows it.
	Outside bool
}

// All lists every name.
func (n Names) All() []string { return append(slices.Clone(n.Same), n.Within...) }

// NamesOf gives the names of a structure; one that isn't known has its own alone and
// is taken for an outer one. The names are common practice, no source.
func NamesOf(structure string) Names {
	for _, n := range structureNames() {
		if slices.Contains(n.Same, structure) {
			n.Same = append([]string{structure}, slices.DeleteFunc(n.Same, func(s string) bool { return s == structure })...)
			return n
		}
	}
	return Names{Same: []string{structure}, Outside: true}
}

func structureNames() []Names {
	outer := func(within []string, same ...string) Names { return Names{same, within, true} }
	inner := func(within []string, same ...string) Names { return Names{same, within, false} }
	head := []string{"head"}
	return []Names{
		outer([]string{"dorsal fins", "first dorsal fin", "second dorsal fin"}, "dorsal fin"),
		outer([]string{"dorsal fin", "dorsal fins"}, "first dorsal fin", "spinous dorsal fin"),
		outer([]string{"dorsal fin", "dorsal fins"}, "second dorsal fin", "soft dorsal fin"),
		outer([]string{"dorsal fin", "dorsal fins"}, "third dorsal fin"),
		outer([]string{"anal fins", "first anal fin", "second anal fin"}, "anal fin"),
		outer([]string{"anal fin", "anal fins"}, "first anal fin"),
		outer([]string{"anal fin", "anal fins"}, "second anal fin"),
		outer(nil, "pectoral fin", "pectoral fins"),
		outer(nil, "pelvic fin", "pelvic fins", "ventral fin"),
		outer(nil, "caudal fin", "tail fin"),
		outer(nil, "adipose fin"),
		outer([]string{"skull", "opercle", "preopercle"}, "head", "head bones"),
		outer(head, "opercle", "operculum", "gill cover"),
		outer([]string{"opercle", "head"}, "preopercle"),
		outer([]string{"opercle", "preopercle", "head"}, "head spines"),
		outer([]string{"mouth", "snout", "head"}, "jaws", "jaw"),
		inner([]string{"jaws", "jaw", "mouth", "head"}, "teeth", "dentition"),
		outer(head, "eye", "eyes"),
		outer(head, "barbel", "barbels"),
		inner([]string{"gill arch"}, "gill rakers", "first gill arch"),
		inner(nil, "pharyngeal teeth", "pharyngeal bones"),
		inner([]string{"vertebrae"}, "skeleton"),
		inner([]string{"skeleton"}, "vertebrae"),
		inner(nil, "otolith", "otoliths"),
		outer([]string{"scales", "flank"}, "lateral line"),
		outer([]string{"flank", "lateral line"}, "scales", "scale"),
		outer([]string{"body", "outline"}, "body shape"),
		outer([]string{"body", "flank"}, "pigmentation", "pigmentation pattern", "color pattern", "coloration"),
		outer([]string{"pectoral fin"}, "free pectoral rays"),
		outer([]string{"pectoral fin"}, "disc"),
	}
}

// Characters lists the characters that a structure shows, in the order in which
// formulae have them; none for a structure without counts.
func Characters(structure string) []meristic.Character {
	switch structure {
	case "first dorsal fin", "spinous dorsal fin":
		return []meristic.Character{meristic.Dorsal1, meristic.Dorsal}
	case "second dorsal fin", "soft dorsal fin":
		return []meristic.Character{meristic.Dorsal2, meristic.Dorsal}
	case "third dorsal fin":
		return []meristic.Character{meristic.Dorsal3}
	case "dorsal fin", "dorsal fins":
		return []meristic.Character{meristic.Dorsal, meristic.Dorsal1, meristic.Dorsal2, meristic.Dorsal3}
	case "anal fin", "anal fins":
		return []meristic.Character{meristic.Anal, meristic.Anal1, meristic.Anal2}
	case "first anal fin":
		return []meristic.Character{meristic.Anal1}
	case "second anal fin":
		return []meristic.Character{meristic.Anal2}
	case "pectoral fin", "pectoral fins", "disc":
		return []meristic.Character{meristic.Pectoral}
	case "pelvic fin", "pelvic fins", "ventral fin":
		return []meristic.Character{meristic.Pelvic}
	case "caudal fin", "tail fin":
		return []meristic.Character{meristic.Caudal, meristic.CaudalProcurrent}
	case "lateral line":
		return []meristic.Character{meristic.LateralLine, meristic.PoredScales, meristic.LongitudinalRow}
	case "scales", "scale":
		return []meristic.Character{
			meristic.LateralLine, meristic.PoredScales, meristic.LongitudinalRow, meristic.TransverseScales, meristic.TransverseRow, meristic.PeduncleScales,
			meristic.PredorsalScales, meristic.DorsalScutes, meristic.LateralScutes, meristic.VentralScutes, meristic.ScuteRows,
			meristic.BodyRows, meristic.VentralShields, meristic.SubcaudalShields,
		}
	case "gill rakers", "first gill arch":
		return []meristic.Character{meristic.GillRakers}
	case "opercle", "operculum", "gill cover":
		return []meristic.Character{meristic.OpercleRows, meristic.Branchiostegals}
	case "pharyngeal teeth", "pharyngeal bones":
		return []meristic.Character{meristic.PharyngealTeeth}
	case "vertebrae", "skeleton":
		return []meristic.Character{meristic.Vertebrae}
	case "head", "head bones":
		return []meristic.Character{meristic.CheekRows, meristic.SupralabialShield, meristic.InfralabialShield, meristic.TemporalShields}
	default:
		return nil
	}
}

// Fin reports whether a structure is a fin with bases along the body.
func Fin(structure string) bool {
	switch structure {
	case "dorsal fin", "first dorsal fin", "second dorsal fin", "third dorsal fin", "spinous dorsal fin", "soft dorsal fin",
		"anal fin", "first anal fin", "second anal fin":
		return true
	default:
		return false
	}
}

// Of keeps the statements of some characters.
func Of(statements []meristic.Statement, characters []meristic.Character) []meristic.Statement {
	var out []meristic.Statement
	for i := range statements {
		if slices.Contains(characters, statements[i].Character) && !statements[i].Unknown {
			out = append(out, statements[i])
		}
	}
	return out
}
