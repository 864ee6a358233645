package ledger

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func table1(t *testing.T, lines ...string) *table {
	t.Helper()
	tab, err := parseTable([]byte(strings.Join(lines, "\n")))
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

// TestUnusableLedgers: what is wrong with the file as a whole is said, with what was probably meant.
func TestUnusableLedgers(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":            {"", "no header"},
		"unknown column":   {"picture,licensee,media,teritories\n", `"teritories", which isn't known; did you mean territories?`},
		"column twice":     {"picture,picture,licensee,media,territories\n", "column picture stands twice"},
		"column missing":   {"picture,licensee,media\n", "column territories is missing"},
		"not UTF-8":        {"picture,licensee,media,territories\nperch,M\xfcller,*,DE\n", "isn't UTF-8"},
		"quotation astray": {"picture,licensee,media,territories\n\"perch,x,*,DE\n", "line"},
	} {
		_, err := parseTable([]byte(c.text))
		if !errors.Is(err, ErrUnusable) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v; want %q", name, err, c.want)
		}
	}
}

func TestRowsAreReadAsWritten(t *testing.T) {
	tab := table1(t, "\ufeffPicture;Licensee;Media;Territories;Languages;Exclusivity;From;To;Signed;Fee;Currency;Copies;Status",
		`perch#head;Reed Press;"print.book; digital.web";"DE; -AT";;first-rights;1994-03;1999;1994-02-17;450.00;dem;40000;`)
	r, faults := read(tab, tab.rows[0])
	g := r.grant
	if len(faults) > 0 || r.licensee != "Reed Press" || !slices.Equal(g.GetScope().GetWorks(), []string{"pictures/perch#head"}) ||
		!slices.Equal(g.GetScope().GetMedia(), []string{"print.book", "digital.web"}) || !slices.Equal(g.GetScope().GetTerritories(), []string{"DE", "-AT"}) ||
		!slices.Equal(g.GetScope().GetLanguages(), []string{"*"}) || g.GetExclusivity().String() != "EXCLUSIVITY_FIRST_RIGHTS" || g.GetScope().GetFrom() != "1994-03" ||
		g.GetFee().GetAmount() != "450.00" || g.GetFee().GetCurrency() != "DEM" || g.GetCopiesMax() != 40000 || g.GetStatus().String() != "GRANT_STATUS_EXECUTED" {
		t.Errorf("read as %v, %q, faults %q", g, r.licensee, faults)
	}
}

func TestFaultsNameTheirColumns(t *testing.T) {
	head := "picture,licensee,media,territories,kind,from,fee,currency,copies"
	for column, line := range map[string]string{
		"picture":  ",Reed,*,DE,,,,,",
		"licensee": "perch,,*,DE,,,,,",
		"kind":     "perch,Reed,*,DE,lease,,,,",
		"from":     "perch,Reed,*,DE,,spring,,,",
		"fee":      "perch,Reed,*,DE,,,1e3,EUR,",
		"copies":   "perch,Reed,*,DE,,,,,many",
	} {
		tab := table1(t, head, line)
		if _, faults := read(tab, tab.rows[0]); len(faults) != 1 || !strings.HasPrefix(faults[0], column+": ") {
			t.Errorf("%s: faults %q", line, faults)
		}
	}
	tab := table1(t, head, "perch,,*,DE,public,,,,", "perch,Reed")
	if _, faults := read(tab, tab.rows[0]); len(faults) > 0 {
		t.Errorf("a public licence to nobody in particular: %q", faults)
	}
	if _, faults := read(tab, tab.rows[1]); len(faults) != 1 || !strings.Contains(faults[0], "found 2 cells; want 9") {
		t.Errorf("a torn row: %q", faults)
	}
}

// TestTheSameRowIsTheSameGrant whatever its spelling of enums and spaces, and another row is another.
func TestTheSameRowIsTheSameGrant(t *testing.T) {
	tab := table1(t, "picture,licensee,media,territories,exclusivity,notes",
		"perch,Reed,print.book;digital.web,DE,non-exclusive,", "pictures/perch,Reed, print.book ; digital.web,DE,Non Exclusive,", "perch,Reed,print.book;digital.web,DE,non-exclusive,x")
	var ids []string
	for _, rec := range tab.rows {
		r, faults := read(tab, rec)
		id, err := r.id()
		if len(faults) > 0 || err != nil {
			t.Fatal(faults, err)
		}
		ids = append(ids, id)
	}
	if ids[0] != ids[1] || ids[0] == ids[2] {
		t.Errorf("ids are %q; want the first two the same and the third another", ids)
	}
}

func TestParties(t *testing.T) {
	p := &parties{names: map[string]string{"parties/reed": "Reed Press", "parties/moor": "Moor Books", "parties/moor2": "Moor  books"},
		called: map[string][]string{"reed press": {"parties/reed"}, "moor books": {"parties/moor", "parties/moor2"}}}
	for cell, want := range map[string]string{"reed": "parties/reed", "parties/moor2": "parties/moor2", " reed  PRESS": "parties/reed"} {
		if got, err := p.find(cell); err != nil || got != want {
			t.Errorf("%q: got %q, %v; want %q", cell, got, err, want)
		}
	}
	for cell, want := range map[string]string{"Reed Pres": "near it: Reed Press (parties/reed)", "Moor Books": "2 parties", "Zx": "which no party is called; want"} {
		if _, err := p.find(cell); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v; want %q", cell, err, want)
		}
	}
}

