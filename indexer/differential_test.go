package indexer

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/blevesearch/bleve/v2/index/scorch"

	"platarium/indexer/meristic"
	"platarium/indexer/rank"
	pb "platarium/proto/platarium/v1"
)

// TestConditionsThreeWays asks random conditions of the columns, of bleve's terms
// and of the documents one by one, after a history of changes.
func TestConditionsThreeWays(t *testing.T) {
	t.Parallel()
	s := newStudio(t)
	y := newSynthetic(t, s, 21)
	s.put(y.pictures(300)...)
	x := s.open(t)
	rng := rand.New(rand.NewPCG(5, 6))
	for range 6 { // change some, delete some, add some
		var batch []*pb.Picture
		for range 15 {
			batch = append(batch, y.picture(rng.IntN(380)))
		}
		apply2(t, x, s, batch)
		seq, gone := s.remove(fmt.Sprintf("pictures/p%07d", rng.IntN(380)))
		apply(t, x, seq, gone)
	}
	entries := map[string]*entry{}
	for name, p := range s.pictures {
		entries[name] = derive(p, s)
	}
	for range 200 {
		f := randomFilter(y, rng)
		got := columnNames(t, x, s, f)
		if want := termNames(t, x, s, f); !slices.Equal(got, want) {
			t.Fatalf("%v\ncolumns: %v\nbleve:   %v", f, got, want)
		}
		if want := bruteNames(s, entries, f); !slices.Equal(got, want) {
			t.Fatalf("%v\ncolumns: %v\nbrute:   %v", f, got, want)
		}
	}
}

func apply2(tb testing.TB, x *Index, s *studio, batch []*pb.Picture) {
	tb.Helper()
	seq, names := s.put(batch...)
	apply(tb, x, seq, names)
}

// randomFilter picks one to three conditions.
func randomFilter(y *synthetic, rng *rand.Rand) *pb.PictureFilter {
	f := &pb.PictureFilter{}
	for range 1 + rng.IntN(3) {
		switch rng.IntN(9) {
		case 0:
			f.Kinds = []pb.Kind{pb.Kind(1 + rng.IntN(3))}
		case 1:
			f.Views = []pb.View{pb.View(1 + rng.IntN(8)), pb.View(1 + rng.IntN(8))}
		case 2:
			f.Stages = []pb.Stage{pb.Stage(1 + rng.IntN(5))}
		case 3:
			f.Techniques = []string{y.pick(synTechniques)}
		case 4:
			f.Creators = []string{y.pick(synCreators), y.pick(synCreators)}
		case 5:
			f.Structures = []string{y.pick(synStructures) + y.pick([]string{"", "=complete", "=damaged", "=shown"})}
		case 6:
			f.YearFrom = int32(1985 + rng.IntN(30))
			f.YearTo = f.YearFrom + int32(rng.IntN(10))
		case 7:
			f.Counts = fmt.Sprintf("D1 %s; P %d-%d", strings.Repeat("X", 1)+[]string{"", "I", "II"}[rng.IntN(3)], 14+rng.IntN(3), 16+rng.IntN(4))
		default:
			steps := lineage(y.taxa, y.species[rng.IntN(len(y.species))].ID)
			f.Taxa = []string{steps[len(steps)-1-rng.IntN(min(4, len(steps)))].ID}
		}
	}
	return f
}

func columnNames(tb testing.TB, x *Index, s *studio, f *pb.PictureFilter) []string {
	tb.Helper()
	q, err := check(Query{Request: &pb.SearchPicturesRequest{Filter: f}}, s.taxa)
	if err != nil {
		tb.Fatal(err)
	}
	x.mu.RLock()
	defer x.mu.RUnlock()
	sc := &scan{cols: x.gen.cols, asked: q, conditions: x.gen.cols.conditions(q.filter, nil)}
	if err := sc.run(context.Background(), hits{}); err != nil {
		tb.Fatal(err)
	}
	var out []string
	for _, m := range sc.matches {
		out = append(out, x.gen.cols.names[m.ord])
	}
	slices.Sort(out)
	return out
}

