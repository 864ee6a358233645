package manifest

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

func plain(names ...string) []Column {
	var out []Column
	for _, n := range names {
		out = append(out, Column{Name: n, set: func(*entry, string) error { return nil }})
	}
	return out
}

func read(t testing.TB, path, text string, known []Column) *table {
	t.Helper()
	tab, err := readTable(path, []byte(text), "", known, noFurther)
	if err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	return tab
}

// TestForms reads one table in every form that spreadsheets write.
func TestForms(t *testing.T) {
	const text = "key;title;notes\nA;Grünling, groß;\"two\nlines; and a \"\"mark\"\"\"\n\n;;\nB;\"'=1+1\";'tis\n"
	utf16, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(text)
	if err != nil {
		t.Fatal(err)
	}
	latin, err := charmap.Windows1252.NewEncoder().String(text)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, file, encoding, text string }{
		{"semicolons", "a.csv", "", text},
		{"byte order mark", "a.csv", "", "\ufeff" + text},
		{"CRLF", "a.csv", "", strings.ReplaceAll(text, "\n", "\r\n")},
		{"CR", "a.csv", "", strings.ReplaceAll(text, "\n", "\r")},
		{"no last line end", "a.csv", "", strings.TrimSuffix(text, "\n")},
		{"blank lines first", "a.csv", "", "\n\n" + text},
		{"tabs by name", "a.tsv", "", strings.ReplaceAll(text, ";", "\t")},
		{"tabs by content", "a.txt", "", strings.ReplaceAll(text, ";", "\t")},
		{"header in other words", "a.csv", "", strings.Replace(text, "key;title;notes", "Key ; TITLE;Notes;;", 1)},
		{"UTF-16", "a.csv", "utf-16", utf16},
		{"Windows-1252", "a.csv", "windows-1252", latin},
	} {
		t.Run(c.name, func(t *testing.T) {
			tab, err := readTable(c.file, []byte(c.text), c.encoding, plain("key", "title", "notes"), noFurther)
			if err != nil {
				t.Fatal(err)
			}
			var got [][]string
			for _, s := range tab.rows {
				if s.torn != "" {
					t.Fatalf("row %d: %s", s.row, s.torn)
				}
				row := tab.cells(s)
				row[2] = strings.NewReplacer(";", "\t", "\r", "\n").Replace(row[2])
				got = append(got, row)
			}
			want := [][]string{{"A", "Grünling, groß", "two\nlines\t and a \"mark\""}, {"B", "=1+1", "'tis"}}
			if !slices.EqualFunc(got, want, slices.Equal) {
				t.Errorf("got %q; want %q", got, want)
			}
			shift := 0
			if c.name == "blank lines first" {
				shift = 2
			}
			if tab.rows[0].row != 2+shift || tab.rows[1].row != 5+shift {
				t.Errorf("rows are numbered %d and %d; want %d and %d", tab.rows[0].row, tab.rows[1].row, 2+shift, 5+shift)
			}
		})
	}
}

// TestTornRows: a quotation mark left open costs one line, wherever the next one stands.
func TestTornRows(t *testing.T) {
	tab := read(t, "a.csv", "key,title\nA,\"open\nB,fine\nC,\"fine too\"\nD,\"open again\nE,\"\"\"quoted\"\"\"\n", plain("key", "title"))
	var good, torn []int
	for _, s := range tab.rows {
		if s.torn != "" {
			torn = append(torn, s.row)
		} else {
			good = append(good, s.row)
		}
	}
	if !slices.Equal(good, []int{3, 4, 6}) || !slices.Equal(torn, []int{2, 5}) {
		t.Errorf("good rows %v, torn %v; want 3 4 6 and 2 5", good, torn)
	}
}

// alphabet holds what tables can stumble over.
var alphabet = []rune("aß=+-@\t\r\n,;\"' \u00a0＝x1魚\u0308")

