package taxon

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// The vocabulary of the parser. Lists are common practice of both codes of
// nomenclature unless a source is named; membership is asked through the
// functions below.

// infraRank gives the normal form of a rank below the species, or "" when the
// word is none.
func infraRank(w string) string {
	switch strings.TrimSuffix(w, ".") {
	case "subsp", "ssp", "subspec", "subspecies", "sbsp", "subssp":
		return "subsp."
	case "var", "variety", "varietas", "v":
		return "var."
	case "f", "fo", "fa", "fm", "fma", "form", "forma", "forme":
		return "f."
	case "subvar", "subv", "sv", "svar":
		return "subvar."
	case "subf", "sf", "subforma":
		return "subf."
	case "nothosubsp":
		return "nothosubsp."
	case "nothossp":
		return "nothossp."
	case "convar", "morph", "prol", "agamovar", "agamosp", "agamossp", "agamosubsp",
		"nothovar", "nothof", "nothosp", "ab", "st", "mut", "monst", "pv", "pathovar", "biovar",
		"lusus", "race", "m", "nat", "modif", "prov", "cult", "k", "microgene", "subg":
		return strings.TrimSuffix(w, ".") + "."
	case "aberration", "aberr":
		return "ab."
	case "natio", "mutatio", "morpha", "proles", "stirps", "phase":
		return strings.TrimSuffix(w, ".")
	default:
		return ""
	}
}

// undottedRank reports whether a rank is recognised when no period follows:
// the words nobody would publish as an epithet, or would hardly.
func undottedRank(w string) bool {
	switch w {
	case "v", "m", "st", "ab", "k", "nat", "mut", "prov", "cult", "race", "phase", "lusus", "modif", "subg":
		return false
	}
	return infraRank(w) != ""
}

// groupRank gives the normal form of a rank between genus and species or
// between family and genus.
func groupRank(w string) string {
	bare := strings.TrimSuffix(w, ".")
	switch bare {
	case "subgenus", "subg", "subgen", "sg":
		return "subgen."
	case "tr", "trib", "tribe":
		return "trib."
	case "subtr", "subtrib":
		return "subtrib."
	case "supertr", "supertrib":
		return "supertrib."
	case "sect", "section":
		return "sect."
	case "subsect", "subsection":
		return "subsect."
	case "ser", "series":
		return "ser."
	case "subser", "supersect", "superser", "unr", "nothosect", "nothoser",
		"nothosubsect", "nothosubser", "nothosubg", "nothosubgen", "nothotrib", "subfam", "fam":
		return bare + "."
	case "div", "subdiv":
		return w
	default:
		return ""
	}
}

// epithetLikeRank reports whether an undotted rank has been published as an
// epithet too (Serina ser, Serina subser), so that the next word must decide.
func epithetLikeRank(w string) bool {
	switch w {
	case "ser", "subser", "series", "section", "tribe", "fam":
		return true
	}
	return false
}

// particle reports whether a lower-case word can stand before or inside a
// surname: von, de la, van der.
func particle(w string) bool {
	switch w {
	case "de", "du", "di", "da", "do", "dos", "das", "des", "del", "della", "dello", "dei", "delle",
		"degli", "dal", "dalla", "dall", "der", "den", "dem", "d", "d.", "v", "v.", "van", "vander", "vanden",
		"vom", "von", "von.", "zu", "zum", "zur", "le", "la", "les", "lo", "los", "las", "el", "al", "af", "av",
		"auf", "am", "an", "ten", "ter", "ver", "bin", "ibn", "ben", "mac", "'t", "t'", "in't", "op", "s'", "'s",
		"y.", "i", "och", "z", "ze":
		return true
	}
	return false
}

// weakParticle reports whether a particle in the place of an epithet is more
// likely the epithet, unless its surname is one that is written with it.
func weakParticle(w string) bool {
	switch w {
	case "da", "do", "dos", "das", "des", "den", "der", "dem", "la", "las", "los", "lo", "van", "zu", "an", "am",
		"ver", "ben", "i", "y", "z", "ze", "op", "mac", "och", "al", "el", "auf", "dei", "bin":
		return true
	}
	return false
}

// takesParticle reports whether a surname is written with a particle before it
// (da Silva, dos Santos, van Hasselt). From memory; naturalists' names.
func takesParticle(surname string) bool {
	switch surname {
	case "Silva", "Costa", "Cunha", "Rocha", "Fonseca", "Cruz", "Graça", "Gama", "Motta", "Mota",
		"Santos", "Reis", "Anjos", "Passos", "Ramos", "Nascimento", "Carmo",
		"Hasselt", "Beneden", "Tyne", "Dyke", "Dam", "Duzee", "Someren", "Rossem", "Emden", "Oort", "Wyk",
		"Zyl", "Niekerk", "Neer", "Bruggen", "Straelen", "Soest", "Heurck", "Tieghem", "Hall", "Houtte",
		"Wied", "Wied-Neuwied", "Bassri", "Llave", "Torre", "Cerda":
		return true
	}
	return false
}

