package taxon

import (
	"fmt"
	"strings"
)

// Rank is a level of the classification. The numbers only order ranks for
// display and never leave the process; records keep the word.
type Rank uint8

// Ranks from the top down. Unranked groups are clades.
const (
	Unranked Rank = iota
	Clade
	Kingdom
	Phylum
	Subphylum
	Superclass
	Class
	Subclass
	Infraclass
	Megacohort
	Supercohort
	Cohort
	Subcohort
	Infracohort
	Section
	Subsection
	Division
	Subdivision
	Series
	Superorder
	Order
	Suborder
	Infraorder
	Parvorder
	Superfamily
	Family
	Subfamily
	Tribe
	Subtribe
	Genus
	Subgenus
	Species
	Subspecies
	Variety
	Form
)

var rankWords = [...]string{
	Unranked: "unranked", Clade: "clade", Kingdom: "kingdom", Phylum: "phylum", Subphylum: "subphylum",
	Superclass: "superclass", Class: "class", Subclass: "subclass", Infraclass: "infraclass",
	Megacohort: "megacohort", Supercohort: "supercohort", Cohort: "cohort", Subcohort: "subcohort",
	Infracohort: "infracohort", Section: "section", Subsection: "subsection", Division: "division",
	Subdivision: "subdivision", Series: "series", Superorder: "superorder", Order: "order", Suborder: "suborder",
	Infraorder: "infraorder", Parvorder: "parvorder", Superfamily: "superfamily", Family: "family",
	Subfamily: "subfamily", Tribe: "tribe", Subtribe: "subtribe", Genus: "genus", Subgenus: "subgenus",
	Species: "species", Subspecies: "subspecies", Variety: "variety", Form: "form",
}

// String gives the English word in lower case.
func (r Rank) String() string {
	if int(r) < len(rankWords) {
		return rankWords[r]
	}
	return fmt.Sprintf("rank %d", uint8(r))
}

// ParseRank reads a rank as checklists write it, in English or Latin, in any
// case, abbreviated or not. Unknown words give Unranked and false.
func ParseRank(s string) (Rank, bool) {
	w := strings.TrimSuffix(strings.ToLower(strings.TrimSpace(s)), ".")
	for r, word := range rankWords {
		if w == word {
			return Rank(r), true
		}
	}
	switch w {
	case "", "no rank", "norank", "unassigned", "other":
		return Unranked, w != ""
	case "regnum":
		return Kingdom, true
	case "classis":
		return Class, true
	case "ordo":
		return Order, true
	case "subordo":
		return Suborder, true
	case "familia", "fam":
		return Family, true
	case "subfamilia", "subfam":
		return Subfamily, true
	case "tribus":
		return Tribe, true
	case "gen":
		return Genus, true
	case "subgen":
		return Subgenus, true
	case "sp", "spec":
		return Species, true
	case "subsp", "ssp", "infraspecific name", "infraspecies", "infrasubspecific name":
		return Subspecies, true
	case "var", "varietas":
		return Variety, true
	case "f", "forma":
		return Form, true
	}
	return Unranked, false
}
