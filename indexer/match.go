package indexer

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/blevesearch/bleve/v2/index/scorch"
)

// wordWeights say what a word is worth by where and how it stands. They have no
// unit but Text, which is in the points of rank.Weights. All are common practice,
// no source: who types a name means the animal, a title is chosen with more care
// than a note.
type wordWeights struct {
	// Text is what all the words bring in the best field, whole.
	Text float64
	// Field is the worth of a field.
	Field [textCount]float64
	// Begun and Alike are the shares of a word that is only begun with, and of one
	// with a letter changed. Asked for as a row, words are worth Row times as much.
	Begun, Alike, Row float64
}

func defaultWordWeights() wordWeights {
	return wordWeights{
		Text: 3,
		Field: [textCount]float64{
			textName: 4, textTitle: 3, textNames: 3, textKeywords: 2, textJob: 2, textHigher: 1.5, textAbout: 1.5,
			textSpecimen: 1, textNotes: 1,
		},
		Begun: 0.8, Alike: 0.6, Row: 1.2,
	}
}

// Limits of what one word may cost.
const (
	minBegun  = 3    // letters before a word counts as begun
	minAlike  = 5    // letters before one may be changed
	maxListed = 5000 // terms of a field that are looked through for a begun word
	maxStands = 64   // terms that a begun or changed word stands for, the most frequent
)

// staffOnly are the fields that an outsider's words don't reach.
func staffOnly(t text) bool {
	return t == textNotes || t == textJob || t == textKeywords || t == textSpecimen
}

// hits are the pictures that have all words, with the worth of the text in each.
type hits struct {
	ords  []uint32 // rising
	worth []float32
}

// matcher finds the pictures that have all words. It works in arrays over all
// pictures, taken from a pool.
type matcher struct {
	snap    *scorch.IndexSnapshot
	docs    *docs
	fields  []text
	weights wordWeights
	reader  postingsReader
	*scratch
}

type scratch struct {
	sum, best []float32
	words     []uint8 // how many of the words so far a picture has
	touched   []uint32
}

var scratches = sync.Pool{New: func() any { return new(scratch) }}

// newMatcher borrows scratch arrays; the caller calls release.
func newMatcher(g *generation, snap *scorch.IndexSnapshot, outsider bool) (*matcher, error) {
	d, err := g.ordinals.of(snap)
	if err != nil {
		return nil, err
	}
	s, _ := scratches.Get().(*scratch)
	n := len(g.cols.live)
	s.sum = slices.Grow(s.sum[:0], n)[:n]
	s.best = slices.Grow(s.best[:0], n)[:n]
	s.words = slices.Grow(s.words[:0], n)[:n]
	clear(s.best)
	m := &matcher{snap: snap, docs: d, weights: defaultWordWeights(), scratch: s}
	for t := range textCount {
		if !outsider || !staffOnly(t) {
			m.fields = append(m.fields, t)
		}
	}
	return m, nil
}

func (m *matcher) release() { scratches.Put(m.scratch) }

// variant is a term of the index that a word of the question stands for.
type variant struct {
	term   string
	share  float64 // of the word's worth
	fields uint16  // where it occurs: bit 1<<text
}

const everyField = 1<<textCount - 1

// found is what match made of a question's words.
type found struct {
	hits
	variants [][]variant // for each term of the question; empty for rows
	remarks  []string
}

// match finds the pictures that have all terms as they stand; if there are none,
// those with one letter changed in the longer words, and says so.
func (m *matcher) match(ctx context.Context, terms []term) (found, error) {
	var f found
	for _, t := range terms {
		v, err := m.asWritten(t, &f)
		if err != nil {
			return f, err
		}
		f.variants = append(f.variants, v)
	}
	alone, err := m.all(ctx, terms, &f)
	if err != nil || len(f.ords) > 0 {
		return f, err
	}
	if !slices.Contains(alone, false) { // each word occurs, but never together
		return f, nil
	}
	for i, t := range terms {
		if alone[i] || t.phrase() || utf8.RuneCountInString(t.row[0][0]) < minAlike {
			continue
		}
		if err := m.widen(i, t, &f); err != nil {
			return f, err
		}
	}
	_, err = m.all(ctx, terms, &f)
	return f, err
}

