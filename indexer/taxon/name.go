package taxon

import (
	"strings"
)

// Hybrid says in which way a name is the name of a hybrid.
type Hybrid uint8

// Kinds of hybrid names.
const (
	// NotHybrid is the ordinary case.
	NotHybrid Hybrid = iota
	// NamedHybrid is a hybrid with a name of its own: × Agropogon, Salix × capreola.
	NamedHybrid
	// NothoHybrid is a hybrid marked by its rank: nothosubsp., nothovar.
	NothoHybrid
	// HybridFormula names two or more parents: Salmo salar × Salmo trutta.
	HybridFormula
)

// String gives the kind in lower-case words.
func (h Hybrid) String() string {
	switch h {
	case NamedHybrid:
		return "named hybrid"
	case NothoHybrid:
		return "hybrid rank"
	case HybridFormula:
		return "hybrid formula"
	default:
		return ""
	}
}

// Surrogate says whether a name stands in for one that isn't settled.
type Surrogate uint8

// Kinds of open nomenclature.
const (
	// Settled is a plain name.
	Settled Surrogate = iota
	// Comparison is a name with cf.: thought to be this species, to be confirmed.
	Comparison
	// Approximation is a name with sp., spp., aff., nr. or ?: not this species,
	// or none stated.
	Approximation
)

// String gives the kind in lower-case words.
func (s Surrogate) String() string {
	switch s {
	case Comparison:
		return "comparison"
	case Approximation:
		return "approximation"
	default:
		return ""
	}
}

// Infra is one epithet below the species, with its rank as normally written
// ("subsp.", "var."), empty where none is written.
type Infra struct {
	Rank    string
	Epithet string
}

// Year is a year of publication as printed on or worked out for a work.
type Year struct {
	// Value holds four characters, the last of which may be '?', and a '?' after
	// them when the whole year is doubted. Empty when no year is given.
	Value string
	// Inferred marks years in brackets, parentheses and ranges.
	Inferred bool
}

// String writes the year, in brackets when it is inferred (ICZN 1999, Rec. 22A.2.3).
func (y Year) String() string {
	if y.Inferred && y.Value != "" {
		return "[" + y.Value + "]"
	}
	return y.Value
}

// Team is a group of authors and what hangs on it.
type Team struct {
	// Authors holds each author as written, initials spaced out.
	Authors []string
	// Year of publication; with ex or in authors the year of their work.
	Year Year
	// Ex are the authors who published validly what Authors proposed.
	Ex []string
	// In are the authors of the work in which Authors described the name.
	In []string
	// Emended are the authors who changed the circumscription (emend.).
	Emended *Team
	// With marks that the authors were joined by "apud".
	With bool
}

// Empty reports whether nobody and no year is named.
func (t Team) Empty() bool { return len(t.Authors) == 0 && t.Year.Value == "" }

// Name is a parsed scientific name. The zero value means nothing was parsed.
type Name struct {
	// Verbatim is the string as given.
	Verbatim string
	// Genus is the genus of a binomial, or the uninomial itself.
	Genus string
	// Group is a uninomial named under Genus (Aaleniella (Danocythere)); GroupRank
	// is its rank as normally written, "subgen." when given in parentheses.
	Group     string
	GroupRank string
	// Subgenus is the name in parentheses between genus and species.
	Subgenus string
	// Species is the second part, without rank or qualifier.
	Species string
	// Infras are the parts below the species, from the highest down.
	Infras []Infra
	// Near is the epithet that an aff. or nr. name is compared with; the animal is
	// another species, so it is no part of the canonical form.
	Near string
	// Original is who described the name; Parenthesised says that they stand in
	// parentheses because the name has since moved. Combination is who moved it.
	Original      Team
	Parenthesised bool
	Combination   Team
	// Hybrid kind, with the parents of a formula. The sign stands before the genus
	// or before the species.
	Hybrid        Hybrid
	HybridGenus   bool
	HybridSpecies bool
	Parents       []Name
	// Surrogate kind and the qualifier as written: "cf.", "sp.", "aff.", "sp. cf.".
	Surrogate  Surrogate
	Annotation string
	// Label is what follows an approximate name: "2", "GM-, 2003".
	Label string
	// Tail is what could not be read as part of the name.
	Tail string
	// Warnings say what was repaired or looks wrong, in reading order.
	Warnings []Warning
}

