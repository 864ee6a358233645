package demo

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/client/demo/draw"
)

// TestCountsDrawn draws every outline and every plate and counts the strokes of
// each fin twice: as the drawing states them and on its pixels, at the resolution
// of the scan but at most 600 ppi.
func TestCountsDrawn(t *testing.T) {
	for _, w := range AllWorks() {
		if w.Stage != draw.Outline && w.Kind != Plate {
			continue
		}
		t.Run(w.Key, func(t *testing.T) {
			t.Parallel()
			d, err := w.Draw()
			if err != nil {
				t.Fatal(err)
			}
			if sp, _ := findSpecimen(w.Specimen); strings.Contains(w.Formula(), "LL") && d.LateralLine != sp.LateralLine {
				t.Errorf("%d scales drawn in the lateral line, stated %d", d.LateralLine, sp.LateralLine)
			}
			shown := w.Shown()
			if len(shown) == 0 && w.View != draw.Head && w.View != draw.Scale {
				t.Error("work states no counts")
			}
			for _, e := range shown {
				for _, f := range drawnFins(d, w.View, e.Fin) {
					if f.Spines != e.Spines || f.Soft != e.Unbranched+e.Rays {
						t.Errorf("%s: drawn %d spines and %d rays, stated %+v", f.Name, f.Spines, f.Soft, e)
					}
					if len(f.Arc) == 0 {
						continue // a folded fin seen from above has ticks, not rays
					}
					n, err := d.Tally(f.Name, min(w.PPI, 600))
					if err != nil {
						t.Fatal(err)
					}
					if want := e.Spines + e.Unbranched + e.Rays; n != want {
						t.Errorf("%s: %d strokes on the raster, want %d", f.Name, n, want)
					}
				}
			}
		})
	}
}

// drawnFins are the drawn fins for one stated fin: both sides when seen from above.
func drawnFins(d *draw.Drawing, v draw.View, name string) []draw.DrawnFin {
	names := []string{name}
	if v == draw.Dorsal && name == pectoral {
		names = []string{"left " + name, "right " + name}
	}
	var out []draw.DrawnFin
	for _, n := range names {
		f, _ := d.Fin(n)
		out = append(out, f)
	}
	return out
}

func TestScansAreDeterministic(t *testing.T) {
	keep := map[string]bool{"P-028": true, "S-047": true, "R-015": true, "S-006": true, "S-007": true, "S-011": true, "P-012": true, "S-022": true, "S-057": true}
	o := ScanOptions{PPIFactor: 0.25, Keep: func(w Work) bool { return keep[w.Key] }}
	a, b := t.TempDir(), t.TempDir()
	scans, err := WriteScans(t.Context(), a, o)
	if err != nil {
		t.Fatal(err)
	}
	o.Workers = 1
	if _, err := WriteScans(t.Context(), b, o); err != nil {
		t.Fatal(err)
	}
	files := []string{ManifestName, SpecimensName}
	for _, s := range scans {
		files = append(files, s.File)
	}
	if len(files) != len(keep)+2 {
		t.Fatalf("%d files, want %d", len(files), len(keep)+2)
	}
	for _, f := range files {
		x, err := os.ReadFile(filepath.Join(a, f))
		if err != nil {
			t.Fatal(err)
		}
		y, err := os.ReadFile(filepath.Join(b, f))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(x, y) {
			t.Errorf("%s differs between two runs", f)
		}
	}
	checkManifest(t, a, scans)
}

func checkManifest(t *testing.T, dir string, scans []Scan) {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, ManifestName))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != len(scans)+1 {
		t.Fatalf("%d manifest rows, want %d", len(rows)-1, len(scans))
	}
	col := map[string]int{}
	for i, name := range rows[0] {
		col[name] = i
	}
	for _, r := range rows[1:] {
		for _, name := range []string{"file", "key", "kind", "title", "scientific_name", "identified_by", "view", "stage", "technique", "structures", "specimen", "creator", "created", "rights_holder", "credit"} {
			if r[col[name]] == "" {
				t.Errorf("%s: empty %s", r[col["key"]], name)
			}
		}
		if _, err := os.Stat(filepath.Join(dir, r[col["file"]])); err != nil {
			t.Errorf("%s: %v", r[col["key"]], err)
		}
	}
}

func TestCancelStops(t *testing.T) {
	stop := ScanOptions{PPIFactor: 0.05, Keep: func(w Work) bool { return w.Kind == Plate }}
	dir := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(dir, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := WriteScans(t.Context(), dir, stop); err == nil {
		t.Error("scans were written below a file")
	}
}

func TestFormula(t *testing.T) {
	want := map[string]string{
		"S-005": "D XI,16; A III,9; P 17; V I,5; C 17; LL 62",
		"S-011": "D. 10/11; A. 3/7; P. 17; V. 1/5; C. 17; LL 49",
		"S-035": "D VI-I,10; A I,8; P 17; V I,5; C 17",
		"P-032": "D iv,10; A iii,8; P i,12; V i,8; C 19; LL 116",
		"S-049": "D1 XIV",
		"R-016": "D2 I,14; A II,8; P 14; C 17; LL 61",
	}
	for _, w := range AllWorks() {
		if s, ok := want[w.Key]; ok && w.Formula() != s {
			t.Errorf("%s: formula %q, want %q", w.Key, w.Formula(), s)
		}
		delete(want, w.Key)
	}
	for k := range want {
		t.Errorf("no work %s", k)
	}
}

func BenchmarkWriteScans(b *testing.B) {
	var bytes int64
	for b.Loop() {
		scans, err := WriteScans(b.Context(), b.TempDir(), ScanOptions{})
		if err != nil {
			b.Fatal(err)
		}
		bytes = 0
		for _, s := range scans {
			bytes += s.Bytes
		}
	}
	b.ReportMetric(float64(bytes)/1e6, "MB")
}

func TestNoTuna(t *testing.T) {
	var all strings.Builder
	for _, s := range AllSpecies() {
		all.WriteString(s.Name + " " + s.Family + " " + s.Vernacular + "\n")
	}
	for _, w := range AllWorks() {
		all.WriteString(w.Title() + " " + w.Notes + " " + strings.Join(w.Keywords, " ") + "\n")
	}
	for _, u := range Uses() {
		all.WriteString(u.Title + "\n")
	}
	text := strings.ToLower(all.String())
	for _, word := range []string{"tuna", "thunnus", "scombridae", "katsuwonus", "euthynnus", "auxis"} {
		if strings.Contains(text, word) {
			t.Errorf("the studio's data name %q", word)
		}
	}
}
