package taxaimport

import (
	"regexp"
	"strconv"
	"strings"

	"platarium/indexer/taxon"
)

// agreement of two statements, either of which may be missing.
type agreement int

const (
	unknown agreement = iota // one side says nothing
	agrees
	differs
)

var yearPattern = regexp.MustCompile(`\b1[789]\d\d\b|\b20\d\d\b`)

// yearsApart is how far the years of one publication may differ between lists: works came out in parts, and were dated by title page or by day of issue.
// Common practice, no source.
const yearsApart = 2

// sameAuthors compares two authorships: one author in common, in full or abbreviated, and years that don't contradict. Parentheses don't count, since
// they follow the genus that the list uses.
func sameAuthors(a, b string) agreement {
	x, y := authorWords(a), authorWords(b)
	if len(x) == 0 || len(y) == 0 {
		return unknown
	}
	if p, q := yearOf(a), yearOf(b); p != 0 && q != 0 && max(p-q, q-p) > yearsApart {
		return differs
	}
	for _, v := range x {
		for _, w := range y {
			if strings.HasPrefix(v, w) || strings.HasPrefix(w, v) {
				return agrees
			}
		}
	}
	return differs
}

func yearOf(s string) int {
	n, _ := strconv.Atoi(yearPattern.FindString(s)) // nothing found is year 0
	return n
}

// authorWords lists surnames, folded: no years, particles or initials, unless nothing else is there (L. for Linnaeus).
func authorWords(s string) []string {
	var words, short []string
	for _, w := range strings.FieldsFunc(taxon.Fold(yearPattern.ReplaceAllString(s, "")), func(r rune) bool { return strings.ContainsRune(" ,;()[]&", r) }) {
		switch {
		case w == "et" || w == "and" || w == "in" || w == "ex" || w == "von" || w == "van" || w == "der" || w == "de":
		case len(w) > 2:
			words = append(words, w)
		default:
			short = append(short, w)
		}
	}
	if len(words) == 0 {
		return short
	}
	return words
}
