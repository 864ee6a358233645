package taxon

// Warning is a flaw that the parser met and lived with.
type Warning uint8

// The flaws, roughly from slight to grave.
const (
	// WarnSpaces: odd or repeated white space, or underscores for spaces.
	WarnSpaces Warning = iota + 1
	// WarnLetters: diacritics or ligatures in a Latin part, replaced.
	WarnLetters
	// WarnExAuthors: ex or in authors are given.
	WarnExAuthors
	// WarnYear: a year in brackets, a range, or followed by a page.
	WarnYear
	// WarnCapitals: authors in capitals, put into ordinary case.
	WarnCapitals
	// WarnApostrophe: an apostrophe or a period inside an epithet, taken out.
	WarnApostrophe
	// WarnNumber: a numeral in an epithet, written out.
	WarnNumber
	// WarnMarkup: HTML tags or entities, taken out.
	WarnMarkup
	// WarnAbbreviated: genus or subgenus is abbreviated.
	WarnAbbreviated
	// WarnParentheses: parentheses don't pair.
	WarnParentheses
	// WarnEncoding: a character lost to a wrong encoding.
	WarnEncoding
	// WarnOpen: the name is open nomenclature.
	WarnOpen
	// WarnDoubt: a question mark stands in the name.
	WarnDoubt
	// WarnHybrid: the name is a hybrid's.
	WarnHybrid
	// WarnTail: something at the end was not understood.
	WarnTail
)

// String says the flaw in words.
func (w Warning) String() string {
	words := [...]string{
		WarnSpaces: "unusual white space", WarnLetters: "letters outside the Latin alphabet were replaced",
		WarnExAuthors: "ex or in authors", WarnYear: "year isn't plain",
		WarnCapitals: "authors in capitals", WarnApostrophe: "apostrophe or period in an epithet",
		WarnNumber: "numeral in an epithet", WarnMarkup: "markup taken out",
		WarnAbbreviated: "abbreviated name", WarnParentheses: "parentheses don't pair",
		WarnEncoding: "character lost to a wrong encoding", WarnOpen: "open nomenclature",
		WarnDoubt: "question mark in the name", WarnHybrid: "name of a hybrid",
		WarnTail: "text after the name was not understood",
	}
	if int(w) < len(words) {
		return words[w]
	}
	return "unknown warning"
}

// Quality grades a parsed name: 1 clean, 2 slight flaws, 3 repaired, 4 parts
// doubtful or unread; 0 when nothing was parsed.
func (n Name) Quality() int {
	if n.Genus == "" && len(n.Parents) == 0 {
		return 0
	}
	q := 1
	for _, w := range n.Warnings {
		q = max(q, w.grade())
	}
	return q
}

func (w Warning) grade() int {
	switch w {
	case WarnTail, WarnOpen, WarnDoubt, WarnEncoding, WarnParentheses:
		return 4
	case WarnYear, WarnApostrophe, WarnNumber, WarnMarkup:
		return 3
	default:
		return 2
	}
}
