package taxon_test

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"

	"platarium/indexer/taxon"
)

// first is the best candidate, or a failure.
func first(t *testing.T, c *taxon.Classification, name string) taxon.Candidate {
	t.Helper()
	got := c.Match(name, 1)
	if len(got) == 0 {
		t.Fatalf("nothing found for %q", name)
	}
	return got[0]
}

func put(t *testing.T, c *taxon.Classification, x taxon.Taxon) {
	t.Helper()
	if err := c.Put(x); err != nil {
		t.Fatal(err)
	}
}

func TestRenamingKeepsBothNames(t *testing.T) {
	c := fishes(t)
	id := idOf(t, c, "Gadus morhua")
	x, _ := c.Taxon(id)
	put(t, c, x.Renamed("Gadus hyperboreus", "Invented, 2001"))
	for name, kind := range map[string]taxon.MatchKind{"Gadus morhua": taxon.ByEarlierName, "Gadus hyperboreus": taxon.ByName} {
		if got := first(t, c, name); got.ID != id || got.Kind != kind && got.Kind != taxon.BySynonym || got.Name != "Gadus hyperboreus" {
			t.Errorf("%s: %+v", name, got)
		}
	}
	if syn := names(c.Synonyms(id)); !slices.Equal(syn, []string{"Gadus morhua"}) {
		t.Errorf("synonyms %v", syn)
	}
	if !c.Remove(id) || c.Remove(id) {
		t.Error("Remove must report whether there was an overlay record")
	}
	if got := first(t, c, "Gadus morhua"); got.Name != "Gadus morhua" || got.Kind != taxon.ByName {
		t.Errorf("after removal: %+v", got)
	}
	if got := first(t, c, "Gadus hyperboreus"); got.ID == id && got.Kind == taxon.ByName {
		t.Errorf("removed name still matches: %+v", got)
	}
}

func names(taxa []taxon.Taxon) []string {
	var out []string
	for _, t := range taxa {
		out = append(out, t.Name)
	}
	return out
}

func TestSynonymisingKeepsBothNames(t *testing.T) {
	c := fishes(t)
	from, to := idOf(t, c, "Sebastes polyspinis"), idOf(t, c, "Sebastes aleutianus")
	x, _ := c.Taxon(from)
	x.Status, x.AcceptedID = taxon.Synonym, to
	put(t, c, x)
	if got := first(t, c, "Sebastes polyspinis"); got.ID != to || got.MatchedID != from || got.Kind != taxon.BySynonym {
		t.Errorf("synonym: %+v", got)
	}
	if got := first(t, c, "Sebastes aleutianus"); got.ID != to || got.Kind != taxon.ByName {
		t.Errorf("accepted: %+v", got)
	}
	if syn := names(c.Synonyms(to)); !slices.Contains(syn, "Sebastes polyspinis") {
		t.Errorf("synonyms %v", syn)
	}
	old := idOf(t, c, "Ophichthus ocellatus")
	if syn := names(c.Synonyms(old)); !slices.Contains(syn, "Ophichthus ocellatus") {
		t.Errorf("synonyms of the base %v", syn)
	}
	if a, b := c.Lineage(from), c.Lineage(to); !slices.Equal(a, b) {
		t.Errorf("lineages differ: %v, %v", a, b)
	}
	if r := c.Relation(from, to); r.Distance != 0 || r.Phrase != "same species" {
		t.Errorf("relation: %+v", r)
	}
}

func TestOwnTaxa(t *testing.T) {
	c := fishes(t)
	genus := idOf(t, c, "Sebastes")
	own := taxon.Taxon{
		ID: "taxa/own-1", ParentID: genus, Rank: taxon.Species, Name: "Sebastes fictus", Authorship: "(Invented, 1999)",
		Vernaculars: []taxon.Vernacular{{Lang: "de", Name: "Erfundener Rotbarsch"}, {Lang: "fr", Name: "Sébaste d’essai"}},
		Synonyms:    []string{"Sebastichthys fictus"},
	}
	put(t, c, own)
	for name, kind := range map[string]taxon.MatchKind{
		"Sebastes fictus": taxon.ByName, "sebastes ficta": taxon.BySound, "erfundener  rot-barsch": taxon.ByLikeness,
		"Erfundener Rotbarsch": taxon.ByVernacular, "sebaste d'essai": taxon.ByVernacular, "SÉBASTE D’ESSAI": taxon.ByVernacular,
		"Sebastichthys fictus": taxon.BySynonym, "rotbarsch": taxon.ByPart,
	} {
		if got := first(t, c, name); got.ID != own.ID || got.Kind != kind {
			t.Errorf("%s: %+v, want %v", name, got, kind)
		}
	}
	if l := c.Lineage(own.ID); l[len(l)-1] != own.ID || l[len(l)-2] != genus {
		t.Errorf("lineage %v", l)
	}
	if r := c.Relation(own.ID, idOf(t, c, "Sebastes ciliatus")); r.Phrase != "same genus (Sebastes)" || r.Distance != 25 {
		t.Errorf("relation %+v", r)
	}
	own.Vernaculars = own.Vernaculars[:1]
	put(t, c, own)
	if got := c.Match("sebaste d'essai", 1); len(got) > 0 && got[0].Kind == taxon.ByVernacular {
		t.Errorf("dropped vernacular still matches: %+v", got)
	}
}

