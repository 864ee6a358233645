package report

import (
	"bytes"
	"fmt"
	"maps"
	"strings"
	"testing"

	"platarium/server/rights/statement"
)

// granted is a statement of a grant that shows every field, with changes.
func granted(t *testing.T, change map[string]any) []byte {
	t.Helper()
	content := map[string]any{
		"archive": "a1", "audience": "parties/reed-press", "grant": "grants/lake-book", "licensee": "Reed Press", "licensee_id": "parties/reed-press", "affiliates": []any{"Reed Paperbacks"},
		"terms": "exclusive", "state": "in force", "sequence": "12", "head": strings.Repeat("0f", 32), "commit_time": "2026-06-01T12:00:00Z", "caution": "A record, not legal advice; the signed agreement governs.",
		"works": []any{
			map[string]any{"work": "pictures/perch-plate", "title": "European perch", "scientific_name": "Perca fluviatilis", "description": "plate, left lateral", "rights_holder": "Studio Moor"},
			map[string]any{"work": "pictures/pike-plate#head", "title": "Pike"}, map[string]any{"work": "-pictures/carp-plate"},
		},
		"media": []any{"print.book", "digital.ebook", "-print.book.jacket"}, "reserved_media": []any{"digital.web"}, "territories": []any{"EU@2026-01-01", "CH", "-AT"},
		"expanded_territories": []any{"DE", "FR", "CH"}, "languages": []any{"de", "pt-BR"}, "purposes": []any{"noncommercial"}, "from": "2026-01-15", "to": "2028-01", "exclusive_to": "2027-06-30",
		"signed_on": "2026-01-10", "credit_line": "Ida Moor / Seehaus-Museum Łódź", "fee": "450.00", "currency": "EUR", "paid_on": "2026-02-01", "payment": "before use", "copies_max": "3000", "uses_max": "2",
		"product": "Fische der Seen", "alteration": "not allowed", "evidence_due_on": "2026-12-31", "amends": "grants/old-book", "effective_on": "2026-01-15", "copies_used": "2500",
		"later": []any{map[string]any{"grant": "grants/new-book", "bond": "replaced by", "effective_on": "2028-02-01", "state": "offered"}},
		"uses": []any{map[string]any{"kind": "use", "name": "uses/first", "grant": "grants/lake-book", "party": "Reed Press", "media": []any{"print.book"}, "territories": []any{"DE"}, "languages": []any{"de"},
			"from": "2026-03-01", "title": "Fische der Seen, 2. Auflage", "copies": "2500", "verdict": "licensed"}},
		"deliveries": []any{map[string]any{"day": "2026-02-02", "picture": "pictures/perch-plate", "variant": "original", "asked": "TIFF, 3000 pixels on the longer edge", "sha256": strings.Repeat("ab", 32)}},
	}
	maps.Copy(content, change)
	b, err := statement.Seal(content)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func flat(t *testing.T, b []byte) string {
	t.Helper()
	return strings.Join(strings.Fields(run(t, made(t, b, nil), "pdftotext", "-layout", "-")), " ")
}

func TestAGrantIsWrittenInFullWords(t *testing.T) {
	words := flat(t, granted(t, nil))
	for _, want := range []string{
		"Licence to Reed Press", "exclusive · in force", "Record grants/lake-book", "As of 1 June 2026", "Written for parties/reed-press", "European perch, Perca fluviatilis", "plate, left lateral · rights: Studio Moor",
		"Part: head Pike", "Except pictures/carp-plate", "Also for Reed Paperbacks", "Media book (print.book); e-book (digital.ebook); except book jacket or cover (print.book.jacket)",
		"Kept by the studio website (digital.web)", "European Union as on 1 January 2026 (EU@2026-01-01); Switzerland (CH); except Austria (AT)", "which are Germany (DE); France (FR); Switzerland (CH)",
		"German (de); Brazilian Portuguese (pt-BR)", "Purposes non-commercial", "from 15 January 2026 to January 2028, both days included", "nobody else may use the works, the studio included, until 30 June 2027",
		"Ida Moor / Seehaus-Museum Łódź", "For Fische der Seen", "at most 3000 in all", "at most 2", "Alteration not allowed", "450.00 EUR, paid 1 February 2026", "a condition: nothing may be used before it",
		"Voucher copies due 31 December 2026", "Signed 10 January 2026", "Amends grants/old-book", "Replaced by grants/new-book, from 1 February 2028, offered", "In all 2500 copies", "Fische der Seen, 2. Auflage",
		"2 February 2026 pictures/perch-plate, original, TIFF, 3000 pixels on the longer edge", "sha256 " + strings.Repeat("ab", 32), "the signed agreement governs", "Commit 12, sha256 " + strings.Repeat("0f", 32),
	} {
		if !strings.Contains(words, want) {
			t.Errorf("no %q in\n%s", want, words)
		}
	}
	if strings.Contains(words, "none on file") {
		t.Error("a licensee is told which papers the studio lacks")
	}
}

func TestKindsOfGrantsAreTold(t *testing.T) {
	for _, c := range []struct {
		change map[string]any
		want   string
	}{
		{map[string]any{"terms": "non-exclusive"}, "may license the works to others"},
		{map[string]any{"terms": "sole"}, "nobody else may use the works but the studio itself, until"},
		{map[string]any{"terms": "first rights", "first_publication_deadline": "2027-01-01"}, "before the licensee has, or until 1 January 2027"},
		{map[string]any{"terms": "assignment"}, "have passed to the licensee"},
		{map[string]any{"terms": "holdback", "holdback_mode": "all"}, "nobody uses the works"},
		{map[string]any{"terms": "option", "option_until": "2027-03-31"}, "is asked first, until 31 March 2027; it permits no use"},
		{map[string]any{"terms": "public licence https://example.org/free", "licensee": "everybody", "licensee_id": ""}, "Licence to everybody"},
		{map[string]any{"to": "", "from": ""}, "until the legal term of copyright ends"},
		{map[string]any{"to": "", "term_event": "24 months from publication"}, "24 months from publication"},
		{map[string]any{"territories": []any{"WORLD"}, "media": []any{"*"}, "languages": []any{"*"}, "purposes": []any{}}, "commercial and non-commercial"},
		{map[string]any{"audience": "studio"}, "Signed document none on file"},
		{map[string]any{"uses": []any{}}, "Nothing on record."},
		{map[string]any{"state": "ended 2026-05-01"}, "ended 1 May 2026"},
	} {
		if words := flat(t, granted(t, c.change)); !strings.Contains(words, c.want) {
			t.Errorf("%v: no %q in\n%s", c.change, c.want, words)
		}
	}
	if strings.Contains(flat(t, granted(t, map[string]any{"fee": "", "payment": ""})), "Fee") {
		t.Error("a fee is told where the statement has none")
	}
}

func TestALongGrantHasNumberedPagesAndTheSameBytes(t *testing.T) {
	var works []any
	for i := range 80 {
		works = append(works, map[string]any{"work": fmt.Sprintf("pictures/plate-%02d", i), "title": fmt.Sprintf("Plate %d", i)})
	}
	b := granted(t, map[string]any{"works": works})
	pdf := made(t, b, nil)
	pages := strings.Split(strings.TrimSuffix(run(t, pdf, "pdftotext", "-layout", "-"), "\f"), "\f")
	for i, page := range pages {
		if want := fmt.Sprintf("page %d of %d", i+1, len(pages)); !strings.Contains(page, want) || !strings.Contains(page, "Commit 12") {
			t.Errorf("page %d lacks %q or the commit", i+1, want)
		}
		if a, b := strings.Count(page, "Picture"), strings.Count(page, "pictures/plate-"); a != b && i < len(pages)-1 {
			t.Errorf("page %d parts a work: %d labels, %d names", i+1, a, b)
		}
	}
	if len(pages) < 3 || !bytes.Equal(pdf, made(t, b, nil)) {
		t.Errorf("%d pages, or two files of one statement", len(pages))
	}
}