// Uninomial reports whether the name has one part only.
func (n Name) Uninomial() bool { return n.Genus != "" && n.Species == "" && n.Hybrid != HybridFormula }

// Canonical is the name without authors, subgenus and qualifiers, with the
// ranks of infraspecific parts and hybrid signs kept.
func (n Name) Canonical() string {
	if n.Hybrid == HybridFormula {
		parts := make([]string, len(n.Parents))
		for i, p := range n.Parents {
			parts[i] = p.Canonical()
		}
		s := strings.Join(parts, " × ")
		if len(parts) == 1 {
			s += " ×"
		}
		return s
	}
	var b strings.Builder
	if n.HybridGenus {
		b.WriteString("× ")
	}
	b.WriteString(n.Genus)
	if n.Group != "" {
		b.WriteString(" " + n.GroupRank + " " + n.Group)
	}
	if n.Species != "" {
		if n.HybridSpecies {
			b.WriteString(" ×")
		}
		b.WriteString(" " + n.Species)
	}
	for _, in := range n.Infras {
		if in.Rank != "" {
			b.WriteString(" " + in.Rank)
		}
		b.WriteString(" " + in.Epithet)
	}
	return b.String()
}

// Simple is the canonical form without ranks and hybrid signs: the words by
// which two spellings of one name are compared.
func (n Name) Simple() string {
	if n.Hybrid == HybridFormula {
		return n.Canonical()
	}
	parts := make([]string, 0, 4)
	if n.Group != "" {
		parts = append(parts, n.Group)
	} else {
		parts = append(parts, n.Genus)
	}
	if n.Species != "" {
		parts = append(parts, n.Species)
	}
	for _, in := range n.Infras {
		parts = append(parts, in.Epithet)
	}
	return strings.Join(parts, " ")
}

// Authorship writes the authors in the zoological manner: commas between all
// but the last two, "&" before the last, a comma before the year.
func (n Name) Authorship() string {
	orig, comb := n.Original.String(), n.Combination.String()
	if n.Parenthesised && orig != "" {
		orig = "(" + orig + ")"
	}
	if orig != "" && comb != "" {
		return orig + " " + comb
	}
	return orig + comb
}

// String writes the whole name: canonical form with subgenus, then authors.
func (n Name) String() string {
	s := n.Canonical()
	if n.Subgenus != "" && n.Hybrid != HybridFormula {
		s = strings.Replace(s, n.Genus, n.Genus+" ("+n.Subgenus+")", 1)
	}
	if n.Surrogate != Settled && n.Annotation != "" {
		s = n.qualified(s)
	}
	if a := n.Authorship(); a != "" {
		s += " " + a
	}
	return s
}

// qualified puts the open-nomenclature mark where it belongs: before the last
// epithet it doubts, or after a name that ends with it.
func (n Name) qualified(s string) string {
	if n.Near != "" {
		return s + " " + n.Annotation + " " + n.Near
	}
	if n.Species != "" && !strings.HasPrefix(n.Annotation, "spp") {
		doubted := " " + n.Species
		if n.HybridSpecies {
			doubted = " ×" + doubted
		}
		if i := strings.Index(s, doubted); i >= 0 {
			return s[:i] + " " + n.Annotation + s[i:]
		}
	}
	s += " " + n.Annotation
	if n.Label != "" {
		s += " " + n.Label
	}
	return s
}

// String writes the team: "Bertelsen, Krefft & Marshall, 1976".
func (t Team) String() string {
	s := joinAuthors(t.Authors, t.With)
	if len(t.Ex) > 0 {
		s += " ex " + joinAuthors(t.Ex, false)
	}
	if len(t.In) > 0 {
		s += " in " + joinAuthors(t.In, false)
	}
	if t.Year.Value != "" {
		if s != "" {
			s += ","
		}
		s = strings.TrimSpace(s + " " + t.Year.String())
	}
	if t.Emended != nil {
		s += " emend. " + t.Emended.String()
	}
	return s
}

func joinAuthors(a []string, with bool) string {
	last := " & "
	if with {
		last = " apud "
	}
	switch len(a) {
	case 0:
		return ""
	case 1:
		return a[0]
	default:
		if strings.HasSuffix(a[len(a)-1], " et al.") {
			last = ", "
		}
		return strings.Join(a[:len(a)-1], ", ") + last + a[len(a)-1]
	}
}