func TestCorrectedVernacular(t *testing.T) {
	c := fishes(t)
	x, _ := c.Taxon(idOf(t, c, "Squalus acanthias"))
	x.Vernaculars = []taxon.Vernacular{{Lang: "en", Name: "Piked shark"}}
	put(t, c, x)
	if got := c.Match("Spiny dogfish", 1); len(got) > 0 && got[0].ID == x.ID {
		t.Errorf("corrected vernacular still matches: %+v", got[0])
	}
	if got := first(t, c, "piked shark"); got.ID != x.ID {
		t.Errorf("new vernacular: %+v", got)
	}
}

func TestCyclesAreRefused(t *testing.T) {
	_, err := taxon.NewTree([]taxon.Taxon{
		{ID: "top", Name: "Top"}, {ID: "a", Name: "A", ParentID: "b"}, {ID: "b", Name: "B", ParentID: "c"}, {ID: "c", Name: "C", ParentID: "a"},
	})
	var ring *taxon.CycleError
	if !errors.As(err, &ring) || len(ring.Path) != 4 || ring.Path[0] != ring.Path[3] {
		t.Errorf("tree: %v", err)
	}
	c := taxon.NewClassification(nil)
	put(t, c, taxon.Taxon{ID: "a", Name: "A", ParentID: "b"})
	put(t, c, taxon.Taxon{ID: "b", Name: "B", ParentID: "c"})
	err = c.Put(taxon.Taxon{ID: "c", Name: "C", ParentID: "a"})
	if !errors.As(err, &ring) || !slices.Equal(ring.Path, []string{"c", "a", "b", "c"}) {
		t.Errorf("overlay: %v", err)
	}
	if _, ok := c.Taxon("c"); ok {
		t.Error("refused taxon was kept")
	}
	err = c.Put(taxon.Taxon{ID: "b", Name: "B", Status: taxon.Synonym, AcceptedID: "a"})
	if !errors.As(err, &ring) {
		t.Errorf("synonym of its own child: %v", err)
	}
}

func TestBuildingErrors(t *testing.T) {
	if _, err := taxon.NewTree([]taxon.Taxon{{ID: "a", Name: "A"}, {ID: "a", Name: "B"}}); !errors.Is(err, taxon.ErrDuplicateID) {
		t.Errorf("double id: %v", err)
	}
	if _, err := taxon.NewTree([]taxon.Taxon{{ID: "a"}}); !errors.Is(err, taxon.ErrNoID) {
		t.Errorf("no name: %v", err)
	}
	c := taxon.NewClassification(nil)
	if err := c.Check(taxon.Taxon{ID: "x", Name: "X", ParentID: "nowhere"}); !errors.Is(err, taxon.ErrUnknownTaxon) {
		t.Errorf("unknown parent: %v", err)
	}
	if err := c.Check(taxon.Taxon{ID: "x", Name: "X", Status: taxon.Synonym}); !errors.Is(err, taxon.ErrUnknownTaxon) {
		t.Errorf("synonym of nothing: %v", err)
	}
	if err := c.Put(taxon.Taxon{ID: "x"}); !errors.Is(err, taxon.ErrNoID) {
		t.Errorf("nameless: %v", err)
	}
}

