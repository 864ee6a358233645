package manifest

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write golden files anew")

// golden compares with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", name, diff)
	}
}

func put(t testing.TB, dir, name, content string) string {
	t.Helper()
	path := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// checked runs a local check and writes one line a row.
func checked(t *testing.T, opts Options) string {
	t.Helper()
	var b strings.Builder
	opts.Report = func(r RowResult) {
		fmt.Fprintf(&b, "%s row %d: %s", r.Table, r.Row, r.Outcome)
		if r.Reason != "" {
			fmt.Fprintf(&b, ": %s", r.Reason)
		}
		b.WriteString("\n")
	}
	sum, err := Check(t.Context(), opts)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(&b, "%s\n", sum)
	return b.String()
}

// TestBadCells gives every kind of cell at fault, one a row, among sound ones.
func TestBadCells(t *testing.T) {
	dir := t.TempDir()
	head := []string{"key", "id", "kind", "title", "taxon", "identified_on", "qualifier", "view", "stage", "structures", "counts", "landmarks", "calibration", "derived_from", "created", "rights_statement", "doubts"}
	rows := [][2]string{
		{"id", "Perch 1"}, {"id", "abc"}, {"id", "-abcd"},
		{"kind", ""}, {"kind", "plat"}, {"kind", "painting"},
		{"title", ""},
		{"taxon", "Perca fluviatilis"}, {"taxon", "taxa/12"},
		{"identified_on", "June 1987"}, {"identified_on", "1987-13"}, {"created", "30.4.2019"}, {"created", "../.."}, {"created", "1987-02-30"},
		{"qualifier", "near"},
		{"view", "leftish"}, {"view", "lateral left"}, {"stage", "finished"}, {"stage", "final-artt"},
		{"structures", "first dorsal fin=torn"}, {"structures", "=complete"}, {"structures", "head@0.1,0.2,0.3"}, {"structures", "head@0.5,0.5,0.6,0.2"},
		{"structures", "head@0,5;0,5"}, {"structures", "head@NaN,0,0.1,0.1"}, {"structures", "head@1e-3,0,0.1,0.1"}, {"structures", "head@0.1,0.1,0,0.1"},
		{"counts", "D XIV-, I"}, {"counts", "fourteen or so"}, {"counts", "D X-IX"},
		{"landmarks", "snout tip"}, {"landmarks", "@0.1,0.2"}, {"landmarks", "snout@0.1,1.2"},
		{"calibration", "50 mm"}, {"calibration", "0.1,0.9,0.1,0.9=50 bar"}, {"calibration", "0.1,0.9,0.3,0.9=0 bar"}, {"calibration", "0.1,0.9,0.3,0.9=-5"}, {"calibration", "0.1,0.9,0.3,0.9=5cm bar"},
		{"derived_from", "nobody"}, {"derived_from", "good:fact; godo:copied"}, {"derived_from", ":fact"}, {"derived_from", "same"},
		{"rights_statement", "all rights reserved"}, {"rights_statement", "https://example.org/licence"},
		{"doubts", "which genus?"},
	}
	table := []string{strings.Join(head, ",")}
	line := func(key, column, cell string) {
		cells := make([]string, len(head))
		for i, c := range head {
			switch c {
			case column:
				cells[i] = `"` + cell + `"`
			case "key":
				cells[i] = key
			case "kind":
				cells[i] = "plate"
			case "title":
				cells[i] = "Perch"
			}
		}
		table = append(table, strings.Join(cells, ","))
	}
	line("good", "", "")
	for i, r := range rows {
		key := fmt.Sprintf("k%d", i)
		if r[1] == "same" {
			key = "same"
		}
		line(key, r[0], r[1])
	}
	path := put(t, dir, "plates.csv", strings.Join(table, "\n"))
	golden(t, "bad-cells.golden", checked(t, Options{Path: path}))
}

// TestBadRows gives rows at fault as wholes, files that can't be taken, and doubles.
func TestBadRows(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "scans/ok.tif", "II*\x00 one")
	put(t, dir, "scans/Second.tif", "II*\x00 two")
	put(t, dir, "scans/empty.tif", "")
	put(t, dir, "scans/Grünling.tif", "II*\x00 three")
	outside := put(t, t.TempDir(), "outside.tif", "II*\x00 four")
	if err := os.Symlink(outside, filepath.Join(dir, "scans", "link.tif")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("ok.tif", filepath.Join(dir, "scans", "inner.tif")); err != nil {
		t.Fatal(err)
	}
	path := put(t, dir, "plates.csv", strings.Join([]string{
		"key,id,file,kind,title,derived_from,specimen",
		"a,,scans/ok.tif,plate,Sound,,",
		"b,,scans\\Second.tif,plate,Sound with a backslash,a:fact,S1",
		"c,,scans/Gru\u0308nling.tif,plate,Sound with a decomposed accent,,",
		"d,,scans/inner.tif,plate,Sound over a link inside,,",
		"",
		",,,,,,",
		"e,,scans/ok.tif,plate,The same file,,",
		"a,,,plate,The same key,,",
		"f,perch-1,,plate,First of an id,,",
		"g,perch-1,,plate,Same id,,",
		"h,,scans/missing.tif,plate,Missing,,",
		"i,,scans/Secnod.tif,plate,Missing by a slip,,",
		"j,,scans/empty.tif,plate,Empty,,",
		"k,,scans,plate,Folder,,",
		"l,,scans/link.tif,plate,Link out,,",
		"n,,../plates.csv,plate,Above,,",
		"o,,scans/../../x.tif,plate,Above by a detour,,",
		"p,,/etc/hostname,plate,Absolute,,",
		"q,,C:\\scans\\a.tif,plate,Absolute on Windows,,",
		"r,,~/a.tif,plate,Home,,",
		"s,,,plate",
		"t,,,plate,\"Open quotation mark,,",
		"u,,,plate,Stray \"mark\" inside,,",
		"v,,,plate,Too many cells, because of, a separator,x",
		"w,,,plate,Circle one,x,",
		"x,,,plate,Circle two,y,",
		"y,,,plate,Circle three,w:fact,",
		"z,,,plate,After all,,",
		"0,,,plate,After all,,",
	}, "\n"))
	specimens := put(t, dir, "specimens.csv", strings.Join([]string{
		"key,catalog_number,institution,standard_length_mm,fin_base_mm,sensitivity",
		"S1,NNHM 1,Northmere,212.5,30,0",
		"S2,NNHM 1,Northmere,200,,",
		"S3,NNHM 2,Northmere,-4,,",
		"S4,NNHM 3,Northmere,0,1e3,7",
		"S5,,,\"212,5\",,",
		",,Northmere,,,1",
		"S1,NNHM 4,,,,",
	}, "\n"))
	golden(t, "bad-rows.golden", checked(t, Options{Path: path, Specimens: specimens}))
}

// TestUnusable gives tables that can't be read at all.
func TestUnusable(t *testing.T) {
	dir := t.TempDir()
	var b strings.Builder
	for _, c := range []struct{ name, content string }{
		{"empty.csv", ""}, {"blank.csv", "\n\n \n"},
		{"unknown.csv", "kind,title,veiw,colour of eyes\nplate,Perch,left lateral,red\n"},
		{"double.csv", "kind,title,view,View\nplate,Perch,,\n"},
		{"unnamed.csv", "kind,,title\nplate,x,Perch\n"},
		{"required.csv", "file,title\na.tif,Perch\n"},
		{"headless.csv", "plate,Perch,left lateral\n"},
		{"quote.csv", "kind,\"title\nplate,Perch\n"},
		{"utf16.csv", "\xff\xfek\x00i\x00n\x00d\x00,\x00t\x00i\x00t\x00l\x00e\x00\n\x00"},
		{"utf16-bare.csv", "k\x00i\x00n\x00d\x00,\x00t\x00i\x00t\x00l\x00e\x00\n\x00"},
		{"latin1.csv", "kind,title\nplate,Perch\nplate,Gr\xfcnling\n"},
	} {
		_, err := Check(t.Context(), Options{Path: put(t, dir, c.name, c.content)})
		if !errors.Is(err, ErrUnusable) {
			t.Errorf("%s gave %v; want ErrUnusable", c.name, err)
		}
		fmt.Fprintf(&b, "%v\n", err)
	}
	for _, opts := range []Options{{Path: filepath.Join(dir, "none.csv")}, {Path: dir}, {Path: filepath.Join(dir, "double.csv"), Encoding: "utf-7"}, {Path: filepath.Join(dir, "utf16.csv"), Encoding: "windows-1252"}, {Path: filepath.Join(dir, "double.csv"), Encoding: "utf-16"}} {
		_, err := Check(t.Context(), opts)
		if !errors.Is(err, ErrUnusable) {
			t.Errorf("%+v gave %v; want ErrUnusable", opts, err)
		}
		fmt.Fprintf(&b, "%s\n", strings.ReplaceAll(fmt.Sprint(err), dir, "DIR"))
	}
	golden(t, "unusable.golden", b.String())
}
