package indexer

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"

	index "github.com/blevesearch/bleve_index_api"
	segment "github.com/blevesearch/scorch_segment_api/v2"
)

// listing gathers the terms that a word may stand for.
type listing struct {
	out  []variant // what it stands for already
	more map[string]*listed
	cut  bool
}

type listed struct {
	count  uint64
	fields uint16
}

// begun lists the words of a field that begin with these letters, segment by
// segment.
func (m *matcher) begun(letters string, field text, l *listing) error {
	// The end of the range: no term has a byte 0xff, which no UTF-8 has.
	from, to := []byte(letters), []byte(letters+"\xff")
	for _, seg := range m.snap.Segments() {
		dict, err := seg.Segment().Dictionary(textFields[field])
		if err != nil {
			return fmt.Errorf("list words: %w", err)
		}
		if err := l.all(dict.AutomatonIterator(nil, from, to), field); err != nil {
			return err
		}
	}
	return nil
}

// have lists those of some words that a field has.
func (m *matcher) have(words []string, field text, l *listing) error {
	for _, seg := range m.snap.Segments() {
		dict, err := seg.Segment().Dictionary(textFields[field])
		for _, w := range words {
			ok := false
			if err == nil {
				ok, err = dict.Contains([]byte(w))
			}
			if err != nil {
				return fmt.Errorf("list words: %w", err)
			}
			if ok {
				l.take(&index.DictEntry{Term: w, Count: 1}, field)
			}
		}
	}
	return nil
}

// add goes through a dictionary of a field; err is that of opening it.
func (l *listing) add(dict index.FieldDict, err error, field text) error {
	if err != nil {
		return fmt.Errorf("list words: %w", err)
	}
	if err := errors.Join(l.all(dict, field), dict.Close()); err != nil {
		return fmt.Errorf("list words: %w", err)
	}
	return nil
}

func (l *listing) all(words segment.DictionaryIterator, field text) error {
	for range maxListed {
		e, err := words.Next()
		if err != nil {
			return fmt.Errorf("list words: %w", err)
		}
		if e == nil {
			return nil
		}
		l.take(e, field)
	}
	l.cut = true
	return nil
}

func (l *listing) take(e *index.DictEntry, field text) {
	if slices.ContainsFunc(l.out, func(v variant) bool { return v.term == e.Term }) {
		return
	}
	if l.more == nil {
		l.more = map[string]*listed{}
	}
	w, ok := l.more[e.Term]
	if !ok {
		w = &listed{}
		l.more[e.Term] = w
	}
	w.count += max(e.Count, 1) // likeness is listed without counts
	w.fields |= 1 << field
}

// variants are those there already and the most frequent of the others.
func (l *listing) variants(share float64) (out []variant, cut bool) {
	terms := slices.Collect(maps.Keys(l.more))
	slices.SortFunc(terms, func(a, b string) int {
		return cmp.Or(cmp.Compare(l.more[b].count, l.more[a].count), cmp.Compare(a, b))
	})
	if len(terms) > maxStands {
		terms, l.cut = terms[:maxStands], true
	}
	out = l.out
	for _, t := range terms {
		out = append(out, variant{t, share, l.more[t].fields})
	}
	return out, l.cut
}
