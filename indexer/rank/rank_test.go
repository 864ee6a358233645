package rank

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"platarium/indexer/meristic"
	"platarium/indexer/taxon"
)

// The lineages of the tests, root first.
func lineageOf(ids ...string) []Taxon {
	ranks := map[byte]taxon.Rank{
		'v': taxon.Clade, 'c': taxon.Class, 'o': taxon.Order, 'f': taxon.Family, 't': taxon.Tribe, 'u': taxon.Unranked,
		'g': taxon.Genus, 's': taxon.Species, 'b': taxon.Subspecies,
	}
	out := []Taxon{{"v", "Vertebrata", taxon.Clade}, {"c", "Actinopteri", taxon.Class}}
	for _, id := range ids {
		out = append(out, Taxon{ID: id, Name: "N" + id, Rank: ranks[id[0]]})
	}
	return out
}

func count(c meristic.Character, e meristic.Element, lo, hi float64) Count {
	return Count{Character: c, Element: e, Interval: meristic.Range(lo, hi)}
}

func TestRelationship(t *testing.T) {
	t.Parallel()
	w := Default()
	wanted := lineageOf("o1", "f1", "t1", "g1", "s1")
	for _, c := range []struct {
		name  string
		shown []Taxon
		share float64
		text  string
	}{
		{"same species", wanted, 1, "same species"},
		{"subspecies of it", append(slices.Clone(wanted), Taxon{"b1", "Nb1", taxon.Subspecies}), 1, "belongs to Ns1"},
		{"genus alone", wanted[:6], 0.65, "same genus"},
		{"congener", lineageOf("o1", "f1", "t1", "g1", "s2"), 0.65, "same genus"},
		{"same tribe", lineageOf("o1", "f1", "t1", "g2", "s3"), 0.5, "same tribe, Nt1"},
		{"same family", lineageOf("o1", "f1", "t2", "g3", "s4"), 0.35, "same family, Nf1"},
		{"same order", lineageOf("o1", "f2", "g4", "s5"), 0.15, "same order, No1"},
		{"same class", lineageOf("o2", "f3", "g5", "s6"), 0.05, "same class, Actinopteri"},
		{"root only", []Taxon{{"v", "Vertebrata", taxon.Clade}, {"c9", "Other", taxon.Class}}, 0, ""},
		{"not identified", nil, 0, ""},
		{"another tree", []Taxon{{"x", "X", taxon.Species}}, 0, ""},
	} {
		s := New(w, Wanted{Lineage: wanted})
		if got := s.Relationship(c.shown); got != w.Relationship*c.share {
			t.Errorf("%s: %v, want %v", c.name, got, w.Relationship*c.share)
		}
		reasons := s.Reasons(Picture{Lineage: c.shown})
		if c.text == "" != (len(reasons) == 0) || c.text != "" && reasons[0].Text != c.text {
			t.Errorf("%s: %v, want %q", c.name, reasons, c.text)
		}
	}
}

// TestUnrankedInCommon takes a clade for the ranked taxon above it.
func TestUnrankedInCommon(t *testing.T) {
	t.Parallel()
	s := New(Default(), Wanted{Lineage: lineageOf("o1", "u1", "f1", "g1", "s1")})
	r := s.Reasons(Picture{Lineage: lineageOf("o1", "u1", "f2", "g2", "s2")})
	if len(r) != 1 || r[0].Weight != Default().Relationship*0.15 || r[0].Text != "both in Nu1" {
		t.Errorf("%v", r)
	}
}

