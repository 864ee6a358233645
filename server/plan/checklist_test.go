package plan

import (
	"slices"
	"strings"
	"testing"

	"platarium/indexer/meristic"
	"platarium/indexer/rank"
	"platarium/indexer/taxon"
	"platarium/indexer/taxon/backbone"
)

func statements(t testing.TB, formula string) []meristic.Statement {
	t.Helper()
	r, err := meristic.Parse(formula, meristic.Options{})
	if err != nil {
		t.Fatalf("%s: %v", formula, err)
	}
	return r.Statements
}

// base is the base of the classification.
func base(t testing.TB) *taxon.Classification {
	t.Helper()
	tree, err := backbone.Load()
	if err != nil {
		t.Fatal(err)
	}
	return taxon.NewClassification(tree)
}

// lineageOf reads a lineage, root first.
func lineageOf(t testing.TB, taxa *taxon.Classification, name string) []rank.Taxon {
	t.Helper()
	found := taxa.Match(name, 1)
	if len(found) == 0 || found[0].Name != name {
		t.Fatalf("%s is not in the base", name)
	}
	var out []rank.Taxon
	for _, s := range taxa.Ancestry(found[0].ID) {
		out = append(out, rank.Taxon{ID: s.ID, Name: s.Name, Rank: s.Rank})
	}
	slices.Reverse(out)
	return out
}

func TestChecklistOf(t *testing.T) {
	t.Parallel()
	taxa := base(t)
	for _, c := range []struct {
		name, counts, group string
		with, without       []string
	}{
		{"Serranus cabrilla", "", "spiny-rayed fishes", []string{"dorsal fin", "anal fin", "opercle", "gill rakers", "lateral line", "pigmentation"}, []string{"first dorsal fin", "adipose fin"}},
		{"Perca fluviatilis", "", "spiny-rayed fishes", []string{"first dorsal fin", "second dorsal fin"}, []string{"dorsal fin"}},
		{"Serranus cabrilla", "D1 X; D2 14", "spiny-rayed fishes", []string{"first dorsal fin", "second dorsal fin"}, []string{"dorsal fin"}},
		{"Perca fluviatilis", "D XIV,13; A II,9", "spiny-rayed fishes", []string{"dorsal fin"}, []string{"first dorsal fin"}},
		{"Rutilus rutilus", "", "carps and minnows", []string{"pharyngeal teeth", "barbels", "dorsal fin"}, []string{"adipose fin", "first dorsal fin"}},
		{"Salmo trutta", "", "salmons and smelts", []string{"adipose fin", "dorsal fin"}, []string{"first dorsal fin", "pharyngeal teeth"}},
		{"Solea solea", "", "flatfishes", []string{"eyes", "blind side"}, []string{"eye"}},
		{"Cottus gobio", "", "sculpins, gurnards and scorpionfishes", []string{"head spines", "free pectoral rays", "first dorsal fin"}, []string{"dorsal fin"}},
		{"Chelidonichthys lucerna", "", "sculpins, gurnards and scorpionfishes", []string{"free pectoral rays"}, nil},
		{"Gadus morhua", "", "cods", []string{"third dorsal fin", "second anal fin", "barbel"}, []string{"anal fin"}},
		{"Rajiformes", "", "rays", []string{"disc", "thorns"}, []string{"anal fin"}},
		{"Clupea harengus", "", "bony fishes", []string{"dorsal fin"}, []string{"adipose fin"}},
		{"Petromyzon marinus", "", "jawless fishes", []string{"mouth"}, []string{"pelvic fin"}},
	} {
		var counts []meristic.Statement
		if c.counts != "" {
			counts = statements(t, c.counts)
		}
		got := ChecklistOf(lineageOf(t, taxa, c.name), counts)
		var names []string
		for _, it := range got.Structures {
			names = append(names, it.Structure)
			if it.Structure != Fold(it.Structure) {
				t.Errorf("%s: %q isn't in the form in which names are compared", c.name, it.Structure)
			}
		}
		if got.Group != c.group {
			t.Errorf("%s: group %q, want %q", c.name, got.Group, c.group)
		}
		for _, s := range c.with {
			if !slices.Contains(names, s) {
				t.Errorf("%s %s: lacks %s: %v", c.name, c.counts, s, names)
			}
		}
		for _, s := range c.without {
			if slices.Contains(names, s) {
				t.Errorf("%s %s: has %s", c.name, c.counts, s)
			}
		}
		slices.Sort(names)
		if len(slices.Compact(names)) != len(got.Structures) || len(names) < 6 || len(names) > 20 {
			t.Errorf("%s: %d structures: %v", c.name, len(got.Structures), names)
		}
	}
	groupsAreKnown(t, taxa)
	if got := ChecklistOf(nil, nil); got.Group != "other animals" || len(got.Structures) == 0 {
		t.Errorf("without a lineage: %+v", got)
	}
}

// TestNamesOf keeps names apart: none means two structures, and none lies within itself.
func TestNamesOf(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, n := range structureNames() {
		for _, s := range n.Same {
			if seen[s] {
				t.Errorf("%q stands for two structures", s)
			}
			seen[s] = true
			if got := NamesOf(s); got.Same[0] != s || len(got.Same) != len(n.Same) || slices.Contains(got.Within, s) {
				t.Errorf("%q: %+v", s, got)
			}
		}
	}
	if got := NamesOf("claspers"); !slices.Equal(got.All(), []string{"claspers"}) || !got.Outside {
		t.Errorf("%+v", got)
	}
	if got := NamesOf("operculum").All(); !slices.Equal(got, []string{"operculum", "opercle", "gill cover", "head"}) {
		t.Errorf("%v", got)
	}
}

// groupsAreKnown finds every group in the base of the classification; some names are those
// of other classifications.
func groupsAreKnown(t *testing.T, taxa *taxon.Classification) {
	t.Helper()
	known := map[string]bool{}
	for x := range taxa.Base().All() {
		known[x.Name] = true
	}
	for _, g := range groups() {
		if len(g.taxa) > 0 && !slices.ContainsFunc(g.taxa, func(n string) bool { return known[n] }) {
			t.Errorf("%s: none of %s is known", g.name, strings.Join(g.taxa, ", "))
		}
	}
}
