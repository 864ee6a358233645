package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"platarium/server/rights/statement"
)

// drawn is a thumbnail: a lens-shaped fish on paper.
func drawn(t *testing.T) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 320, 160))
	for y := range 160 {
		for x := range 320 {
			dx, dy := float64(x-160)/140, float64(y-80)/50
			c := color.Gray{Y: 250}
			if r := dx*dx + dy*dy; r < 1 {
				c.Y = uint8(90 + 100*r)
			}
			img.SetGray(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// stated is a statement with so many entries over the ones that show every field.
func stated(t *testing.T, thumbnail []byte, more int) []byte {
	t.Helper()
	sum := sha256.Sum256(thumbnail)
	entries := []any{
		map[string]any{"kind": "grant", "name": "grants/lake-book", "party": "Reed Press", "terms": "exclusive", "media": []any{"print.book", "digital.ebook"}, "territories": []any{"DE", "AT", "CH"},
			"languages": []any{"de"}, "from": "2026-01-15", "to": "2028-01-14", "state": "in force", "copies": "3000", "fee": "450.00", "currency": "EUR", "signed_on": "2026-01-10",
			"credit_line": "Ida Moor / Seehaus-Museum Łódź", "remarks": []any{"evidence of publication due 2026-12-31", "the studio keeps digital.web for itself"}},
		map[string]any{"kind": "use", "name": "uses/first", "grant": "grants/lake-book", "party": "Reed Press", "media": []any{"print.book"}, "territories": []any{"DE"}, "languages": []any{"de"},
			"from": "2026-03-01", "title": "Fische der Seen, 2. Auflage", "identifier": "978-3-16-148410-0", "copies": "2500", "verdict": "licensed"},
	}
	for i := range more {
		entries = append(entries, map[string]any{"kind": "grant", "party": fmt.Sprintf("House %d", i), "terms": "non-exclusive", "media": []any{"*"}, "territories": []any{"WORLD"}, "languages": []any{"*"},
			"from": "2027-01-01", "state": "not yet"})
	}
	b, err := statement.Seal(map[string]any{
		"archive": "a1", "audience": "studio", "picture": "pictures/perch-plate", "title": "European perch, left lateral, breeding colours", "scientific_name": "Perca fluviatilis",
		"credit_line": "Ida Moor", "rights_holder": "Studio Moor", "sequence": "12", "head": strings.Repeat("0f", 32), "commit_time": "2026-06-01T12:00:00Z",
		"thumbnail_sha256": hex.EncodeToString(sum[:]), "entries": entries, "caution": "A record, not legal advice; the signed agreements govern.",
	})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func made(t *testing.T, b, thumbnail []byte) []byte {
	t.Helper()
	out, err := PDF(b, thumbnail)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// run gives a PDF to one of poppler's tools.
func run(t *testing.T, pdf []byte, tool string, args ...string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), tool, append([]string{file}, args...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v: %s", tool, err, out)
	}
	return string(out)
}

func TestTheReportSaysWhatTheStatementSays(t *testing.T) {
	thumb := drawn(t)
	words := run(t, made(t, stated(t, thumb, 0), thumb), "pdftotext", "-layout", "-")
	flat := strings.Join(strings.Fields(words), " ")
	for _, want := range []string{
		"European perch, left lateral", "Perca fluviatilis", "Studio Moor", "Reed Press, exclusive licence",
		"book (print.book); e-book (digital.ebook) · Germany (DE); Austria (AT); Switzerland (CH) · German (de)", "15 Jan 2026", "to 14 Jan 2028",
		"in force · up to 3000 copies · fee 450.00 EUR · signed 10 January 2026", "Ida Moor / Seehaus-Museum Łódź", "evidence of publication due 2026-12-31", "Fische der Seen, 2. Auflage",
		"used by Reed Press · 978-3-16-148410-0", "licensed · 2500 copies", "uses/first under grants/lake-book", "A record, not legal advice", "Commit 12, sha256 " + strings.Repeat("0f", 32), "page 1 of 1", "1 June 2026",
	} {
		if !strings.Contains(flat, want) {
			t.Errorf("no %q in\n%s", want, words)
		}
	}
}

func TestPagesAreNumberedAndEntriesWhole(t *testing.T) {
	thumb := drawn(t)
	pdf := made(t, stated(t, thumb, 40), thumb)
	pages := strings.Split(strings.TrimSuffix(run(t, pdf, "pdftotext", "-layout", "-"), "\f"), "\f")
	if len(pages) < 3 {
		t.Fatalf("%d pages; want several", len(pages))
	}
	for i, page := range pages {
		if want := fmt.Sprintf("page %d of %d", i+1, len(pages)); !strings.Contains(page, want) || !strings.Contains(page, "Commit 12") {
			t.Errorf("page %d lacks %q or the commit", i+1, want)
		}
		if a, b := strings.Count(page, "House "), strings.Count(page, "all media known when it was signed · all the world (WORLD) · all languages"); a != b {
			t.Errorf("page %d parts an entry: %d heads, %d bodies", i+1, a, b)
		}
	}
	if fonts := run(t, pdf, "pdffonts"); strings.Count(fonts, " yes no  yes ") != 3 {
		t.Errorf("want three fonts, all embedded and mapped to Unicode:\n%s", fonts)
	}
}

// TestTheReportIsDrawn renders a page: the thumbnail is where it belongs, margins are empty.
func TestTheReportIsDrawn(t *testing.T) {
	thumb := drawn(t)
	stem := filepath.Join(t.TempDir(), "page")
	run(t, made(t, stated(t, thumb, 0), thumb), "pdftoppm", "-png", "-r", "72", stem)
	f, err := os.Open(stem + "-1.png")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	ink := func(x0, y0, x1, y1 float64) (n int) { // mm
		for y := int(y0 * 72 / 25.4); y < int(y1*72/25.4); y++ {
			for x := int(x0 * 72 / 25.4); x < int(x1*72/25.4); x++ {
				if r, _, _, _ := img.At(x, y).RGBA(); r>>8 < 200 {
					n++
				}
			}
		}
		return n
	}
	if n := ink(pageWidth-margin-picture, margin, pageWidth-margin, margin+picture/2); n < 1000 {
		t.Errorf("%d dark pixels where the thumbnail belongs", n)
	}
	if n := ink(0, 0, pageWidth, margin-1) + ink(0, 0, margin-1, pageHeight) + ink(pageWidth-margin+1, 0, pageWidth, pageHeight); n != 0 {
		t.Errorf("%d dark pixels in the margins", n)
	}
}

func TestTheSameStatementGivesTheSameBytes(t *testing.T) {
	thumb := drawn(t)
	b := stated(t, thumb, 12)
	first := made(t, b, thumb)
	for range 3 {
		if !bytes.Equal(first, made(t, b, thumb)) {
			t.Fatal("set twice, two files")
		}
	}
	if bytes.Equal(first, made(t, b, nil)) {
		t.Error("the thumbnail makes no difference")
	}
}

func TestWhatIsNotWholeIsNotSet(t *testing.T) {
	thumb := drawn(t)
	b := stated(t, thumb, 0)
	if _, err := PDF(b, lineFeed(thumb)); !errors.Is(err, ErrThumbnail) {
		t.Errorf("another thumbnail gave %v", err)
	}
	if _, err := PDF(bytes.Replace(b, []byte("Reed"), []byte("Read"), 1), thumb); !errors.Is(err, statement.ErrDigest) {
		t.Errorf("a changed statement gave %v", err)
	}
}

func lineFeed(b []byte) []byte { return append(bytes.Clone(b), '\n') }
