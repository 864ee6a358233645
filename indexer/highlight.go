package indexer

import (
	"slices"
	"strings"
	"unicode/utf8"

	pb "platarium/proto/platarium/v1"
)

// Marks around the words found.
const (
	markBegin = "\x02"
	markEnd   = "\x03"
)

const (
	fragmentLead = 60  // characters shown before the first word found
	fragmentSize = 200 // characters of a fragment
)

// highlightFields are the fields that highlights come from, by the names of the
// contract.
var highlightFields = map[text]string{
	textTitle: "title", textName: "names", textNames: "names", textHigher: "names", textKeywords: "keywords",
	textJob: "job", textNotes: "notes",
}

// placeWords say where a word was found.
var placeWords = [textCount]string{
	textName: "scientific name", textTitle: "title", textNames: "synonyms and vernaculars", textKeywords: "keywords",
	textJob: "job", textHigher: "higher taxa", textAbout: "structures, technique and creators", textSpecimen: "specimen",
	textNotes: "notes",
}

// marker finds the words of a question in a picture's texts once more, to show them.
type marker struct {
	terms    []term
	variants []map[string]float64
	outsider bool
}

func newMarker(terms []term, variants [][]variant, outsider bool) *marker {
	m := &marker{terms: terms, outsider: outsider}
	for _, vs := range variants {
		set := map[string]float64{}
		for _, v := range vs {
			set[v.term] = v.share
		}
		m.variants = append(m.variants, set)
	}
	return m
}

// entry gives the fragments with the words found, and says in one line where the
// words stand, each in its best field.
func (m *marker) entry(e *entry) (highlights []*pb.Highlight, where string) {
	places := make([]string, len(m.terms))
	for f := range textCount {
		if m.outsider && staffOnly(f) {
			continue
		}
		for _, value := range e.texts[f] {
			spans, terms := m.spans(value)
			for _, i := range terms {
				if places[i] == "" { // fields come in falling order of worth
					places[i] = "“" + m.terms[i].text + "” in " + placeWords[f]
				}
			}
			if name := highlightFields[f]; name != "" && len(spans) > 0 {
				highlights = append(highlights, &pb.Highlight{Field: name, Fragment: fragment(value, spans)})
			}
		}
	}
	places = slices.DeleteFunc(places, func(p string) bool { return p == "" })
	return highlights, strings.Join(places, ", ")
}

// span is a stretch of bytes.
type span struct{ start, end int }

// spans finds the words in a text, and which of the terms they are.
func (m *marker) spans(value string) (spans []span, terms []int) {
	tokens := tokenize([]byte(value))
	for i, t := range m.terms {
		hit := false
		for at := range tokens {
			n := len(t.row)
			if at+n > len(tokens) || !m.stands(i, tokens[at:at+n]) {
				continue
			}
			spans = append(spans, span{tokens[at].start, tokens[at+n-1].end})
			hit = true
		}
		if hit {
			terms = append(terms, i)
		}
	}
	slices.SortFunc(spans, func(a, b span) int { return a.start - b.start })
	joined := spans[:0]
	for _, s := range spans {
		if n := len(joined); n > 0 && s.start < joined[n-1].end {
			joined[n-1].end = max(joined[n-1].end, s.end)
			continue
		}
		joined = append(joined, s)
	}
	return joined, terms
}

// stands reports whether term i stands at these tokens.
func (m *marker) stands(i int, tokens []token) bool {
	t := m.terms[i]
	if !t.phrase() {
		return slices.ContainsFunc(tokens[0].forms, func(f string) bool { return m.variants[i][f] > 0 })
	}
	for k, forms := range t.row {
		if !slices.ContainsFunc(tokens[k].forms, func(f string) bool { return slices.Contains(forms, f) }) {
			return false
		}
	}
	return true
}

// fragment cuts the text around the first word found and marks the words.
func fragment(value string, spans []span) string {
	from, to := 0, len(value)
	if utf8.RuneCountInString(value) > fragmentSize {
		from = back(value, spans[0].start, fragmentLead)
		to = forward(value, from, fragmentSize)
	}
	var b strings.Builder
	if from > 0 {
		b.WriteString("…")
	}
	at := from
	for _, s := range spans {
		if s.start < from || s.end > to {
			continue
		}
		b.WriteString(plain(value[at:s.start]) + markBegin + plain(value[s.start:s.end]) + markEnd)
		at = s.end
	}
	b.WriteString(plain(value[at:to]))
	if to < len(value) {
		b.WriteString("…")
	}
	return b.String()
}

// plain takes out what could be mistaken for a mark.
func plain(s string) string { return clean(strings.ToValidUTF8(s, "\uFFFD")) }

// back goes n characters back from a byte position, to the end of a word.
func back(s string, at, n int) int {
	for ; n > 0 && at > 0; n-- {
		_, w := utf8.DecodeLastRuneInString(s[:at])
		at -= w
	}
	return at
}

func forward(s string, at, n int) int {
	for ; n > 0 && at < len(s); n-- {
		_, w := utf8.DecodeRuneInString(s[at:])
		at += w
	}
	return at
}