// termNames answers a filter from the terms of bleve alone.
func termNames(tb testing.TB, x *Index, s *studio, f *pb.PictureFilter) []string {
	tb.Helper()
	x.mu.RLock()
	defer x.mu.RUnlock()
	snap, done, err := x.gen.view()
	if err != nil {
		tb.Fatal(err)
	}
	defer done()
	d, err := x.gen.ordinals.of(snap)
	if err != nil {
		tb.Fatal(err)
	}
	var result map[string]bool
	for _, alternatives := range filterTerms(tb, s, f) {
		has := map[string]bool{}
		for _, term := range alternatives {
			for _, ord := range termOrdinals(tb, snap, d, term) {
				has[x.gen.cols.names[ord]] = true
			}
		}
		if result == nil {
			result = has
			continue
		}
		maps.DeleteFunc(result, func(n string, _ bool) bool { return !has[n] })
	}
	return slices.Sorted(maps.Keys(result))
}

func termOrdinals(tb testing.TB, snap *scorch.IndexSnapshot, d *docs, term string) []uint32 {
	tb.Helper()
	r, err := snap.TermFieldReader(context.Background(), []byte(term), fieldConditions, false, false, false)
	if err != nil {
		tb.Fatal(err)
	}
	defer func() { _ = r.Close() }()
	var out []uint32
	for {
		hit, err := r.Next(nil)
		if err != nil {
			tb.Fatal(err)
		}
		if hit == nil {
			return out
		}
		out = append(out, d.ordinal(hit.ID.Value()))
	}
}

// filterTerms are the terms of a filter: all of the outer, any of the inner.
func filterTerms(tb testing.TB, s *studio, f *pb.PictureFilter) [][]string {
	tb.Helper()
	var out [][]string
	add := func(prefix string, values ...string) {
		for i := range values {
			values[i] = prefix + values[i]
		}
		if len(values) > 0 {
			out = append(out, values)
		}
	}
	add("taxon:", slices.Clone(f.GetTaxa())...)
	add("kind:", figures(f.GetKinds())...)
	add("view:", figures(f.GetViews())...)
	add("stage:", figures(f.GetStages())...)
	add("technique:", slices.Clone(f.GetTechniques())...)
	add("creator:", slices.Clone(f.GetCreators())...)
	for _, st := range f.GetStructures() {
		add("structure:", st)
	}
	for y := f.GetYearFrom(); y != 0 && y <= f.GetYearTo(); y++ {
		if y == f.GetYearFrom() {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], "year:"+strconv.Itoa(int(y)))
	}
	for _, c := range (&checker{}).counts("", f.GetCounts()) {
		var values []string
		for _, n := range countTerms(c.Min, c.Max) {
			values = append(values, strconv.FormatFloat(n, 'f', -1, 64))
		}
		add("count:"+c.Character.String()+"."+c.Element.String()+":", values...)
	}
	return out
}

func figures[E ~int32](values []E) []string {
	var out []string
	for _, v := range values {
		out = append(out, strconv.Itoa(int(v)))
	}
	return out
}

