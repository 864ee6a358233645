package indexer

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	pb "platarium/proto/platarium/v1"
)

// FuzzText reads any text as words, within the limits, or says what is wrong.
func FuzzText(f *testing.F) {
	for _, s := range []string{"", "Mullus surmuletus", `"first dorsal" fin`, "“a„ b", `"""`, "Mu\u0308ller Æ鯛", "\xff", "a\x00b\x1e", strings.Repeat("x ", 30)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		terms, err := parseText(s)
		if err != nil {
			var wrong *FieldError
			if !errors.As(err, &wrong) || wrong.Field != "text" {
				t.Fatalf("%v", err)
			}
			return
		}
		count := 0
		for _, term := range terms {
			count += len(term.row)
			for _, forms := range term.row {
				for _, form := range forms {
					if form == "" || len(form) > maxTerm || !utf8.ValidString(form) {
						t.Fatalf("form %q", form)
					}
				}
			}
		}
		if count > maxWords {
			t.Fatalf("%d words", count)
		}
		// What is marked in a text is a stretch of it.
		m := newMarker(terms, make([][]variant, len(terms)), false)
		spans, _ := m.spans(s)
		plainText := strings.NewReplacer(markBegin, "", markEnd, "", "…", "").Replace(fragment(s, append(spans, span{0, 0})[:max(1, len(spans))]))
		if !strings.Contains(plain(strings.ReplaceAll(s, "…", "")), plainText) {
			t.Fatalf("%q isn't part of %q", plainText, s)
		}
	})
}

// FuzzPageToken refuses every token that wasn't given out for the question, and
// reads its own.
func FuzzPageToken(f *testing.F) {
	asked := fingerprint(&pb.SearchPicturesRequest{Text: "fin"}, false)
	good := &cursor{Asked: asked, Sequence: 4, Score: 1.25, Label: "Mullus", Made: 20190401, Created: 7, Name: "pictures/a"}
	f.Add(good.token())
	f.Add("")
	f.Add("e30")
	f.Add("eyJhIjoiIn0")
	f.Fuzz(func(t *testing.T, s string) {
		c, err := readToken(s, asked)
		if err != nil {
			var wrong *FieldError
			if !errors.As(err, &wrong) || wrong.Field != "page_token" {
				t.Fatalf("%v", err)
			}
			return
		}
		again, err := readToken(c.token(), asked)
		if err != nil || *again != *c {
			t.Fatalf("%+v became %+v: %v", c, again, err)
		}
	})
}

// FuzzRow reads rows as they were written, and nothing else.
func FuzzRow(f *testing.F) {
	r := row{name: "pictures/a", created: 5, changed: 6, digest: 7}
	r.cells[cellCounts] = "D1" + partSep + "spine" + partSep + "10" + partSep + "11"
	f.Add(r.append(nil))
	f.Add([]byte{})
	f.Add(append(r.append(nil), 0))
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := readRow(b)
		if err != nil {
			return
		}
		again, err := readRow(r.append(nil))
		if err != nil || *again != *r {
			t.Fatalf("%+v became %+v: %v", r, again, err)
		}
		c := newColumns() // whatever a row holds can be taken in
		c.put(3, r)
		c.picture(3)
	})
}

// FuzzDate reads any date into days in order.
func FuzzDate(f *testing.F) {
	for _, s := range []string{"1987", "198X", "1987-06-15/..", "XXXX", "19X7-01", "0001/9999", "2001-21"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d := readDate(s)
		if d.from > d.to || d.from < 0 || (d.from == 0) != (d.year == "") || d.to > 99991231 {
			t.Fatalf("%q: %+v", s, d)
		}
	})
}

// TestSeparatorsInValues keeps values with control characters apart.
func TestSeparatorsInValues(t *testing.T) {
	t.Parallel()
	s := newStudio(t)
	s.put(&pb.Picture{Name: "pictures/a", Title: "a\x02b\x1ec", Creators: []string{"one\x1etwo", "three"}, Technique: "ink\x1fwash"})
	x := s.open(t)
	a := ask(t, x, &pb.SearchPicturesRequest{Text: "b", Facets: []string{"creator", "technique"}})
	if len(a.Hits) != 1 || a.Hits[0].Highlights[0].GetFragment() != "a \x02b\x03 c" {
		t.Errorf("%+v", a.Hits)
	}
	var creators []string
	for _, v := range a.Facets[0].GetValues() {
		creators = append(creators, v.GetValue())
	}
	if !slices.Equal(creators, []string{"one two", "three"}) {
		t.Errorf("%q", creators)
	}
}
