package indexer

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	index "github.com/blevesearch/bleve_index_api"
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

// add goes through a dictionary of a field; err is that of opening it.
func (l *listing) add(dict index.FieldDict, err error, field text) error {
	for n := 0; err == nil; n++ {
		var e *index.DictEntry
		if e, err = dict.Next(); err != nil || e == nil {
			break
		}
		if n == maxListed {
			l.cut = true
			break
		}
		l.take(e, field)
	}
	if err == nil {
		err = dict.Close()
	}
	if err != nil {
		return fmt.Errorf("list words: %w", err)
	}
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
