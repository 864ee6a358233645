package meristic

import (
	"reflect"
	"strings"
	"testing"
)

// plainCounts strips what a canonical formula doesn't carry: columns, and the text of
// whole alternatives (their counts stay).
func plainCounts(in []Statement) []Statement {
	out := make([]Statement, len(in))
	for i, s := range in {
		s.Column, s.Combined, s.Convention, s.Sample = 0, nil, Convention{}, 0
		var counts []Count
		for e := Whole; e < elementCount; e++ {
			if c, ok := s.Count(e); ok && !c.Derived {
				counts = append(counts, c)
			}
		}
		s.Counts = counts
		out[i] = s
	}
	return out
}

// stable reports how Parse(Print(x)) differs from x, empty if it doesn't.
func stable(statements []Statement) string {
	text := Print(statements)
	again, err := Parse(text, Options{})
	if err != nil {
		return text + ": " + err.Error()
	}
	a, b := plainCounts(statements), plainCounts(again.Statements)
	if !reflect.DeepEqual(a, b) {
		return text + " read as " + Print(again.Statements)
	}
	if twice := Print(again.Statements); twice != text {
		return text + " printed again as " + twice
	}
	return ""
}

func TestPrintIsStable(t *testing.T) {
	failed := 0
	for _, row := range published(t) {
		res, err := Parse(row["string"], rowOptions(row))
		if err != nil {
			continue // counted by the test of published formulae
		}
		if p := stable(res.Statements); p != "" {
			failed++
			t.Errorf("%s %q: %s", row["id"], row["string"], p)
		}
	}
	if failed > 0 {
		t.Logf("%d unstable", failed)
	}
}

func FuzzParse(f *testing.F) {
	for _, row := range published(f) {
		c, _ := CharacterByCode(row["char"])
		f.Add(row["string"], uint8(c), false)
	}
	for _, row := range table(f, "PLATARIUM_FORMULAE_MALFORMED", "formulae-malformed.tsv") {
		f.Add(row["string"], uint8(Pectoral), true)
	}
	f.Add(strings.Repeat("(", 300)+"D 1", uint8(Dorsal), false)
	f.Add(strings.Repeat("9 and ", 300), uint8(GillRakers), false)
	f.Fuzz(func(t *testing.T, s string, c uint8, soft bool) {
		res, err := Parse(s, Options{Character: Character(c), SoftRayed: soft})
		for _, st := range res.Statements {
			for _, n := range st.Counts {
				if n.Min > n.Max || n.Min < 0 || n.Min*2 != float64(int(n.Min*2)) {
					t.Fatalf("%q: impossible interval %v", s, n.Interval)
				}
			}
		}
		_ = Tokens(res.Statements)
		_ = Implausible(res.Statements)
		_ = Compare(res.Statements, res.Statements, NearMiss())
		text := Print(res.Statements)
		if err != nil {
			return
		}
		again, err := Parse(text, Options{})
		if err != nil {
			t.Fatalf("%q printed as %q: %v", s, text, err)
		}
		if twice := Print(again.Statements); twice != text {
			t.Fatalf("%q printed as %q, read again as %q", s, text, twice)
		}
	})
}
