package main

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
	"testing"
	"time"

	"platarium/client/cli"
)

// licensingDesk is a server in June 2026 with a house and two plates.
func licensingDesk(t *testing.T) *running {
	t.Helper()
	conf := newConfig(t)
	conf.Clock = func() time.Time { return time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC) }
	r := start(t, conf)
	for _, words := range [][]string{
		{"party", "--id", "reed-press", "display_name=Reed Press"}, {"party", "--id", "moor-books", "display_name=Moor Books"},
		{"picture", "--id", "perch-plate", "kind=plate", "title=Perch", "view=left lateral"}, {"picture", "--id", "pike-plate", "kind=plate", "title=Pike"},
	} {
		do(t, r, cli.OK, append([]string{"add"}, words...)...)
	}
	return r
}

// do runs a command line that must end with a code.
func do(t *testing.T, r *running, code int, args ...string) (out, errOut string) {
	t.Helper()
	t.Setenv("PLATARIUM_KEY", r.secret)
	var said, beside bytes.Buffer
	if got := cli.Run(t.Context(), append([]string{"--server", r.address}, args...), strings.NewReader(""), &said, &beside); got != code {
		t.Fatalf("%q: exit %d, %s%s; want %d", args, got, &said, &beside, code)
	}
	return said.String(), beside.String()
}

// TestLifeOfAGrant takes one from draft to end by the command line.
func TestLifeOfAGrant(t *testing.T) {
	r := licensingDesk(t)
	scope := []string{"--work", "pictures/perch-plate", "--media", "print.book", "--territory", "DE", "--from", "2026-07-01", "--to", "2026-12-31", "--exclusivity", "exclusive"}
	create := func(id, party, status string, more ...string) []string {
		return slices.Concat([]string{"grant", "create", "--id", id, "--party", "parties/" + party, "--status", status}, scope, more)
	}
	do(t, r, cli.OK, create("book", "reed-press", "draft", "--fee", "450.00 EUR", "--credit", "© Maren Oltedal")...)
	do(t, r, cli.OK, create("rival", "moor-books", "draft")...)
	do(t, r, cli.OK, "grant", "offer", "grants/book")
	do(t, r, cli.OK, "grant", "offer", "grants/rival")
	do(t, r, cli.OK, "grant", "execute", "grants/book", "--signed", "2026-05-20")
	if _, said := do(t, r, cli.Refused, "grant", "execute", "grants/rival", "--signed", "2026-05-21"); !strings.Contains(said, "grants/book") {
		t.Errorf("the refusal says %q; want the grant in the way", said)
	}
	if out, _ := do(t, r, cli.OK, "available", "--work", "pictures/perch-plate", "--work", "pictures/pike-plate", "--media", "print.book", "--territory", "DE", "--from", "2026-08-01", "--to", "2026-08-31"); !strings.Contains(out, "pictures/perch-plate  no ") || !strings.Contains(out, "pictures/pike-plate  yes ") {
		t.Errorf("available says:\n%s", out)
	}
	if out, _ := do(t, r, cli.Missing, "available", "--json", "--work", "pictures/perch-plate", "--work", "pictures/nowhere", "--media", "print.book", "--territory", "DE"); strings.Count(out, "\n") != 2 || !strings.Contains(out, "NOT_FOUND") {
		t.Errorf("available --json says:\n%s", out)
	}
	do(t, r, cli.OK, "grant", "amend", "grants/book", "--id", "longer", "--effective", "2026-10-01", "--signed", "2026-06-01", "--to", "2027-06-30", "--territory", "DE,FR")
	shown, _ := do(t, r, cli.OK, "show", "grants/longer", "--json")
	for _, want := range []string{`"amends":"grants/book"`, `"territories":["DE","FR"]`, `"media":["print.book"]`, `"to":"2027-06-30"`, `"amount":"450.00"`} {
		if !strings.Contains(strings.ReplaceAll(shown, `": `, `":`), want) && !strings.Contains(strings.ReplaceAll(shown, ", ", ","), want) {
			t.Errorf("the amendment is %s; want %s", shown, want)
		}
	}
	do(t, r, cli.OK, "grant", "end", "grants/longer", "--on", "2027-01-01", "--reason", "reversion")
	if out, _ := do(t, r, cli.OK, "alarms", "--days", "400"); !strings.Contains(out, "grants/longer, Reed Press: ") {
		t.Errorf("alarms say:\n%s", out)
	}
	if out, _ := do(t, r, cli.OK, "history", "--party", "parties/reed-press"); !strings.Contains(out, "Reed Press") || strings.Count(out, "  - pictures/perch-plate  Perch\n") != 2 {
		t.Errorf("history says:\n%s", out)
	}
	out, _ := do(t, r, cli.OK, "history", "--party", "parties/reed-press", "--format", "csv")
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil || len(rows) != 3 {
		t.Fatalf("history as CSV: %v, %q", err, rows)
	}
	for _, want := range []string{"item", "description", "kind_of_clearance", "rights_holder", "date_granted", "restrictions", "credit_line", "fee", "voucher_copies"} {
		if !slices.Contains(rows[0], want) {
			t.Errorf("no column %s in %q", want, rows[0])
		}
	}
	if at := slices.Index(rows[0], "restrictions"); rows[1][at] != "print.book; DE; *; 2026-07-01 to 2026-12-31" {
		t.Errorf("restrictions are %q", rows[1][at])
	}
	do(t, r, cli.Usage, "history", "--party", "parties/reed-press", "pictures/perch-plate")
}
