package indexer

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// Limits of the words of a question.
const (
	maxText  = 500 // characters
	maxWords = 16  // words, those in quotation marks included
)

// term is one thing that must occur: a word, or several words in a row.
type term struct {
	text string     // as written
	row  [][]string // for each word its forms
	last bool       // the word at the very end, which may be unfinished
}

func (t term) phrase() bool { return len(t.row) > 1 }

// curly brings quotation marks to one form.
var curly = strings.NewReplacer("“", `"`, "”", `"`, "„", `"`, "«", `"`, "»", `"`)

// parseText reads the words of a question. Quotation marks, straight or curly,
// keep words together; one that isn't closed reaches to the end. Everything else
// is words: there are no operators.
func parseText(s string) ([]term, error) {
	if !utf8.ValidString(s) {
		return nil, &FieldError{Field: "text", Found: "bytes that are no text", Want: "UTF-8"}
	}
	if n := utf8.RuneCountInString(s); n > maxText {
		return nil, &FieldError{Field: "text", Found: fmt.Sprintf("%d characters", n), Want: fmt.Sprintf("at most %d", maxText)}
	}
	var terms []term
	count := 0
	parts := strings.Split(curly.Replace(s), `"`)
	for i, part := range parts {
		tokens := tokenize([]byte(part))
		count += len(tokens)
		quoted := i%2 == 1
		var row [][]string
		for _, t := range tokens {
			row = append(row, t.forms)
			if !quoted {
				terms = append(terms, term{text: part[t.start:t.end], row: [][]string{t.forms}})
			}
		}
		if quoted && len(row) > 0 {
			terms = append(terms, term{text: strings.TrimSpace(part), row: row})
		}
		if i == len(parts)-1 && !quoted && len(tokens) > 0 && tokens[len(tokens)-1].end == len(part) {
			terms[len(terms)-1].last = true
		}
	}
	if count > maxWords {
		return nil, &FieldError{Field: "text", Found: fmt.Sprintf("%d words", count), Want: fmt.Sprintf("at most %d", maxWords)}
	}
	return terms, nil
}