func TestHomonymsAndUnsurePlaces(t *testing.T) {
	c := taxon.NewClassification(nil)
	for _, x := range []taxon.Taxon{
		{ID: "o", Name: "Ordo", Rank: taxon.Order}, {ID: "i", Name: "Incertae sedis in Ordo", Rank: taxon.Order, ParentID: "root"},
		{ID: "root", Name: "Root", Rank: taxon.Class},
		{ID: "f1", Name: "Primidae", Rank: taxon.Family, ParentID: "i"}, {ID: "f2", Name: "Secundidae", Rank: taxon.Family, ParentID: "i"},
		{ID: "g1", Name: "Homonymus", Authorship: "Alpha, 1801", Rank: taxon.Genus, ParentID: "f1"},
		{ID: "g2", Name: "Homonymus", Authorship: "Beta, 1902", Rank: taxon.Genus, ParentID: "f2"},
		{ID: "lost", Name: "Perditus", Rank: taxon.Genus, ParentID: "not there"},
	} {
		put(t, c, x)
	}
	if got := c.Match("Homonymus", 0); len(got) != 2 || got[0].Score != got[1].Score {
		t.Errorf("homonyms: %+v", got)
	}
	if got := first(t, c, "Homonymus Beta, 1902"); got.ID != "g2" {
		t.Errorf("homonym with author: %+v", got)
	}
	if r := c.Relation("g1", "g2"); r.Distance != 100 || r.Phrase != "same class (Root)" {
		t.Errorf("families of unsure place: %+v", r)
	}
	if r := c.Relation("g1", "lost"); r.Known {
		t.Errorf("taxon without place: %+v", r)
	}
	if l := c.Lineage("lost"); !slices.Equal(l, []string{"lost"}) {
		t.Errorf("lineage without place: %v", l)
	}
	if l := c.Lineage("absent"); len(l) != 0 {
		t.Errorf("lineage of an unknown id: %v", l)
	}
}

func TestAncestry(t *testing.T) {
	c := fishes(t)
	id := idOf(t, c, "Gadus morhua")
	steps := c.Ancestry(id)
	lineage := c.Lineage(id)
	slices.Reverse(lineage)
	last := -1.0
	for i, s := range steps {
		if s.ID != lineage[i] || s.Distance < last {
			t.Errorf("step %d: %+v, lineage %s, distance before %v", i, s, lineage[i], last)
		}
		last = s.Distance
	}
	want := map[taxon.Rank]float64{taxon.Species: 0, taxon.Genus: 25, taxon.Family: 50, taxon.Suborder: 75, taxon.Order: 75, taxon.Class: 100}
	for _, s := range steps {
		if d, ok := want[s.Rank]; ok && d != s.Distance {
			t.Errorf("%s %s at distance %v, want %v", s.Rank, s.Name, s.Distance, d)
		}
	}
	if f, ok := c.Ancestor(id, taxon.Family); !ok || f.Name != "Gadidae" {
		t.Errorf("family %+v", f)
	}
}

// TestOverlayOfManyTaxa adds, changes and removes taxa while others read.
func TestOverlayOfManyTaxa(t *testing.T) {
	c := fishes(t)
	genus := idOf(t, c, "Sebastes")
	var wg sync.WaitGroup
	stop := make(chan struct{})
	for range 2 {
		wg.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					c.Match("Sebastes novus", 3)
					c.Lineage("own7")
				}
			}
		})
	}
	const many = 1000
	for round := range 3 {
		for i := range many {
			put(t, c, taxon.Taxon{ID: fmt.Sprint("own", i), ParentID: genus, Rank: taxon.Species, Name: fmt.Sprintf("Sebastes %s%s", word(i), word(round))})
		}
	}
	close(stop)
	wg.Wait()
	for i := range many {
		if got := first(t, c, fmt.Sprintf("Sebastes %s%s", word(i), word(2))); got.ID != fmt.Sprint("own", i) {
			t.Fatalf("own taxon %d: %+v", i, got)
		}
		c.Remove(fmt.Sprint("own", i))
	}
	if got := c.Match("Sebastes "+word(5)+word(2), 1); len(got) > 0 && got[0].Kind == taxon.ByName {
		t.Errorf("removed taxon still matches: %+v", got)
	}
}

// word spells a number in letters.
func word(i int) string {
	s := "q"
	for {
		s += string(rune('a' + i%26))
		if i /= 26; i == 0 {
			return s
		}
	}
}

func BenchmarkPut(b *testing.B) {
	c := fishes(b)
	genus := idOf(b, c, "Sebastes")
	for i := 0; b.Loop(); i++ {
		if err := c.Put(taxon.Taxon{ID: fmt.Sprint("own", i%10000), ParentID: genus, Rank: taxon.Species, Name: "Sebastes " + word(i)}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLineage(b *testing.B) {
	c := fishes(b)
	id := idOf(b, c, "Gadus morhua")
	for b.Loop() {
		c.Lineage(id)
	}
}
