package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"testing"

	"platarium/client/manifest"
)

// table10k is a manifest of records without files, as a studio's card index gives.
func table10k(rows int) []byte {
	species := []string{"Perca fluviatilis", "Esox lucius", "Salmo trutta", "Cyprinus carpio", "Labrus bergylta", "Gadus morhua"}
	var b bytes.Buffer
	b.WriteString("key,kind,title,scientific_name,view,stage,technique,structures,counts,creator,created,keywords,derived_from\n")
	for i := range rows {
		from := ""
		if i%5 == 4 {
			from = fmt.Sprintf("K%d:fact", i-1)
		}
		fmt.Fprintf(&b, "K%d,plate,\"%s, sheet %d\",%s,left lateral,final art,ink stipple,\"first dorsal fin=complete@0.3,0.1,0.2,0.2; pectoral fin=damaged\",\"D XIV, I,13; A II,%d\",Ida Moor,%d,freshwater; card index,%s\n",
			i, species[i%len(species)], i, species[i%len(species)], 7+i%3, 1950+i%70, from)
	}
	return b.Bytes()
}

// BenchmarkImport10k reads 10,000 rows without files and makes their records over the directory store.
func BenchmarkImport10k(b *testing.B) {
	const rows = 10_000
	for b.Loop() {
		b.StopTimer()
		r := start(b, newConfig(b))
		dir := b.TempDir()
		write(b, dir, map[string][]byte{"manifest.csv": table10k(rows)})
		opts := manifest.Options{Path: filepath.Join(dir, "manifest.csv")}
		b.StartTimer()
		sum, _ := imported(b, r.owner, opts)
		b.StopTimer()
		if sum.Pictures.Created != rows {
			b.Fatalf("created %d of %d", sum.Pictures.Created, rows)
		}
		b.ReportMetric(rows/sum.Elapsed.Seconds(), "rows/s")
		again, _ := imported(b, r.owner, opts)
		if again.Pictures.Unchanged != rows {
			b.Fatalf("second time, unchanged %d of %d", again.Pictures.Unchanged, rows)
		}
		b.ReportMetric(rows/again.Elapsed.Seconds(), "unchanged-rows/s")
		dry, _ := imported(b, r.owner, manifest.Options{Path: opts.Path, DryRun: true})
		b.ReportMetric(rows/dry.Elapsed.Seconds(), "dry-rows/s")
		local, err := manifest.Check(b.Context(), opts)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(rows/local.Elapsed.Seconds(), "local-rows/s")
		r.stop()
		b.StartTimer()
	}
}
