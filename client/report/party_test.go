package report

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/server/rights/statement"
)

var update = flag.Bool("update", false, "write the golden files anew")

// dealings is a statement of a house with a grant of its own, one in which it is an affiliate, a use under the first and one under none, and so many grants more.
func dealings(t *testing.T, more int) []byte {
	t.Helper()
	perch := func(entry map[string]any) map[string]any {
		return map[string]any{"picture": "pictures/perch-plate", "title": "European perch", "scientific_name": "Perca fluviatilis", "description": "plate, left lateral", "rights_holder": "Studio Moor", "entry": entry}
	}
	hidden := func(entry map[string]any) map[string]any {
		return map[string]any{"picture": "pictures/pike-study", "entry": entry, "evidence": "on file"}
	}
	book := map[string]any{"kind": "grant", "name": "grants/lake-book", "party": "Reed Press", "terms": "exclusive", "media": []any{"print.book"}, "territories": []any{"EU@2026-01-01"}, "from": "2026-01-15"}
	first := map[string]any{"kind": "use", "name": "uses/first", "grant": "grants/lake-book", "party": "Reed Press", "media": []any{"print.book"}, "territories": []any{"DE"}, "languages": []any{"de"},
		"from": "2026-03-01", "title": "Fische der Seen, 2. Auflage", "identifier": "978-3-16-148410-0", "copies": "2500", "verdict": "licensed", "credit_line": "Ida Moor"}
	poster := map[string]any{"kind": "use", "name": "uses/poster", "party": "Reed Press", "media": []any{"print.poster"}, "territories": []any{"WORLD"}, "from": "2026-04", "title": "Seefische", "verdict": "not licensed",
		"remarks": []any{"the medium is outside the grant"}}
	entries := []any{perch(book), hidden(book), perch(first), hidden(first), perch(poster)}
	grants := []any{
		map[string]any{"grant": "grants/lake-book", "works": []any{"pictures/perch-plate", "pictures/pike-study#head"}, "licensee": "Reed Press", "licensee_id": "parties/reed-press", "terms": "exclusive",
			"state": "in force", "media": []any{"print.book", "digital.ebook", "-print.book.jacket"}, "reserved_media": []any{"digital.web"}, "territories": []any{"EU@2026-01-01", "CH", "-AT"},
			"expanded_territories": []any{"DE", "FR", "CH"}, "languages": []any{"de"}, "from": "2026-01-15", "to": "2028-01-14", "exclusive_to": "2027-06-30", "signed_on": "2026-01-10", "fee": "450.00",
			"currency": "EUR", "paid_on": "2026-02-01", "copies_max": "3000", "product": "Fische der Seen", "alteration": "not allowed", "credit_line": "Ida Moor / Seehaus-Museum Łódź",
			"later": []any{map[string]any{"grant": "grants/new-book", "bond": "replaced by", "effective_on": "2028-02-01", "state": "offered"}}},
		map[string]any{"grant": "grants/all", "works": []any{"*", "-pictures/carp-plate"}, "licensee": "Moor Books", "licensee_id": "parties/moor-books", "affiliates": []any{"Reed Press"}, "terms": "non-exclusive",
			"state": "ended 2026-05-01", "media": []any{"*"}, "territories": []any{"WORLD"}, "languages": []any{"*"}, "purposes": []any{"noncommercial"}, "alteration": "allowed"},
	}
	for i := range more {
		grants = append(grants, map[string]any{"grant": fmt.Sprintf("grants/more-%02d", i), "works": []any{"pictures/perch-plate"}, "licensee_id": "parties/reed-press", "terms": "sole", "state": "not yet", "media": []any{"print"}})
	}
	b, err := statement.Seal(map[string]any{
		"archive": "a1", "audience": "parties/reed-press", "party": "parties/reed-press", "party_name": "Reed Press", "entries": entries, "grants": grants, "sequence": "12",
		"head": strings.Repeat("0f", 32), "commit_time": "2026-06-01T12:00:00Z", "caution": "A record, not legal advice; the signed agreement governs.",
	})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestAPartysHistoryReads compares the words of the pages, line by line, with those that somebody has read and found right.
func TestAPartysHistoryReads(t *testing.T) {
	var lines []string
	for line := range strings.Lines(run(t, made(t, dealings(t, 0), nil), "pdftotext", "-layout", "-")) {
		if words := strings.Join(strings.Fields(line), " "); words != "" {
			lines = append(lines, words)
		}
	}
	got := []byte(strings.Join(lines, "\n") + "\n")
	path := filepath.Join("testdata", "party.txt")
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("the pages read\n%s\nnot as %s; see the difference by go test -update and git diff", got, path)
	}
}

func TestALongHistoryOfAPartyHasNumberedPagesAndTheSameBytes(t *testing.T) {
	b := dealings(t, 30)
	pdf := made(t, b, nil)
	pages := strings.Split(strings.TrimSuffix(run(t, pdf, "pdftotext", "-layout", "-"), "\f"), "\f")
	all := strings.Join(pages, "")
	for i, page := range pages {
		if want := fmt.Sprintf("page %d of %d", i+1, len(pages)); !strings.Contains(page, want) || !strings.Contains(page, "Commit 12, sha256 "+strings.Repeat("0f", 32)) || !strings.Contains(page, "not legal advice; the signed agreement governs") {
			t.Errorf("page %d lacks %q, the commit or the caution", i+1, want)
		}
	}
	for i := range 30 {
		if name := fmt.Sprintf("grants/more-%02d · not yet in force", i); strings.Count(all, name) != 1 {
			t.Errorf("%d times %q; want it once", strings.Count(all, name), name)
		}
	}
	if len(pages) < 5 || !bytes.Equal(pdf, made(t, b, nil)) {
		t.Errorf("%d pages, or two files of one statement", len(pages))
	}
}

func TestAHouseWithoutDealings(t *testing.T) {
	b, err := statement.Seal(map[string]any{"archive": "a1", "audience": "studio", "party": "parties/new", "party_name": "New House", "sequence": "1", "head": strings.Repeat("0f", 32), "commit_time": "2026-06-01T12:00:00Z"})
	if err != nil {
		t.Fatal(err)
	}
	if words := flat(t, b); !strings.Contains(words, "New House") || !strings.Contains(words, "No grants or uses on record.") {
		t.Errorf("got %s", words)
	}
}
