package taxon

import (
	"html"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

type tokenKind uint8

const (
	tokWord   tokenKind = iota // letters, inner hyphens and apostrophes, one period at the end
	tokNumber                  // digits, with at most one letter after them
	tokMixed                   // letters and digits together
	tokPunct                   // one character
)

// token is a piece of the cleaned string; from and to are byte offsets there.
type token struct {
	kind     tokenKind
	text     string
	from, to int
}

// dotted reports whether a word ends with a period.
func (t token) dotted() bool { return t.kind == tokWord && strings.HasSuffix(t.text, ".") }

func (t token) is(punct string) bool { return t.kind == tokPunct && t.text == punct }

// lex cuts a cleaned string into tokens. White space only separates.
func lex(s string) []token {
	var out []token
	for i := 0; i < len(s); {
		r, w := utf8.DecodeRuneInString(s[i:])
		if r == ' ' {
			i += w
			continue
		}
		var t token
		switch {
		case wordRune(r) || r == '\'':
			t = lexWord(s, i)
		case unicode.IsDigit(r):
			t = lexNumber(s, i)
		default:
			t = token{kind: tokPunct, text: s[i : i+w], from: i, to: i + w}
		}
		out = append(out, t)
		i = t.to
	}
	return out
}

func wordRune(r rune) bool {
	return unicode.IsLetter(r) || unicode.Is(unicode.M, r) || r == utf8.RuneError
}

// lexWord reads letters; a hyphen, an apostrophe or an underscore joins what
// follows, and so does a period before a hyphen (J.-J., st.-johnii).
func lexWord(s string, from int) token {
	kind, i := tokWord, from
	for i < len(s) {
		r, w := utf8.DecodeRuneInString(s[i:])
		switch {
		case wordRune(r) || r == '\'' || r == '-':
		case unicode.IsDigit(r) || r == '_' || r == '[' || r == ']':
			if r == '[' && !letterAt(s, i+w) || r == ']' && kind != tokMixed {
				return token{kind: kind, text: s[from:i], from: from, to: i}
			}
			kind = tokMixed
		case r == '.' && strings.HasPrefix(s[i+w:], "-") && letterAt(s, i+w+1):
		case r == '.':
			return token{kind: kind, text: s[from : i+w], from: from, to: i + w}
		default:
			return token{kind: kind, text: s[from:i], from: from, to: i}
		}
		i += w
	}
	return token{kind: kind, text: s[from:i], from: from, to: i}
}

func letterAt(s string, i int) bool {
	if i >= len(s) {
		return false
	}
	r, _ := utf8.DecodeRuneInString(s[i:])
	return unicode.IsLetter(r)
}

// lexNumber reads digits; letters right behind them or behind a hyphen make it
// a mixed token (13punctatus, 4-gibbus), a single letter doesn't (1887a).
func lexNumber(s string, from int) token {
	i := from
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	if i == from { // a digit of another script
		_, w := utf8.DecodeRuneInString(s[from:])
		return token{kind: tokMixed, text: s[from : from+w], from: from, to: from + w}
	}
	j := i
	if j < len(s) && (s[j] == '-' || s[j] == '.' && i-from <= 2) && letterAt(s, j+1) {
		j++
	}
	k := j
	for k < len(s) {
		r, w := utf8.DecodeRuneInString(s[k:])
		if !wordRune(r) && r != '-' && !unicode.IsDigit(r) {
			break
		}
		k += w
	}
	switch {
	case k == j || s[j] == '-':
		return token{kind: tokNumber, text: s[from:i], from: from, to: i}
	case k == i+1:
		return token{kind: tokNumber, text: s[from:k], from: from, to: k}
	default:
		return token{kind: tokMixed, text: s[from:k], from: from, to: k}
	}
}

var tags = regexp.MustCompile(`</?[A-Za-z][^<>]{0,200}>`)

// clean prepares a string for lexing: markup and odd white space go, quotation
// marks and apostrophes become plain. tail is the text behind a quotation, or
// the quotation when it ends the string.
func clean(s string, warn func(Warning)) (cleaned, tail string) {
	if strings.ContainsAny(s, "<&") {
		t := html.UnescapeString(tags.ReplaceAllString(s, ""))
		if t != s {
			warn(WarnMarkup)
		}
		s = t
	}
	if !strings.Contains(strings.TrimSpace(s), " ") && strings.Contains(s, "_") {
		s = strings.ReplaceAll(s, "_", " ")
		warn(WarnSpaces)
	}
	s = norm.NFC.String(strings.ToValidUTF8(s, "\uFFFD"))
	var b strings.Builder
	for _, r := range s {
		switch r {
		case '’', '‘', '`', '´', 'ʼ', '‛':
			warn(WarnApostrophe)
			b.WriteByte('\'')
		case '“', '”', '„', '«', '»':
			b.WriteByte('"')
		case '†', '\u200b', '\ufeff':
		case '‐', '‑', '–', '—':
			b.WriteByte('-')
		case '✕', '╳', '⨉':
			b.WriteRune('×')
		case utf8.RuneError:
			warn(WarnEncoding)
			b.WriteRune(r)
		default:
			if r != ' ' && unicode.IsSpace(r) {
				warn(WarnSpaces)
				r = ' '
			}
			b.WriteRune(r)
		}
	}
	cleaned = strings.TrimPrefix(strings.TrimSpace(b.String()), "Candidatus ")
	if i := strings.IndexByte(cleaned, '"'); i > 0 {
		tail = cleaned[strings.LastIndexByte(cleaned, '"')+1:]
		if tail == "" {
			tail = cleaned[i:]
		}
		cleaned = strings.TrimRight(cleaned[:i], " ")
	}
	return cleaned, tail
}

// notes finds text about a name that follows it: the sense in which it is used,
// its standing under the code, the state of the manuscript.
var notes = regexp.MustCompile(`[\s,;:(\[]+(?:` + strings.Join([]string{
	`(?i:sensu|sec|nec|vide|auctt?|sensu lat|sensu str)(?:[.\s]|$)`, `non\s`,
	`s\.\s?(?:str|s|l|lat|ampl)\.`, `ss\.`, `(?i:p\.\s?p\.)`,
	`(?i:nomen\s|nom\.\s?)[a-z]`, `(?i:comb|gen|stat|subsp|ssp|var|nom)\.?\s(?i:nov|n)\b`,
	`(?i:nov|n)\.?\s(?i:comb|gen|stat|spec|subsp|ssp|sp|var)\b`, `(?i:sp|spec)\.?\s(?i:nov|n)\b`,
	`spec\.(?:\s|$)`, `str\.\s`, `pro (?:sp|syn|parte|hybr)`, `(?:species|sp\.) (?:complex|group|aggregate|agg)\b`,
	`(?:Ms|MS|ms)\.?$`, `CF$`, `(?i:ined|in litt|in press)\b`, `(?i:not) (?i:found|applicable|available|given|stated)`,
	`(?i:synonym|misspelling|misapplied|homonym|preoccupied|lapsus)\b`,
	`cv\.`, `agg\.`, `\(?Approved Lists`,
}, "|") + `)`)

// cutNotes splits a cleaned string before the first such note.
func cutNotes(s string) (head, note string) {
	first := strings.IndexByte(s, ' ')
	for _, m := range notes.FindAllStringIndex(s, -1) {
		at := strings.TrimLeft(s[m[0]:m[1]], " ")
		if m[0] == 0 || m[0] <= first && (strings.HasPrefix(at, "sp") && !strings.HasPrefix(at, "spec.")) {
			continue
		}
		return s[:m[0]], s[m[0]:]
	}
	return s, ""
}

// noName recognises strings that stand where a name is missing, and the names
// of viruses, which no code covered here rules.
var noName = regexp.MustCompile(`(?i)^(?:not?|none|unn?amed|unidentified|unknown|undetermined|undet|indet|indetermined|uncultured|` +
	`undescribed|unassigned|unclassified|unranked|unplaced|various|no)\b|incertae\s*sedis|\binc\.?\s?sed\.|` +
	`^\S*(?:virus|viruses|viroid|phage|virion)\b|\s(?:virus|viruses|viroid|phage|phages|virion|prion)\b`)
