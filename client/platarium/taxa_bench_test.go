package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/client/taxaimport"
)

// inventedList writes a checklist of n taxa: genera of eight species, every third species with a synonym, vernaculars in two languages.
func inventedList(t testing.TB, n int) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("taxonID\tscientificName\tscientificNameAuthorship\ttaxonRank\tparentNameUsageID\ttaxonomicStatus\tacceptedNameUsageID\tvernacular:de\tvernacular:en\n")
	b.WriteString("family\tInventidae\tMoor, 1900\tfamily\t\taccepted\t\t\t\n")
	for i := 1; i < n; {
		genus := fmt.Sprintf("g%d", i)
		name := inventedWord(i)
		fmt.Fprintf(&b, "%s\t%s\tMoor, 1901\tgenus\tfamily\taccepted\t\t\t\n", genus, strings.ToUpper(name[:1])+name[1:])
		i++
		for k := 0; k < 8 && i < n; k++ {
			id := i
			fmt.Fprintf(&b, "s%d\t%s %s\tMoor, 1902\tspecies\t%s\taccepted\t\t%sfisch\t%s fish\n", id, strings.ToUpper(name[:1])+name[1:], inventedWord(id*7), genus, inventedWord(id), inventedWord(id))
			if i++; k%3 == 0 && i < n {
				fmt.Fprintf(&b, "y%d\t%s %s\tMoor, 1903\tspecies\t\tsynonym\ts%d\t\t\n", i, strings.ToUpper(name[:1])+name[1:], inventedWord(i*11+3), id)
				i++
			}
		}
	}
	path := filepath.Join(t.TempDir(), "invented.tsv")
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// inventedWord makes a pronounceable word of a number, another for each.
func inventedWord(n int) string {
	syllables := []string{"ba", "ce", "do", "fi", "gu", "la", "me", "no", "pi", "ru", "sa", "te", "vo", "xi", "zu", "bra"}
	s := ""
	for k := 0; k < 4; k++ {
		s += syllables[n%len(syllables)]
		n /= len(syllables)
	}
	return s
}

// BenchmarkTaxaImport brings in a list of 10,000 new taxa, and compares it again.
func BenchmarkTaxaImport(b *testing.B) {
	const taxa = 10_000
	path := inventedList(b, taxa)
	for b.Loop() {
		b.StopTimer()
		r := start(b, newConfig(b))
		b.StartTimer()
		for _, want := range []taxaimport.Outcome{taxaimport.Added, taxaimport.Unchanged} {
			sum, err := taxaimport.Import(b.Context(), r.owner, taxaimport.Options{Path: path})
			if err != nil {
				b.Fatal(err)
			}
			if got := max(sum.Added, sum.Unchanged); got != sum.Rows {
				b.Fatalf("%s: %+v", want, sum)
			}
			b.ReportMetric(float64(sum.Rows)/sum.Elapsed.Seconds(), strings.ReplaceAll(string(want), " ", "-")+"-taxa/s")
		}
		b.StopTimer()
		r.stop()
		b.StartTimer()
	}
}
