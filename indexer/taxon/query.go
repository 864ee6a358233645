package taxon

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// query is a written name, read in the ways that a name can be meant.
type query struct {
	keys    []string // spellings to look up: scientific words, and the text as it stands
	key     string   // the spelling for likeness
	genus   string   // folded genus of a name with more than a genus
	epithet string   // folded epithet of a species
	open    bool     // sp., aff. and the like
	author  string   // folded authors, for telling homonyms apart
	parsed  Name
}

func newQuery(name string) *query {
	if len(name) > MaxNameLength {
		return nil
	}
	raw := Fold(name)
	if raw == "" {
		return nil
	}
	q := &query{key: raw, keys: []string{raw}}
	n, err := Parse(sentenceCase(name))
	if err != nil {
		return q
	}
	q.parsed, q.open = n, n.Surrogate != Settled
	if key := Fold(n.Simple()); key != raw && n.Hybrid != HybridFormula {
		q.keys = append(q.keys, key)
		if n.Tail == "" || n.Species != "" {
			q.key = key
		}
	}
	if n.Species != "" || n.Near != "" {
		q.genus, q.epithet = Fold(n.Genus), Fold(n.Species)
	}
	q.author = Fold(strings.Join(append(slices.Clone(n.Original.Authors), n.Original.Year.Value), " "))
	return q
}

// sentenceCase gives a name the capitals that parsing expects: names typed all
// in small or all in capital letters are common.
func sentenceCase(s string) string {
	s = strings.TrimSpace(s)
	r, n := utf8.DecodeRuneInString(s)
	if s == strings.ToUpper(s) {
		return string(unicode.ToUpper(r)) + strings.ToLower(s[n:])
	}
	return string(unicode.ToUpper(r)) + s[n:]
}
