package indexer

import (
	"fmt"
	"slices"

	"github.com/RoaringBitmap/roaring/v2"
	segment "github.com/blevesearch/scorch_segment_api/v2"
)

// postingsReader reads which documents of a segment have a term. It reads bleve's
// segments themselves: there that is a bitmap, and no more is asked.
type postingsReader struct {
	list     segment.PostingsList // both are used again from term to term
	postings segment.PostingsIterator
	numbers  [256]uint32
}

// each calls f with the numbers of the documents that have a term, in order, in
// portions.
func (r *postingsReader) each(dict segment.TermDictionary, deleted *roaring.Bitmap, term string, f func(numbers []uint32)) error {
	list, err := dict.PostingsList([]byte(term), deleted, r.list)
	if err != nil {
		return fmt.Errorf("look up a word: %w", err)
	}
	r.list = list
	r.postings = list.Iterator(false, false, false, r.postings)
	if short, ok := r.postings.(segment.OptimizablePostingsIterator); ok {
		if bitmap := short.ActualBitmap(); bitmap != nil {
			it := bitmap.ManyIterator()
			for n := it.NextMany(r.numbers[:]); n > 0; n = it.NextMany(r.numbers[:]) {
				f(r.numbers[:n])
			}
			return nil
		}
	}
	for {
		p, err := r.postings.Next()
		if err != nil {
			return fmt.Errorf("look up a word: %w", err)
		}
		if p == nil {
			return nil
		}
		r.numbers[0] = uint32(p.Number())
		f(r.numbers[:1])
	}
}

// word credits the pictures that have one of the variants in a field.
func (m *matcher) word(variants []variant, field text) error {
	for i, seg := range m.snap.Segments() {
		dict, err := seg.Segment().Dictionary(textFields[field])
		if err != nil {
			return fmt.Errorf("look up a word: %w", err)
		}
		ordinals := m.docs.tables[i]
		for _, v := range variants {
			if v.fields&(1<<field) == 0 {
				continue
			}
			worth := float32(m.weights.Field[field] * v.share)
			err := m.reader.each(dict, seg.Deleted(), v.term, func(numbers []uint32) {
				for _, n := range numbers {
					m.credit(ordinals[n], worth)
				}
			})
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// credit notes what a term brings a picture, unless another brings it more.
func (m *matcher) credit(ord uint32, worth float32) {
	if int(ord) >= len(m.best) {
		return // of a commit that failed half-way; whether a picture lives is seen to later
	}
	if m.best[ord] == 0 {
		m.touched = append(m.touched, ord)
	}
	m.best[ord] = max(m.best[ord], worth)
}

// row credits the pictures that have the words of a phrase one after the other.
func (m *matcher) row(t term, field text) error {
	for i, seg := range m.snap.Segments() {
		dict, err := seg.Segment().Dictionary(textFields[field])
		if err != nil {
			return fmt.Errorf("look up a phrase: %w", err)
		}
		have, err := m.haveAll(dict, seg.Deleted(), t)
		if err != nil {
			return err
		}
		if have.IsEmpty() {
			continue
		}
		p := &places{words: make([][]located, len(t.row)), at: make([][]place, len(t.row))}
		for w, forms := range t.row {
			for _, form := range forms {
				list, err := dict.PostingsList([]byte(form), seg.Deleted(), nil)
				if err != nil {
					return fmt.Errorf("look up a phrase: %w", err)
				}
				p.words[w] = append(p.words[w], located{it: list.Iterator(true, true, true, nil)})
			}
		}
		worth := float32(m.weights.Field[field])
		for it := have.Iterator(); it.HasNext(); {
			n := it.Next()
			stands, err := p.inRow(uint64(n))
			if err != nil {
				return err
			}
			if stands {
				m.credit(m.docs.tables[i][n], worth)
			}
		}
	}
	return nil
}

// haveAll are the documents that have every word, wherever.
func (m *matcher) haveAll(dict segment.TermDictionary, deleted *roaring.Bitmap, t term) (*roaring.Bitmap, error) {
	var all *roaring.Bitmap
	for _, forms := range t.row {
		some := roaring.New()
		for _, form := range forms {
			if err := m.reader.each(dict, deleted, form, some.AddMany); err != nil {
				return nil, err
			}
		}
		if all == nil {
			all = some
		} else {
			all.And(some)
		}
		if all.IsEmpty() {
			break
		}
	}
	return all, nil
}

// place is where a word stands: in which value of the field, and as which word.
type place struct{ value, word uint64 }

// located goes over the documents that have a term, with its places.
type located struct {
	it   segment.PostingsIterator
	now  segment.Posting // the last one read; it may lie ahead
	done bool
}

// in gives the places in a document; numbers rise from call to call.
func (l *located) in(number uint64) ([]segment.Location, error) {
	if !l.done && (l.now == nil || l.now.Number() < number) {
		var err error
		if l.now, err = l.it.Advance(number); err != nil {
			return nil, fmt.Errorf("look up a phrase: %w", err)
		}
		l.done = l.now == nil
	}
	if l.done || l.now.Number() != number {
		return nil, nil
	}
	return l.now.Locations(), nil
}

// places reads where words stand in documents of rising number.
type places struct {
	words [][]located // for each word of the row, one for each form
	at    [][]place
}

// inRow reports whether the words stand one after the other in a document.
func (p *places) inRow(number uint64) (bool, error) {
	for w, forms := range p.words {
		p.at[w] = p.at[w][:0]
		for f := range forms {
			stands, err := forms[f].in(number)
			if err != nil {
				return false, err
			}
			for _, l := range stands {
				at := place{word: l.Pos()}
				if values := l.ArrayPositions(); len(values) > 0 {
					at.value = values[0]
				}
				p.at[w] = append(p.at[w], at)
			}
		}
	}
	for _, first := range p.at[0] {
		if p.follow(first) {
			return true, nil
		}
	}
	return false, nil
}

// follow reports whether the other words follow a first one.
func (p *places) follow(first place) bool {
	for w := 1; w < len(p.at); w++ {
		if !slices.Contains(p.at[w], place{first.value, first.word + uint64(w)}) {
			return false
		}
	}
	return true
}
