package meristic

import (
	"slices"
	"testing"
)

func TestTokens(t *testing.T) {
	for _, c := range []struct {
		in   string
		want []string
	}{
		{"D1 VI; D2 I,9-10", []string{"D1.spine:6", "D2.spine:1", "D2.ray:9", "D2.ray:10", "D.spine:7", "D.ray:9", "D.ray:10"}},
		{"A iii,8½", []string{"A.unbranched:3", "A.branched:8.5", "A.ray:11.5"}},
		{"P 8 or 10", []string{"P.ray:8", "P.ray:10"}},
		{"GR 7+13", []string{"GR.upper:7", "GR.lower:13", "GR.total:20"}},
		{"LL ?", nil},
	} {
		if got := Tokens(mustParse(t, c.in)); !slices.Equal(got, c.want) {
			t.Errorf("%q: %q, want %q", c.in, got, c.want)
		}
	}
}

func TestWanted(t *testing.T) {
	got := Wanted(mustParse(t, "D X-XI,12; GR 7+13"))
	want := []Clause{
		{Dorsal, Spine, []string{"D.spine:10", "D.spine:11"}},
		{Dorsal, Ray, []string{"D.ray:11.5", "D.ray:12", "D.ray:12.5"}},
		{GillRakers, Upper, []string{"GR.upper:7"}},
		{GillRakers, Lower, []string{"GR.lower:13"}},
	}
	if !slices.EqualFunc(got, want, func(a, b Clause) bool {
		return a.Character == b.Character && a.Element == b.Element && slices.Equal(a.Tokens, b.Tokens)
	}) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Tokens meet exactly where intervals overlap.
func TestTokensMeetWhereIntervalsOverlap(t *testing.T) {
	formulae := []string{"D X,11", "D X-XI,11-13", "D XI or XIII,12", "D IX,14-16", "D XII,9", "D 12", "D VIII-I,11", "A III,8"}
	for _, a := range formulae {
		tokens := Tokens(mustParse(t, a))
		for _, b := range formulae {
			for _, clause := range Wanted(mustParse(t, b)) {
				met := slices.ContainsFunc(clause.Tokens, func(tok string) bool { return slices.Contains(tokens, tok) })
				overlap := false
				for _, entry := range Entries(mustParse(t, a)) {
					if entry.Character == clause.Character && entry.Element == clause.Element {
						overlap = slices.ContainsFunc(entry.Counts, func(n float64) bool { return within(t, b, entry, n) })
					}
				}
				if met != overlap {
					t.Errorf("%q wanted in %q: tokens meet %v, counts overlap %v", b, a, met, overlap)
				}
			}
		}
	}
}

// within reports whether the wanted formula has the count, or one half beside it.
func within(t *testing.T, formula string, e Entry, n float64) bool {
	for _, s := range mustParse(t, formula) {
		if s.Character != e.Character {
			continue
		}
		c, ok := s.Count(e.Element)
		for _, iv := range c.Intervals() {
			slack := 0.0
			if e.Element == Ray {
				slack = 0.5
			}
			if ok && iv.Min-slack <= n && n <= iv.Max+slack {
				return true
			}
		}
	}
	return false
}

// One misread figure must not flood an index.
func TestEntriesAreBounded(t *testing.T) {
	for _, e := range Entries([]Statement{{Character: LateralLine, Counts: []Count{{Element: Whole, Interval: Range(0, 1e6)}}}}) {
		if len(e.Counts) > entryMost {
			t.Errorf("%d counts", len(e.Counts))
		}
	}
}
