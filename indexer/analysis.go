package indexer

import (
	"bytes"
	"strings"

	"github.com/blevesearch/bleve/v2/analysis"
	"github.com/blevesearch/bleve/v2/analysis/char/asciifolding"
	"github.com/blevesearch/bleve/v2/analysis/tokenizer/unicode"
	"golang.org/x/text/unicode/norm"
)

// maxTerm bounds a term in bytes; longer ones are cut, in the index and in the
// question alike.
const maxTerm = 64

// speller writes letters out as northern spellings do: Müller also as Mueller.
var speller = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "ø", "oe", "å", "aa")

// folding takes diacritics off letters. It holds no state.
var folding = asciifolding.New()

// forms are the terms under which a word is indexed: without diacritics, and
// written out where that differs.
func forms(word []byte) []string {
	if ascii(word) {
		return []string{cut(strings.ToLower(string(word)))}
	}
	lower := strings.ToLower(norm.NFC.String(string(word)))
	plain := cut(string(folding.Filter([]byte(lower))))
	if out := cut(string(folding.Filter([]byte(speller.Replace(lower))))); out != plain {
		return []string{plain, out}
	}
	return []string{plain}
}

func ascii(word []byte) bool {
	for _, b := range word {
		if b >= 0x80 {
			return false
		}
	}
	return true
}

// cut shortens a term to maxTerm bytes at a letter's edge.
func cut(s string) string {
	if len(s) <= maxTerm {
		return s
	}
	n := maxTerm
	for n > 0 && s[n]&0xc0 == 0x80 {
		n--
	}
	return s[:n]
}

// token is a word of a text: its bytes from start to end, and its forms.
type token struct {
	start, end int
	forms      []string
}

// tokenize splits text into words by Unicode's rules (UAX 29).
func tokenize(text []byte) []token {
	words := unicode.NewUnicodeTokenizer().Tokenize(text)
	out := make([]token, 0, len(words))
	for _, w := range words {
		if fs := forms(w.Term); fs[0] != "" {
			out = append(out, token{start: w.Start, end: w.End, forms: fs})
		}
	}
	return out
}

// analyzer gives bleve the words of a text: every form a term, those of one word
// at one place.
type analyzer struct{}

// Analyze implements analysis.Analyzer.
func (analyzer) Analyze(text []byte) analysis.TokenStream {
	tokens := tokenize(text)
	out := make(analysis.TokenStream, 0, len(tokens))
	for i, t := range tokens {
		for _, f := range t.forms {
			out = append(out, &analysis.Token{Term: []byte(f), Start: t.start, End: t.end, Position: i + 1})
		}
	}
	return out
}

// listAnalyzer turns a list of conditions into one term each, as they are.
type listAnalyzer struct{}

// Analyze implements analysis.Analyzer.
func (listAnalyzer) Analyze(text []byte) analysis.TokenStream {
	parts := bytes.Split(text, []byte(itemSep))
	out := make(analysis.TokenStream, 0, len(parts))
	for i, p := range parts {
		if len(p) > 0 {
			out = append(out, &analysis.Token{Term: p, Position: i + 1})
		}
	}
	return out
}
