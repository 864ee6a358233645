package indexer

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	pb "platarium/proto/platarium/v1"
)

// TestWordsAgainstTexts looks words and rows up in bleve and in the texts themselves.
func TestWordsAgainstTexts(t *testing.T) {
	t.Parallel()
	s := newStudio(t)
	y := newSynthetic(t, s, 23)
	y.words = append(y.words[:40], "Müller", "Mueller", "Åse") // few, so that rows occur
	s.put(y.pictures(140)...)
	x := s.open(t)
	rng := rand.New(rand.NewPCG(8, 8))
	for range 4 {
		var batch []*pb.Picture
		for range 15 {
			batch = append(batch, y.picture(rng.IntN(160)))
		}
		apply2(t, x, s, batch)
		seq, gone := s.remove(fmt.Sprintf("pictures/p%07d", rng.IntN(140)))
		apply(t, x, seq, gone)
	}
	entries := map[string]*entry{}
	for name, p := range s.pictures {
		entries[name] = derive(p, s)
	}
	rows := 0
	for range 80 {
		text := y.pick(y.words) + " " + y.pick(y.words)
		switch rng.IntN(3) {
		case 0:
			text = `"` + text + `"`
		case 1:
			text = `"` + text + `" ` + y.pick(y.words)
		}
		terms, err := parseText(text + " ")
		if err != nil {
			t.Fatal(err)
		}
		var got, want []string
		got = wordNames(t, x, terms)
		for name, e := range entries {
			if hasAll(e, terms) {
				want = append(want, name)
			}
		}
		slices.Sort(want)
		if terms[0].phrase() && len(want) > 0 {
			rows++
		}
		if len(want) > 0 && !slices.Equal(got, want) {
			t.Fatalf("%s\nindex: %v\ntexts: %v", text, got, want)
		}
	}
	if rows < 10 {
		t.Errorf("only %d rows occurred", rows)
	}
}

// wordNames looks words up in bleve alone.
func wordNames(tb testing.TB, x *Index, terms []term) []string {
	tb.Helper()
	x.mu.RLock()
	defer x.mu.RUnlock()
	words, err := x.lookUp(context.Background(), x.gen, &question{terms: terms}, false)
	if err != nil {
		tb.Fatal(err)
	}
	var out []string
	for _, ord := range words.ords {
		out = append(out, x.gen.cols.names[ord])
	}
	slices.Sort(out)
	return out
}

// hasAll reads an entry's texts word by word.
func hasAll(e *entry, terms []term) bool {
	for _, want := range terms {
		ok := false
		for _, values := range e.texts {
			for _, v := range values {
				tokens := tokenize([]byte(v))
				for at := range tokens {
					n := 0
					for at+n < len(tokens) && n < len(want.row) && slices.ContainsFunc(tokens[at+n].forms, func(f string) bool { return slices.Contains(want.row[n], f) }) {
						n++
					}
					ok = ok || n == len(want.row)
				}
			}
		}
		if !ok {
			return false
		}
	}
	return true
}
