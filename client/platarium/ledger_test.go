package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/client/cli"
)

// TestLedger brings in an old ledger with collisions, doubles, gaps and a stranger: dry, then in earnest, twice, then with its collisions.
func TestLedger(t *testing.T) {
	r := licensingDesk(t)
	do(t, r, cli.OK, "grant", "create", "--id", "standing", "--party", "parties/moor-books", "--work", "pictures/pike-plate", "--media", "print.book", "--territory", "FR",
		"--exclusivity", "exclusive", "--from", "2020", "--signed", "2020-01-01")
	file := filepath.Join(t.TempDir(), "ledger.csv")
	text := strings.Join([]string{
		"picture,licensee,exclusivity,media,territories,from,to,signed,fee,currency,notes",
		"perch-plate,Reed Press,exclusive,print.book,DE,1994,1999,1994-02-17,450.00,DEM,from the card file",
		"perch-plate,moor-books,,print.book.hardback,DE,1998,2000,1998-01-01,,,collides with line 2",
		"perch-plate,Reed Press,exclusive,print.book,DE,2002,2004,2001-12-01,,,after a gap",
		"perch-plate,Reed Press,exclusive,print.book,DE,2002,2004,2001-12-01,,,after a gap",
		"pike-plate,reed-press,,print.book,FR,2021,2022,2021-01-01,,,collides with what is there",
		"perch-plate,Reed Pres,,print.book,AT,1994,1999,1994-02-17,,,a stranger",
		"perch-plate,Reed Press,,print.bok,AT,1994,1999,1994-02-17,,,a slip",
	}, "\n")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, step := range []struct {
		name string
		args []string
		want []string
	}{
		{"dry", []string{"--dry-run"}, []string{
			"line 2: acceptable as grants/ledger-", "to Reed Press (parties/reed-press)", "line 3: rejected, to Moor Books (parties/moor-books): collides with line 2;",
			"line 5: there already", "says the same as line 4", "line 6: rejected, to Reed Press (parties/reed-press): collides with grants/standing;",
			"line 7: rejected: licensee: found \"Reed Pres\", which no party is called; near it: Reed Press (parties/reed-press)", "line 8: rejected", "print.bok",
			"gap: pictures/perch-plate to parties/reed-press: nothing from 2000-01-01 to 2001-12-31; not in the 2 years 2000 to 2001 (between lines 2 and 4)", "no document: on any row",
			"7 rows, 2 acceptable, 1 there already, 4 rejected\nnothing was stored\n",
		}},
		{"in earnest", nil, []string{"7 rows, 2 stored, 1 there already, 4 rejected\n", "line 3: rejected, to Moor Books (parties/moor-books): collides with line 2;", "rejected rows: " + file + ".rejects.csv"}},
		{"again", nil, []string{"7 rows, 3 there already, 4 rejected\n", "rejected rows: " + file + ".rejects.csv\n", "gap: "}},
		{"with collisions", []string{"--record-collisions"}, []string{
			"7 rows, 2 recorded with collisions, 3 there already, 2 rejected\n", "line 3: recorded with collisions as grants/ledger-", "collides with grants/standing\n",
			"rejected rows: " + file + ".rejects-2.csv\n",
		}},
	} {
		out, _ := do(t, r, cli.Rejected, append([]string{"ledger", "import", file}, step.args...)...)
		for _, want := range step.want {
			if !strings.Contains(out, want) {
				t.Errorf("%s: no %q in\n%s", step.name, want, out)
			}
		}
	}
	if out, _ := do(t, r, cli.OK, "history", "pictures/perch-plate"); strings.Count(out, "\n  - ") != 3 || !strings.Contains(out, "recorded although it collides with grants/ledger-") {
		t.Errorf("history says:\n%s", out)
	}
	rejects := file + ".rejects-2.csv"
	b, err := os.ReadFile(rejects)
	if err != nil {
		t.Fatal(err)
	}
	mended := strings.NewReplacer("Reed Pres,", "Reed Press,", "print.bok", "print.book").Replace(string(b))
	if err := os.WriteFile(rejects, []byte(mended), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, _ := do(t, r, cli.OK, "ledger", "import", rejects); !strings.Contains(out, "2 rows, 2 stored\n") {
		t.Errorf("the mended rows: %s", out)
	}
	bad := filepath.Join(t.TempDir(), "bad.csv")
	if err := os.WriteFile(bad, []byte("picture,licensee,media,teritories\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, said := do(t, r, cli.Usage, "ledger", "import", bad); !strings.Contains(said, "did you mean territories?") {
		t.Errorf("a slip in the header: %s", said)
	}
	if out, _ := do(t, r, cli.OK, "ledger", "columns"); !strings.Contains(out, "licensee") || !strings.Contains(out, "(required)") {
		t.Errorf("columns: %s", out)
	}
}

// TestLedgerWithDocuments: what the ledger lacks is listed, and a document that turns up later is put with its grant.
func TestLedgerWithDocuments(t *testing.T) {
	r := licensingDesk(t)
	dir := t.TempDir()
	file := filepath.Join(dir, "ledger.csv")
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("ledger.csv", strings.Join([]string{
		"number,picture,licensee,media,territories,from,to,signed,document",
		"1994/1,perch-plate,Reed Press,print.book,DE,1994,1995,1994-02-17,one.pdf",
		"1994/4,perch-plate,Reed Press,print.book,FR,1994,1995,1994-02-17,four.pdf",
		",pike-plate,Reed Press,print.book,FR,1994,1995,1994-02-17,",
	}, "\n"))
	write("one.pdf", "signed")
	for _, step := range []struct {
		args []string
		want []string
	}{
		{[]string{"--dry-run"}, []string{"3 rows, 3 acceptable", "numbers: 1994/N from 1 to 4: missing are 2-3", "numbers: none on 1 rows, the first on line 4",
			`no document: line 3: its document "four.pdf" isn't below the folder of the ledger`, "no document: line 4: names no signed document"}},
		{nil, []string{"3 rows, 3 stored", `"four.pdf" isn't below`}},
	} {
		out, _ := do(t, r, cli.OK, append([]string{"ledger", "import", file}, step.args...)...)
		for _, want := range step.want {
			if !strings.Contains(out, want) {
				t.Errorf("%v: no %q in\n%s", step.args, want, out)
			}
		}
		if strings.Contains(out, "line 2: its document") {
			t.Errorf("%v: the document that is there is missed:\n%s", step.args, out)
		}
	}
	documented := func() int {
		out, _ := do(t, r, cli.OK, "history", "pictures/perch-plate")
		return strings.Count(out, "  - ") - strings.Count(out, "no signed document on file")
	}
	if n := documented(); n != 1 {
		t.Errorf("%d grants have their document; want one", n)
	}
	write("four.pdf", "signed too")
	if out, _ := do(t, r, cli.OK, "ledger", "import", file); !strings.Contains(out, "3 there already") || strings.Contains(out, "four.pdf") {
		t.Errorf("once the document is there: %s", out)
	}
	if n := documented(); n != 2 {
		t.Errorf("%d grants have their document; want both", n)
	}
}