func TestCounts(t *testing.T) {
	t.Parallel()
	w := Default()
	for _, c := range []struct {
		want, shown Count
		share       float64
		text        string
	}{
		{count(meristic.Dorsal, meristic.Spine, 10, 12), count(meristic.Dorsal, meristic.Spine, 10, 11), 1, "D X-XI overlaps X-XII"},
		{count(meristic.Dorsal, meristic.Spine, 10, 10), count(meristic.Dorsal, meristic.Spine, 10, 10), 1, "D X agrees"},
		{count(meristic.Anal, meristic.Ray, 10, 10), count(meristic.Anal, meristic.Ray, 11, 12), 0.5, "A 11-12 against 10"},
		{count(meristic.Anal, meristic.Ray, 10, 10), count(meristic.Anal, meristic.Ray, 8, 8), 0, ""},
		{count(meristic.Anal, meristic.Ray, 10, 10), count(meristic.Anal, meristic.Ray, 30, 30), -1, "A 30 against 10"},
		{count(meristic.Anal, meristic.Ray, 10, 10), count(meristic.Anal, meristic.Spine, 10, 10), 0, ""},
		{count(meristic.Anal, meristic.Ray, 8.5, 8.5), count(meristic.Anal, meristic.Ray, 8, 9), 1, "A 8-9 overlaps 8½"},
		{count(meristic.Anal, meristic.Unbranched, 3, 4), count(meristic.Anal, meristic.Unbranched, 3, 3), 1, "A iii overlaps iii-iv"},
		{count(meristic.GillRakers, meristic.Upper, 5, 7), count(meristic.GillRakers, meristic.Upper, 6, 6), 1, "GR 6 upper overlaps 5-7"},
		{count(meristic.LateralLine, meristic.Whole, 0, 0), count(meristic.LateralLine, meristic.Whole, 1, 1), -1, "LL 1 against 0"},
	} {
		s := New(w, Wanted{Counts: []Count{c.want}})
		if got := s.Counts([]Count{c.shown}); math.Abs(got-w.Counts*c.share) > 1e-9 {
			t.Errorf("%v for %v: %v, want %v", c.shown, c.want, got, w.Counts*c.share)
		}
		r := s.Reasons(Picture{Counts: []Count{c.shown}})
		if c.text == "" != (len(r) == 0) || c.text != "" && r[0].Text != c.text {
			t.Errorf("%v, want %q", r, c.text)
		}
	}
	open := Count{Character: meristic.LateralLine, Interval: meristic.Interval{Min: 80, Max: 80, Bound: meristic.AtLeast}}
	if got := New(w, Wanted{Counts: []Count{open}}).Counts([]Count{count(meristic.LateralLine, meristic.Whole, 120, 130)}); got != w.Counts {
		t.Errorf("80 or more against 120-130: %v", got)
	}
}

func TestStructuresAndView(t *testing.T) {
	t.Parallel()
	w := Default()
	s := New(w, Wanted{Structures: []string{"first dorsal fin", "barbel"}, View: RightLateral})
	shown := []Structure{{"first dorsal fin", Damaged}, {"first dorsal fin", Complete}, {"eye", Complete}}
	if got := s.Structures(shown); got != w.Structures/2 {
		t.Errorf("structures: %v", got)
	}
	r := s.Reasons(Picture{Structures: shown, View: LeftLateral, Stage: FinalArt, LongEdge: 4000})
	want := []Reason{
		{"structure", "first dorsal fin complete, left lateral", 1.5},
		{"view", "left lateral, mirrored", 1.35},
		{"quality", "final art", 0.5},
		{"quality", "4000 pixels on the long edge", 0.375},
	}
	if !slices.Equal(r, want) {
		t.Errorf("%v", r)
	}
	// Falling order of completeness, as the trade values it.
	order := []Completeness{Complete, Reconstructed, Shown, Partial, Damaged, Hidden}
	if !slices.IsSortedFunc(order, func(a, b Completeness) int { return cmp.Compare(s.Structure(b), s.Structure(a)) }) {
		t.Error("completeness isn't in order")
	}
	for v, share := range map[View]float64{RightLateral: 1, LeftLateral: w.Mirrored, Oblique: w.Slanted, Dorsal: 0, AnyView: 0, View(200): 0} {
		if got := s.View(v); got != w.View*share {
			t.Errorf("view %v: %v", v, got)
		}
	}
}