// bruteNames judges every picture's record by itself.
func bruteNames(s *studio, entries map[string]*entry, f *pb.PictureFilter) []string {
	var out []string
	for name, p := range s.pictures {
		if fits(s, p, entries[name], f) {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

func fits(s *studio, p *pb.Picture, e *entry, f *pb.PictureFilter) bool {
	in := func(n int, any bool) bool { return n == 0 || any }
	under := slices.ContainsFunc(f.GetTaxa(), func(t string) bool {
		return slices.Contains(s.taxa.Lineage(strings.TrimPrefix(p.GetIdentification().GetTaxon(), taxaPrefix)), strings.TrimPrefix(t, taxaPrefix))
	})
	year, _ := strconv.Atoi(p.GetCreated()[:4])
	ok := in(len(f.GetTaxa()), under) && in(len(f.GetKinds()), slices.Contains(f.GetKinds(), p.GetKind())) &&
		in(len(f.GetViews()), slices.Contains(f.GetViews(), p.GetView())) &&
		in(len(f.GetStages()), slices.Contains(f.GetStages(), p.GetStage())) &&
		in(len(f.GetTechniques()), slices.Contains(f.GetTechniques(), p.GetTechnique())) &&
		in(len(f.GetCreators()), slices.ContainsFunc(f.GetCreators(), func(c string) bool { return slices.Contains(p.GetCreators(), c) })) &&
		(f.GetYearFrom() == 0 || int32(year) >= f.GetYearFrom() && int32(year) <= f.GetYearTo())
	for _, st := range f.GetStructures() {
		name, as, exact := strings.Cut(st, "=")
		ok = ok && slices.ContainsFunc(p.GetStructures(), func(have *pb.Structure) bool {
			return have.GetStructure() == name && (!exact || rank.Completeness(have.GetCompleteness()).String() == as)
		})
	}
	for _, want := range (&checker{}).counts("", f.GetCounts()) {
		ok = ok && slices.ContainsFunc(p.GetCounts().GetParsed(), func(c *pb.Count) bool {
			return c.GetCharacter() == want.Character.String() && c.GetElement() == want.Element.String() &&
				meristic.Range(c.GetMin(), c.GetMax()).Overlaps(want.Interval)
		})
	}
	return ok && e != nil
}

// TestFacetsAgainstRecords counts facets by hand.
func TestFacetsAgainstRecords(t *testing.T) {
	t.Parallel()
	s := newStudio(t)
	y := newSynthetic(t, s, 22)
	s.put(y.pictures(200)...)
	x := s.open(t)
	standing := map[string]string{}
	for name := range s.pictures {
		standing[name] = []string{"free", "licensed"}[len(standing)%2]
	}
	today := NewStanding(standing, "free")
	a := askAs(t, x, Query{Request: &pb.SearchPicturesRequest{
		Filter: &pb.PictureFilter{Kinds: []pb.Kind{pb.Kind_KIND_PLATE}}, Facets: facetNames(),
	}, Standing: today})
	want := map[string]map[string]int64{}
	for _, f := range facetNames() {
		want[f] = map[string]int64{}
	}
	total := int64(0)
	for name, p := range s.pictures {
		if p.GetKind() != pb.Kind_KIND_PLATE {
			continue
		}
		total++
		for _, step := range lineage(s.taxa, strings.TrimPrefix(p.GetIdentification().GetTaxon(), taxaPrefix)) {
			if f := step.Rank.String(); want[f] != nil {
				want[f][step.ID]++
			}
		}
		want["kind"][p.GetKind().String()]++
		want["view"][p.GetView().String()]++
		want["stage"][p.GetStage().String()]++
		want["technique"][p.GetTechnique()]++
		want["creator"][p.GetCreators()[0]]++
		want["year"][p.GetCreated()[:4]]++
		want["rights"][standing[name]]++
		seen := map[string]bool{}
		for _, st := range p.GetStructures() {
			if !seen[st.GetStructure()] {
				want["structure"][st.GetStructure()]++
			}
			seen[st.GetStructure()] = true
		}
	}
	if a.Total != total || len(a.Facets) != len(facetNames()) {
		t.Fatalf("total %d, want %d; %d facets", a.Total, total, len(a.Facets))
	}
	for _, f := range a.Facets {
		if len(f.GetValues()) != min(len(want[f.GetFacet()]), maxFacetValues) {
			t.Errorf("%s: %d values, want %d", f.GetFacet(), len(f.GetValues()), len(want[f.GetFacet()]))
		}
		for i, v := range f.GetValues() {
			if v.GetCount() != want[f.GetFacet()][v.GetValue()] {
				t.Errorf("%s %s: %d, want %d", f.GetFacet(), v.GetValue(), v.GetCount(), want[f.GetFacet()][v.GetValue()])
			}
			if i > 0 && v.GetCount() > f.GetValues()[i-1].GetCount() {
				t.Errorf("%s: %s stands below a rarer value", f.GetFacet(), v.GetValue())
			}
		}
	}
}