// neverEpithet reports whether a lower-case word is text about a name rather
// than part of it.
func neverEpithet(w string) bool {
	switch w {
	case "of", "ex", "et", "and", "und", "in", "non", "nec", "sensu", "auct", "auctt", "y", "or", "the", "with",
		"from", "by", "for", "at", "on", "to", "is", "are", "sp", "spp", "cf", "aff", "nr", "near", "var", "subsp",
		"ssp", "f", "fil", "filius", "et.", "apud", "emend", "emended", "hort", "sec", "vel", "vide", "pro", "mihi",
		"ined", "nov", "nomen", "complex", "group", "aggregate", "agg", "ms", "x", "like", "species", "subspecies",
		"hybrid", "juvenile", "juveniles", "juv", "adult", "adults", "male", "female", "larva", "larvae", "eggs", "partim", "part", "anon", "syn", "synonym", "bis":
		return true
	}
	return false
}

// numerals are the Latin number words that replace figures in old epithets
// (12-spinosa is written duodecimspinosa under both codes).
var numerals = map[int]string{
	1: "uni", 2: "bi", 3: "tri", 4: "quadri", 5: "quinque", 6: "sex", 7: "septem", 8: "octo", 9: "novem",
	10: "decem", 11: "undecim", 12: "duodecim", 13: "tredecim", 14: "quatuordecim", 15: "quindecim",
	16: "sedecim", 17: "septendecim", 18: "octodecim", 19: "novemdecim", 20: "viginti",
	21: "vigintiuno", 22: "vigintiduo", 23: "vigintitre", 24: "vigintiquatuor", 25: "vigintiquinque",
	26: "vigintisex", 27: "vigintiseptem", 28: "vigintiocto", 30: "triginta", 31: "trigintauno",
	32: "trigintaduo", 38: "trigintaocto", 40: "quadraginta", 100: "centum",
}

// latinLetters replaces a letter outside the Latin alphabet of the codes.
// German umlauts, ligatures and the o with stroke become two letters, all other
// marked letters lose the mark (ICZN 1999, Art. 32.5.2; ICN Art. 60.7).
func latinLetters(r rune) string {
	switch r {
	case 'ä', 'æ', 'ǽ':
		return "ae"
	case 'ö', 'œ', 'ø':
		return "oe"
	case 'ü':
		return "ue"
	case 'Ä', 'Æ', 'Ǽ':
		return "Ae"
	case 'Ö', 'Œ', 'Ø':
		return "Oe"
	case 'Ü':
		return "Ue"
	case 'ß':
		return "ss"
	case 'ſ':
		return "s"
	case 'đ', 'ð':
		return "d"
	case 'ł':
		return "l"
	case 'ı':
		return "i"
	case 'þ':
		return "th"
	}
	return stripMark(r)
}

// latinise writes a word of a name in the plain Latin alphabet and reports
// whether that changed anything.
func latinise(w string) (string, bool) {
	if isASCII(w) {
		return w, false
	}
	var b strings.Builder
	changed := false
	for _, r := range w {
		if r < utf8.RuneSelf || r == utf8.RuneError {
			b.WriteRune(r)
			continue
		}
		s := latinLetters(r)
		changed = changed || s != string(r)
		b.WriteString(s)
	}
	return b.String(), changed
}

func isASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// latinGenus reports whether a capitalised word has the look of a genus rather
// than of a surname, judged by its ending. Used only where both could stand.
func latinGenus(w string) bool {
	if surname(w) {
		return false
	}
	for _, s := range []string{"a", "us", "um", "is", "es", "os", "as", "ys", "on", "ax", "ex", "ix", "yx", "ox",
		"ps", "ere", "ene", "ome", "yne", "ane", "one", "ole", "ele", "ile", "oe", "phe", "the", "che", "dae", "nae", "ae"} {
		if strings.HasSuffix(w, s) {
			return true
		}
	}
	return false
}

// surname reports whether a capitalised word ends as surnames do and genera don't.
func surname(w string) bool {
	for _, s := range []string{"son", "ton", "man", "mann", "sen", "ski", "sky", "vna", "ov", "ev", "off", "eff", "ez", "ich",
		"berg", "ley", "ford", "wood", "smith", "ger", "elli", "etti", "ini"} {
		if strings.HasSuffix(w, s) {
			return true
		}
	}
	return false
}

func isUpper(s string) bool {
	r, _ := utf8.DecodeRuneInString(s)
	return unicode.IsUpper(r)
}

func isLower(s string) bool {
	r, _ := utf8.DecodeRuneInString(s)
	return unicode.IsLower(r)
}