// asWritten are the terms of a word: its forms, and what it begins if it may be
// unfinished.
func (m *matcher) asWritten(t term, f *found) ([]variant, error) {
	if t.phrase() {
		return nil, nil
	}
	var out []variant
	for _, form := range t.row[0] {
		out = append(out, variant{form, 1, everyField})
	}
	if !t.last || utf8.RuneCountInString(t.row[0][0]) < minBegun {
		return out, nil
	}
	l := listing{out: out}
	for _, form := range t.row[0] {
		for _, field := range m.fields {
			if err := m.begun(form, field, &l); err != nil {
				return nil, err
			}
		}
	}
	out, cut := l.variants(m.weights.Begun)
	if cut {
		f.remarks = append(f.remarks, fmt.Sprintf("“%s” begins many words; only the most frequent were looked for", t.text))
	}
	return out, nil
}

// widen adds to the terms of word i those that differ by one letter or by two
// neighbors exchanged.
func (m *matcher) widen(i int, t term, f *found) error {
	l := listing{out: f.variants[i]}
	exact := len(l.out)
	form := t.row[0][0]
	for _, field := range m.fields {
		dict, err := m.snap.FieldDictFuzzy(textFields[field], form, 1, "")
		if err := l.add(dict, err, field); err != nil {
			return err
		}
		if err := m.have(exchanged(form), field, &l); err != nil {
			return err
		}
	}
	f.variants[i], _ = l.variants(m.weights.Alike)
	var like []string
	for _, v := range f.variants[i][exact:] {
		if len(like) < 3 {
			like = append(like, "“"+v.term+"”")
		}
	}
	if len(like) > 0 {
		f.remarks = append(f.remarks, fmt.Sprintf("nothing has “%s”; looked for %s instead", t.text, strings.Join(like, ", ")))
	}
	return nil
}

// exchanged are the words with two neighboring letters exchanged.
func exchanged(word string) []string {
	var out []string
	r := []rune(word)
	for i := 0; i+1 < len(r); i++ {
		if r[i] != r[i+1] {
			r[i], r[i+1] = r[i+1], r[i]
			out = append(out, string(r))
			r[i], r[i+1] = r[i+1], r[i]
		}
	}
	return out
}

// all leaves in f the pictures that have every term, and reports which terms
// occur at all.
func (m *matcher) all(ctx context.Context, terms []term, f *found) (alone []bool, err error) {
	clear(m.sum)
	clear(m.words)
	most := 0.0
	for i, t := range terms {
		m.touched = m.touched[:0]
		for _, field := range m.fields {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			if t.phrase() {
				err = m.row(t, field)
			} else {
				err = m.word(f.variants[i], field)
			}
			if err != nil {
				return nil, err
			}
		}
		alone = append(alone, len(m.touched) > 0)
		share := 1.0
		if t.phrase() {
			share = m.weights.Row * float64(len(t.row))
		}
		most += share
		for _, ord := range m.touched {
			if int(m.words[ord]) == i {
				m.words[ord]++
				m.sum[ord] += m.best[ord] * float32(share)
			}
			m.best[ord] = 0
		}
	}
	f.ords, f.worth = f.ords[:0], f.worth[:0]
	m.rising()
	scale := float32(m.weights.Text / (most * slices.Max(m.weights.Field[:])))
	for _, ord := range m.touched {
		if int(m.words[ord]) == len(terms) {
			f.ords = append(f.ords, ord)
			f.worth = append(f.worth, m.sum[ord]*scale)
		}
	}
	return alone, nil
}

// rising puts the touched ordinals in order; where they are many, by going over
// all instead of sorting.
func (m *matcher) rising() {
	if len(m.touched) < len(m.words)/32 {
		slices.Sort(m.touched)
		return
	}
	m.touched = m.touched[:0]
	for ord, n := range m.words {
		if n > 0 {
			m.touched = append(m.touched, uint32(ord))
		}
	}
}