func TestGaps(t *testing.T) {
	tab := table1(t, "picture,licensee,media,territories,from,to,kind,exclusivity",
		"perch,Reed,print.book,DE,2001,2004,,", "perch,Reed,print.book,DE,2002,2003,,", "perch,Reed,print.book;digital.ebook,150,2006-02,2008,,exclusive", "perch,Reed,print.book.hardback,DE,2009,,,", // a gap in 2005, and none after
		"perch,Moor,print.book,DE,2005,2005,,", "pike,Reed,print.book,DE,2001,2004,,", "pike,Reed,digital.web,DE,2007,2008,,", // other series
		"carp,Reed,print,WORLD,1990,1991,,", "carp,Reed,print.book,FR,1996-07,1997,,", "carp,Reed,*,FR;DE,1993,1993-06,option,") // an option is no licence
	var in []placed
	for _, rec := range tab.rows {
		r, faults := read(tab, rec)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		r.grant.Licensee = "parties/" + strings.ToLower(r.licensee)
		in = append(in, placed{rec.line, r})
	}
	var got []string
	for _, g := range gaps(in) {
		got = append(got, g.String())
	}
	want := []string{
		"pictures/carp to parties/reed: nothing from 1992-01-01 to 1996-06-30; not in the 4 years 1992 to 1995 (between lines 9 and 10)",
		"pictures/perch to parties/reed: nothing from 2005-01-01 to 2006-01-31; not in all of 2005 (between lines 2 and 4)",
	}
	if !slices.Equal(got, want) {
		t.Errorf("gaps are\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestRunningNumbers(t *testing.T) {
	var all []numbered
	for i, s := range []string{"1987/01", "1987/02", "1987/5", "1987/9", "1987/9", "1988/1", "1988/2", "14/1990", "16/1990", "1/1991", "L-0042", "L-0044", "7", "9", "12"} {
		n, is := readNumber(s, i+2)
		if !is {
			t.Fatalf("%q isn't read", s)
		}
		all = append(all, n)
	}
	var got []string
	for _, n := range oddities(all) {
		got = append(got, n.String())
	}
	want := []string{
		"1987/N from 1 to 9: missing are 3-4, 6-8; several lines bear 9 (lines 5, 6)", "L-N from 42 to 44: missing are 43", "N from 7 to 12: missing are 8, 10-11", "N/1990 from 14 to 16: missing are 15",
	}
	if !slices.Equal(got, want) {
		t.Errorf("found\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	for _, s := range []string{"", "none", "12345678901"} {
		if n, is := readNumber(s, 1); is && s != "12345678901" {
			t.Errorf("%q was read as %v", s, n)
		}
	}
}

// TestDocumentsAreReadBelowTheLedgerOnly: no path leads out of the folder.
func TestDocumentsAreReadBelowTheLedgerOnly(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"secret.txt": "x", "ledger/scans/a.pdf": "signed"} {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(filepath.Join(dir, "secret.txt"), filepath.Join(dir, "ledger", "link.pdf")); err != nil {
		t.Fatal(err)
	}
	d, err := openDocuments(filepath.Join(dir, "ledger", "ledger.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = d.root.Close() }()
	if sum, size, why, err := d.digest("scans/a.pdf"); err != nil || why != "" || size != 6 || len(sum) != 64 {
		t.Errorf("got %q, %d, %q, %v", sum, size, why, err)
	}
	for name, want := range map[string]string{"": "names no", "scans/b.pdf": "isn't below", "../secret.txt": "can't be read", "link.pdf": "can't be read", "scans": "isn't a file"} {
		if sum, _, why, err := d.digest(name); err != nil || sum != "" || !strings.Contains(why, want) {
			t.Errorf("%q: got %q, %q, %v; want %q", name, sum, why, err, want)
		}
	}
}

// TestRejectsReadBack: a rejected row is written so that it can be imported again, and so that no spreadsheet runs it.
func TestRejectsReadBack(t *testing.T) {
	tab := table1(t, "picture,reason,licensee,media,territories,notes", `perch,old,=Reed,"*",DE,"a ""quoted"", cell"`, "pike,,Moor,*,DE,")
	out, err := tab.rejects(map[int]string{0: "why"})
	if err != nil || !strings.Contains(string(out), "'=Reed") {
		t.Fatalf("%s, %v", out, err)
	}
	again, err := parseTable(out)
	if err != nil || len(again.rows) != 1 || !slices.Equal(again.rows[0].cells, []string{"why", "perch", "=Reed", "*", "DE", `a "quoted", cell`}) {
		t.Errorf("read back as %v, %v", again.rows, err)
	}
}

func FuzzLedger(f *testing.F) {
	f.Add("picture,licensee,media,territories\nperch,Reed,*,DE\n")
	f.Add("\ufeffPicture;Licensee;Media;Territories;fee;currency;copies\nperch;'=x;*;DE;1;EUR;99999999999999999999\n")
	f.Fuzz(func(t *testing.T, text string) {
		tab, err := parseTable([]byte(text))
		if err != nil {
			return
		}
		reasons := map[int]string{}
		for i, rec := range tab.rows {
			read(tab, rec)
			if rec.torn == "" {
				reasons[i] = "why"
			}
		}
		out, err := tab.rejects(reasons)
		if err != nil {
			t.Fatal(err)
		}
		again, err := parseTable(out)
		if err != nil || len(again.rows) != len(reasons) {
			t.Errorf("%d rows were read back as %d: %v", len(reasons), len(again.rows), err)
		}
	})
}
