package taxon

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// stripMark takes the diacritical marks off a letter.
func stripMark(r rune) string {
	d := norm.NFD.String(string(r))
	var b strings.Builder
	for _, c := range d {
		if !unicode.Is(unicode.Mn, c) {
			b.WriteRune(c)
		}
	}
	return b.String()
}

// Fold makes the form in which names and vernaculars are compared: lower case,
// no diacritics, ligatures spread, hyphens as spaces, apostrophes dropped,
// white space single. German umlauts fold to the vowel with e.
func Fold(s string) string {
	var b strings.Builder
	b.Grow(len(s))
	space := false
	for _, r := range strings.ToLower(norm.NFC.String(s)) {
		switch {
		case unicode.IsSpace(r) || r == '-' || r == '_' || r == '‐' || r == '–':
			space = b.Len() > 0
			continue
		case r == '\'' || r == '’' || r == '‘' || r == '`' || r == '´' || r == '.' || unicode.Is(unicode.Mn, r):
			continue
		}
		if space {
			b.WriteByte(' ')
			space = false
		}
		if r < 0x80 {
			b.WriteByte(byte(r))
		} else {
			b.WriteString(latinLetters(r))
		}
	}
	return b.String()
}
