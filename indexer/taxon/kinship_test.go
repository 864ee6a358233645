package taxon_test

import (
	"math"
	"os"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"platarium/indexer/taxon"
)

// table reads a tab-separated file of published values by column name.
func table(t testing.TB, name string) []map[string]string {
	t.Helper()
	data, err := os.ReadFile("../../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(data)), "\n")
	head := strings.Split(lines[0], "\t")
	var out []map[string]string
	for _, line := range lines[1:] {
		r := map[string]string{}
		for i, v := range strings.Split(line, "\t") {
			r[head[i]] = v
		}
		out = append(out, r)
	}
	return out
}

// expected takes the figure behind "name = " out of a row of relatedness-checks.tsv.
func expected(t *testing.T, check, name string) float64 {
	t.Helper()
	for _, r := range table(t, "relatedness-checks.tsv") {
		if r["check"] != check {
			continue
		}
		_, rest, ok := strings.Cut(r["expected"], name)
		if !ok {
			break
		}
		rest = strings.TrimLeft(rest, "= ")
		end := strings.IndexFunc(rest, func(c rune) bool { return c != '.' && (c < '0' || c > '9') })
		if end >= 0 {
			rest = rest[:end]
		}
		v, err := strconv.ParseFloat(strings.TrimRight(rest, "."), 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	t.Fatalf("no %q in check %q", name, check)
	return 0
}

// near compares to the digits that the file prints.
func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 6e-5*math.Max(1, math.Abs(want)/10) {
		t.Errorf("%s = %.6f, want %.6f", what, got, want)
	}
}

// idOf finds the one taxon of a name.
func idOf(t testing.TB, c *taxon.Classification, name string) string {
	t.Helper()
	got := c.Match(name, 1)
	if len(got) == 0 || got[0].Score < 0.95 {
		t.Fatalf("%s isn't in the base: %+v", name, got)
	}
	return got[0].ID
}

func TestDistinctnessOfFishes(t *testing.T) {
	c := fishes(t)
	const check = "Delta+ fish list"
	var ids []string
	genus := ""
	for _, r := range table(t, "relatedness-checks.tsv") {
		if r["check"] != check {
			continue
		}
		list, _, _ := strings.Cut(r["input"], ";")
		for _, name := range strings.Split(list, ", ") {
			if first, rest, _ := strings.Cut(name, " "); strings.HasSuffix(first, ".") {
				name = genus + " " + rest
			} else {
				genus = first
			}
			ids = append(ids, idOf(t, c, name))
		}
	}
	omega := func(i, j int) float64 { return c.Relation(ids[i], ids[j]).Distance }
	one := slices.Repeat([]float64{1}, len(ids))
	got := taxon.Distinct(one, omega)
	near(t, "Delta+", got.DeltaPlus, expected(t, check, "Delta+"))
	near(t, "Lambda+", got.LambdaPlus, expected(t, check, "Lambda+"))
	got = taxon.Distinct([]float64{4, 1, 10, 3, 2, 1, 6, 2, 8}, omega)
	near(t, "Delta", got.Delta, expected(t, "Delta, Delta* fish list", "Delta"))
	near(t, "Delta*", got.DeltaStar, expected(t, "Delta, Delta* fish list", "Delta* "))
}

// smallTree is the tree of the check "small tree": genera in families, without species.
func smallTree(t *testing.T) *taxon.Classification {
	t.Helper()
	tree, err := taxon.NewTree([]taxon.Taxon{
		{ID: "R", Name: "Root", Rank: taxon.Class},
		{ID: "F1", ParentID: "R", Name: "Fprima", Rank: taxon.Family}, {ID: "F2", ParentID: "R", Name: "Fsecunda", Rank: taxon.Family},
		{ID: "G1", ParentID: "F1", Name: "Gprima", Rank: taxon.Genus}, {ID: "G2", ParentID: "F1", Name: "Gsecunda", Rank: taxon.Genus},
		{ID: "G3", ParentID: "F2", Name: "Gtertia", Rank: taxon.Genus},
	})
	if err != nil {
		t.Fatal(err)
	}
	return taxon.NewClassification(tree)
}

func TestDistinctnessOfSmallTree(t *testing.T) {
	c := smallTree(t)
	w := taxon.Weights{Levels: []taxon.Rank{taxon.Genus, taxon.Family}}
	ids := []string{"G1", "G1", "G2", "G3", "G3"}
	got := taxon.Distinct([]float64{5, 3, 3, 1, 3}, func(i, j int) float64 {
		d, ok := c.Distance(w, ids[i], ids[j])
		if !ok {
			t.Fatalf("%s and %s don't meet", ids[i], ids[j])
		}
		return d
	})
	const check = "small tree"
	near(t, "Delta", got.Delta, expected(t, check, "Delta "))
	near(t, "Delta*", got.DeltaStar, expected(t, check, "Delta* "))
	near(t, "Delta+", got.DeltaPlus, expected(t, check, "Delta+ "))
	near(t, "Lambda+", got.LambdaPlus, expected(t, check, "Lambda+ "))
}

// TestDeltaStarExample uses the published example's own steps: its table puts
// one genus into two families, so no tree can hold it.
func TestDeltaStarExample(t *testing.T) {
	genus := []string{"G1", "G1", "G2", "G2", "G2"}
	got := taxon.Distinct([]float64{5, 3, 3, 1, 3}, func(i, j int) float64 {
		if genus[i] == genus[j] {
			return 1
		}
		return 2
	})
	near(t, "Delta*", got.DeltaStar, expected(t, "Delta* example", ""))
}

func TestScaleRule(t *testing.T) {
	w := taxon.Weights{Levels: []taxon.Rank{taxon.Species, taxon.Genus}}
	for i, want := range []float64{0, expected(t, "scale rule", "omega"), 100} {
		if got := w.Omega(i); got != want {
			t.Errorf("omega at step %d is %v, want %v", i, got, want)
		}
	}
}

// TestAgainstAges compares taxonomic distance with the age of the common
// ancestor in a dated tree. Taxonomy has few steps, so it ties where the dated
// tree does not; ranks of ties are averaged.
func TestAgainstAges(t *testing.T) {
	c := fishes(t)
	var taxonomic, age []float64
	for _, r := range table(t, "patristic-checks.tsv") {
		a := idOf(t, c, strings.ReplaceAll(r["a"], "_", " "))
		b := idOf(t, c, strings.ReplaceAll(r["b"], "_", " "))
		v, err := strconv.ParseFloat(r["MRCA_age_Ma"], 64)
		if err != nil {
			t.Fatal(err)
		}
		rel := c.Relation(a, b)
		t.Logf("%-22s %-22s %8.2f Ma  %5.1f  %s", r["a"], r["b"], v, rel.Distance, rel.Phrase)
		taxonomic, age = append(taxonomic, rel.Distance), append(age, v)
	}
	rho := spearman(taxonomic, age)
	t.Logf("Spearman rank correlation of taxonomic distance and age over %d pairs: %.3f", len(age), rho)
	if rho < 0.85 {
		t.Errorf("rank correlation %.3f, want at least 0.85", rho)
	}
}

// spearman is Pearson's correlation of the ranks.
func spearman(x, y []float64) float64 {
	a, b := ranks(x), ranks(y)
	var ma, mb float64
	for i := range a {
		ma += a[i] / float64(len(a))
		mb += b[i] / float64(len(b))
	}
	var ab, aa, bb float64
	for i := range a {
		ab += (a[i] - ma) * (b[i] - mb)
		aa += (a[i] - ma) * (a[i] - ma)
		bb += (b[i] - mb) * (b[i] - mb)
	}
	return ab / math.Sqrt(aa*bb)
}

func ranks(x []float64) []float64 {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(i, j int) bool { return x[order[i]] < x[order[j]] })
	out := make([]float64, len(x))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && x[order[j]] == x[order[i]] {
			j++
		}
		for _, k := range order[i:j] {
			out[k] = float64(i+j-1)/2 + 1
		}
		i = j
	}
	return out
}

func TestChildren(t *testing.T) {
	c := fishes(t)
	genus := idOf(t, c, "Gadus")
	before := names(c.Children(genus))
	if !slices.Contains(before, "Gadus morhua") {
		t.Fatalf("children of Gadus: %v", before)
	}
	put(t, c, taxon.Taxon{ID: "own", ParentID: genus, Rank: taxon.Species, Name: "Gadus fictus"})
	moved, _ := c.Taxon(idOf(t, c, "Gadus morhua"))
	moved.ParentID = ""
	put(t, c, moved)
	after := names(c.Children(genus))
	if len(after) != len(before) || !slices.Contains(after, "Gadus fictus") || slices.Contains(after, "Gadus morhua") {
		t.Errorf("children after the change: %v", after)
	}
}
