package taxon

import (
	"io"
	"os"
	"strings"
	"testing"
	"unicode"
)

// namesFile holds published names with their parts; PLATARIUM_NAMES names
// another file of the same columns.
const namesFile = "../../testdata/published/names.tsv"

type row map[string]string

// readTable reads a tab-separated file without quoting, by column name.
func readTable(t testing.TB, path string) []row {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	data, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimRight(string(data), "\n"), "\n")
	head := strings.Split(lines[0], "\t")
	var out []row
	for _, line := range lines[1:] {
		r := row{}
		for i, v := range strings.Split(strings.TrimRight(line, "\r"), "\t") {
			if i < len(head) {
				r[head[i]] = v
			}
		}
		out = append(out, r)
	}
	return out
}

// TestPublishedNames measures the parser against published names: canonical
// form, and every part that the file gives. Not compared are the quality grade
// (each parser has its own scale) and the number of parts (follows from them).
func TestPublishedNames(t *testing.T) {
	path := namesFile
	if p := os.Getenv("PLATARIUM_NAMES"); p != "" {
		path = p
	}
	rows := readTable(t, path)
	canonical, whole := 0, 0
	for _, r := range rows {
		n, err := Parse(r["string"])
		got := n.Canonical()
		okCanonical := got == r["canonical"]
		if okCanonical {
			canonical++
		} else {
			t.Logf("%s %q: canonical %q, want %q (%v)", r["id"], r["string"], got, r["canonical"], err)
		}
		wrong := differences(n, err, r)
		if okCanonical && len(wrong) == 0 {
			whole++
		} else if len(wrong) > 0 {
			t.Logf("%s %q: %s", r["id"], r["string"], strings.Join(wrong, "; "))
		}
	}
	t.Logf("canonical form: %d of %d", canonical, len(rows))
	t.Logf("all given parts: %d of %d", whole, len(rows))
	if len(rows) == 0 || canonical*100 < 97*len(rows) {
		t.Errorf("canonical form right in %d of %d, want 97 %%", canonical, len(rows))
	}
	if whole*100 < 92*len(rows) {
		t.Errorf("all parts right in %d of %d, want 92 %%", whole, len(rows))
	}
}

// differences lists the parts in which a parsed name and a row disagree. A
// blank part must be absent from the parse, except where the file leaves
// columns blank because they weren't worked out: everything but the canonical
// form in hybrid formulae, the year of the first team where it stands in the
// year column, the kind of surrogate where the mark itself is given, or the mark
// where the kind is.
func differences(n Name, err error, r row) []string {
	var out []string
	check := func(column, got string, blankCounts bool) {
		want := r[column]
		if want == "" && !blankCounts || fold(got) == fold(want) {
			return
		}
		out = append(out, column+" "+quote(got)+", want "+quote(want))
	}
	if (err == nil) != (r["parsed"] == "true") {
		return []string{"parsed is " + quote(r["parsed"])}
	}
	hybrid := map[Hybrid]string{NamedHybrid: "NAMED_HYBRID", NothoHybrid: "NOTHO_HYBRID", HybridFormula: "HYBRID_FORMULA"}
	surrogate := map[Surrogate]string{Comparison: "COMPARISON", Approximation: "APPROXIMATION"}
	check("hybrid", hybrid[n.Hybrid], true)
	check("surrogate", surrogate[n.Surrogate], r["annotation"] == "")
	if err != nil || n.Hybrid == HybridFormula {
		return out
	}
	genus := n.Genus
	if n.Group != "" {
		genus = n.Group
	}
	check("genus", genus, true)
	check("subgenus", n.Subgenus, true)
	check("species", n.Species, true)
	var epithets, ranks []string
	for _, in := range n.Infras {
		epithets, ranks = append(epithets, in.Epithet), append(ranks, in.Rank)
	}
	check("infraspecies", strings.Join(epithets, "|"), true)
	check("infra_rank", strings.Join(ranks, "|"), true)
	check("annotation", n.Annotation, r["surrogate"] == "")
	parenthesised := "no"
	if n.Parenthesised {
		parenthesised = "yes"
	}
	check("parenthesised", parenthesised, false)
	check("basionym_authors", strings.Join(n.Original.Authors, "|"), true)
	check("basionym_year", n.Original.Year.Value, false)
	check("combination_authors", strings.Join(n.Combination.Authors, "|"), true)
	check("combination_year", n.Combination.Year.Value, false)
	check("year", n.Original.Year.String(), true)
	check("authorship_normalized", n.Authorship(), true)
	check("tail", n.Tail, true)
	return out
}

// fold lets two writings of one part agree: the sources differ in capitals of
// authors, in commas and in the brackets of inferred years.
func fold(s string) string {
	s = strings.Map(func(r rune) rune {
		switch r {
		case '[':
			return '('
		case ']':
			return ')'
		}
		if r == ',' || r == '&' || unicode.IsSpace(r) {
			return ' '
		}
		return unicode.ToLower(r)
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

func quote(s string) string { return "\"" + s + "\"" }