func randomCell(r *rand.Rand) string {
	n := r.IntN(8)
	out := make([]rune, n)
	for i := range out {
		out[i] = alphabet[r.IntN(len(alphabet))]
	}
	return string(out)
}

// TestRoundTrip: what is written as a table is read again as it was, formulae included.
func TestRoundTrip(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 3000 {
		rows := [][]string{{"key", "title", "notes"}}
		for range 1 + r.IntN(4) {
			row := []string{randomCell(r), randomCell(r), randomCell(r)}
			for i := range row {
				for strings.Contains(row[i], "\r\n") { // reading makes line ends one
					row[i] = strings.ReplaceAll(row[i], "\r\n", "\n")
				}
			}
			if !allEmpty(row) {
				rows = append(rows, row)
			}
		}
		data, err := encodeTable(rows)
		if err != nil {
			t.Fatal(err)
		}
		tab := read(t, "a.csv", string(data), plain("key", "title", "notes"))
		if len(tab.rows) != len(rows)-1 {
			t.Fatalf("%q: read %d rows; want %d", data, len(tab.rows), len(rows)-1)
		}
		for i, s := range tab.rows {
			if got := tab.cells(s); s.torn != "" || !slices.Equal(got, rows[i+1]) {
				t.Fatalf("%q: got %q (%s); want %q", data, got, s.torn, rows[i+1])
			}
		}
	}
}

// TestGuard: no written cell begins like a formula, and reading gives back every text.
func TestGuard(t *testing.T) {
	for _, c := range []struct{ cell, written string }{
		{"=1+1", "'=1+1"}, {"+49", "'+49"}, {"-4", "'-4"}, {"@x", "'@x"}, {"\tx", "'\tx"}, {"\rx", "'\rx"}, {"\nx", "'\nx"}, {"＝1", "'＝1"}, {"\"=1", "'\"=1"}, {" =1", "' =1"},
		{"'=1", "''=1"}, {"'tis", "'tis"}, {"", ""}, {"'", "'"}, {"x=1", "x=1"}, {"D XIV", "D XIV"},
	} {
		if got := guard(c.cell); got != c.written {
			t.Errorf("guard(%q) = %q; want %q", c.cell, got, c.written)
		}
		if got := unguard(c.written); got != c.cell {
			t.Errorf("unguard(%q) = %q; want %q", c.written, got, c.cell)
		}
	}
}

func FuzzGuard(f *testing.F) {
	for _, s := range []string{"=1", "'=1", "''", "'\"=", "＋1", "\x00", "'\xff="} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w := guard(s)
		if runs(w) && !strings.HasPrefix(w, "'") {
			t.Errorf("guard(%q) = %q begins like a formula", s, w)
		}
		if got := unguard(w); got != s {
			t.Errorf("unguard(guard(%q)) = %q", s, got)
		}
	})
}

func FuzzReadTable(f *testing.F) {
	for _, s := range []string{"kind,title\nplate,Perch\n", "kind;title\n\"a\nb\";c", "\ufeffkind\ttitle\r\nplate\t\"x", "kind,title\n\"\n\"\n\"\n", "kind,title\r'=1,\"\"\"\"", "kind,title\n,,,,\n\n\n,x\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		known := Columns()
		tab, err := readTable("a.csv", data, "", known, noFurther)
		if err != nil {
			return
		}
		last := 1
		for _, s := range tab.rows {
			if s.row <= last || s.to < s.from || s.to > len(tab.text) {
				t.Fatalf("row %d after %d, from %d to %d of %d", s.row, last, s.from, s.to, len(tab.text))
			}
			last = s.row
			cells := tab.cells(s)
			if s.torn == "" {
				e := newPictureEntry()
				e.read(tab.columns, cells)
			} else {
				cells = tab.pieces(s)
			}
			if len(cells) != len(tab.columns) {
				t.Fatalf("row %d has %d cells; want %d", s.row, len(cells), len(tab.columns))
			}
		}
	})
}
