package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	drawing "platarium/client/demo/draw"
	"platarium/client/demo/draw/scanfile"
	"platarium/client/manifest"
)

// described is a scan that says something about itself.
func described(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	err := scanfile.JPEG(&b, &drawing.Raster{W: 8, H: 4, Channels: 3, Pix: make([]uint16, 8*4*3), PPI: 300}, scanfile.Meta{Title: "Pike, head of the large one", Creator: "Ida Moor", Created: time.Date(1998, 5, 4, 0, 0, 0, 0, time.UTC)}, 80)
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestDraft writes a first manifest of a messy folder, and imports what needs no settling.
func TestDraft(t *testing.T) {
	r := start(t, newConfig(t))
	dir := t.TempDir()
	write(t, dir, map[string][]byte{
		"Plates/1998/Perca fluviatilis FINAL.png":     scan(t, 1),
		"Plates/P_fluviatilis_dorsal_2001-06-30.png":  scan(t, 2),
		"Plates/Esox lucius right lat final copy.png": scan(t, 3),
		"studies/esox_lucius/outline dorsal fin.png":  scan(t, 4),
		"studies/Gadus_mohrua_skecth.png":             scan(t, 5),
		"refs/salmo-trutta/DSC_0042.jpg":              described(t),
		"refs/S. cephalus photo.png":                  scan(t, 6),
		"misc/scan0001.png":                           scan(t, 7),
		"misc/the same again.png":                     scan(t, 7),
		"misc/SalmoTrutta_ventral_ink_600dpi.png":     scan(t, 8),
		"misc/noname":        scan(t, 9),
		"misc/text.png":      []byte("no picture"),
		"misc/empty.png":     {},
		"Thumbs.db":          []byte("x"),
		".DS_Store":          []byte("x"),
		"Plates/.hidden.png": scan(t, 1),
		"Plates/1998/Perca fluviatilis FINAL.xmp":       []byte("<x/>"),
		"thumbnails/a.png":                              scan(t, 1),
		"price list.xlsx":                               []byte("x"),
		"studies/esox_lucius/Esox lucius 1999 2004.png": scan(t, 10),
	})
	d, err := manifest.Draft(t.Context(), r.owner, manifest.DraftOptions{Folder: dir, Year: 2026})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := d.Write(&b); err != nil {
		t.Fatal(err)
	}
	got := drafted(t, b.Bytes())
	if c := got["refs/salmo-trutta/DSC_0042.jpg"]["creator"]; c != "Ida Moor" {
		t.Errorf("creator is %q; want Ida Moor", c)
	}
	for file, want := range map[string][7]string{ // kind, title, scientific_name, view, stage, created, what the doubts say
		"Plates/1998/Perca fluviatilis FINAL.png":     {"plate", "Perca fluviatilis, final art", "Perca fluviatilis", "", "final art", "1998", ""},
		"Plates/P_fluviatilis_dorsal_2001-06-30.png":  {"plate", "Perca fluviatilis, dorsal, final art", "Perca fluviatilis", "dorsal", "final art", "2001-06-30", ""},
		"Plates/Esox lucius right lat final copy.png": {"plate", "Esox lucius, right lateral, final art", "Esox lucius", "right lateral", "final art", "", "another version"},
		"studies/esox_lucius/outline dorsal fin.png":  {"study", "Esox lucius, dorsal fin, outline", "Esox lucius", "", "outline", "", ""},
		"studies/Gadus_mohrua_skecth.png":             {"study", "Gadus morhua, outline", "Gadus morhua", "", "outline", "", `"skecth" was read as sketch; a sketch was taken as an outline; "Gadus mohrua" was read as Gadus morhua`},
		"refs/salmo-trutta/DSC_0042.jpg":              {"reference", "Pike, head of the large one", "Salmo trutta", "", "reference photograph", "1998-05-04", ""},
		"refs/S. cephalus photo.png":                  {"reference", "S cephalus photo", "", "", "reference photograph", "", "S. cephalus: which genus?"},
		"misc/scan0001.png":                           {"plate", "scan 0001", "", "", "final art", "", "no word says whether"},
		"misc/the same again.png":                     {"plate", "the same again", "", "", "final art", "", "the content is the same as that of misc/scan0001.png"},
		"misc/SalmoTrutta_ventral_ink_600dpi.png":     {"plate", "Salmo trutta, ventral, final art", "Salmo trutta", "ventral", "final art", "", "ink may be"},
		"misc/noname": {"plate", "noname", "", "", "final art", "", "no word says whether"},
		"studies/esox_lucius/Esox lucius 1999 2004.png": {"study", "Esox lucius", "Esox lucius", "", "", "1999", "several years, 1999 and 2004"},
	} {
		row := got[file]
		have := [7]string{row["kind"], row["title"], row["scientific_name"], row["view"], row["stage"], row["created"], row["doubts"]}
		if !slices.Equal(have[:6], want[:6]) || want[6] == "" != (have[6] == "") || !strings.Contains(have[6], want[6]) {
			t.Errorf("%s\n got %q\nwant %q", file, have, want)
		}
		delete(got, file)
	}
	if len(got) > 0 {
		t.Errorf("drafted besides: %v", got)
	}
	if len(d.LeftOut) != 8 {
		t.Errorf("left out %d: %v", len(d.LeftOut), d.LeftOut)
	}
	path := filepath.Join(dir, "manifest.csv")
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	sum, rows := imported(t, r.owner, manifest.Options{Path: path})
	if sum.Pictures.Created != d.Rows-d.Doubts || sum.Pictures.Rejected != d.Doubts || d.Doubts != 8 {
		t.Errorf("imported %+v of %d rows with %d doubtful: %+v", sum.Pictures, d.Rows, d.Doubts, rows)
	}
}

// drafted reads a draft as rows by file.
func drafted(t *testing.T, b []byte) map[string]map[string]string {
	t.Helper()
	records, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(b, []byte("\ufeff")))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]map[string]string{}
	for _, rec := range records[1:] {
		row := map[string]string{}
		for i, name := range records[0] {
			row[name] = rec[i]
		}
		out[row["file"]] = row
	}
	return out
}