// TestFlatfish takes the blind side for no picture of the eyed one.
func TestFlatfish(t *testing.T) {
	t.Parallel()
	lineage := []Taxon{{"o", "Pleuronectiformes", taxon.Order}, {"s", "Solea solea", taxon.Species}}
	s := New(Default(), Wanted{Lineage: lineage, View: RightLateral})
	if got := s.View(LeftLateral); got != Default().View*Default().OtherSide {
		t.Errorf("%v", got)
	}
}

func TestQuality(t *testing.T) {
	t.Parallel()
	s := New(Default(), Wanted{View: Dorsal})
	for edge, share := range map[int]float64{0: 0, 999: 0, 1000: 0.25, 3499: 0.5, 3500: 0.75, 7000: 1, 1 << 30: 1} {
		if got := s.Resolution(edge); got != Default().Resolution*share {
			t.Errorf("%d pixels: %v", edge, got)
		}
	}
	if s.Stage(FinalArt) <= s.Stage(Outline) || s.Kind(Plate) <= s.Kind(Study) || s.Stage(99) != 0 || s.Kind(99) != 0 {
		t.Error("quality isn't in order")
	}
}

// TestReasonsAddUp checks that reasons are the score, in falling weight, and that
// both come out the same every time.
func TestReasonsAddUp(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(1, 9))
	chars := []meristic.Character{meristic.Dorsal1, meristic.Anal, meristic.Pectoral}
	names := []string{"barbel", "eye", "head"}
	for range 500 {
		wanted := Wanted{Lineage: lineageOf("o1", "f1", "g1", "s1"), View: View(rng.IntN(9)), Structures: names[:rng.IntN(4)]}
		p := Picture{
			Lineage: lineageOf("o1", "f1", "g1", "s2")[:2+rng.IntN(5)], View: View(rng.IntN(9)), Stage: Stage(rng.IntN(6)),
			Kind: Kind(rng.IntN(4)), LongEdge: rng.IntN(9000),
		}
		for _, c := range chars {
			n := float64(rng.IntN(20))
			wanted.Counts = append(wanted.Counts, count(c, meristic.Ray, n, n+2))
			m := float64(rng.IntN(20))
			p.Counts = append(p.Counts, count(c, meristic.Ray, m, m+1))
			p.Structures = append(p.Structures, Structure{names[rng.IntN(3)], Completeness(rng.IntN(6))})
		}
		s := New(Default(), wanted)
		sum := 0.0
		reasons := s.Reasons(p)
		for i, r := range reasons {
			sum += r.Weight
			if i > 0 && math.Abs(r.Weight) > math.Abs(reasons[i-1].Weight) || r.Text == "" || r.Weight == 0 {
				t.Fatalf("%v", reasons)
			}
		}
		score := s.Score(p)
		if math.Abs(sum-score) > 1e-9 || New(Default(), wanted).Score(p) != score || !slices.Equal(reasons, s.Reasons(p)) {
			t.Fatalf("reasons %v, score %v", sum, score)
		}
	}
}

func TestCompare(t *testing.T) {
	t.Parallel()
	if Compare(2, "b", 1, "a") >= 0 || Compare(1, "b", 1, "a") <= 0 || Compare(1, "a", 1, "a") != 0 {
		t.Error("order is wrong")
	}
}

// TestWordsOfNumbers keeps the words for every number of the contract, and none beyond.
func TestWordsOfNumbers(t *testing.T) {
	t.Parallel()
	if Hidden.String() != "hidden" || Internal.String() != "internal" || FinalArt.String() != "final art" || Reference.String() != "reference" {
		t.Error("words and numbers don't fit")
	}
	if Completeness(9).String()+View(9).String()+Stage(9).String()+Kind(9).String() != "" {
		t.Error("words for unknown numbers")
	}
}
