package manifest

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
)

// Limits of a table.
const (
	maxTable  = 256 << 20 // bytes
	maxRecord = 1 << 20   // bytes of one row: beyond, a quotation mark was left open
)

// table is a manifest in memory: its text once, and where each row stands. Rows are split when they are needed.
type table struct {
	name    string // of the file, for messages
	text    string
	comma   rune
	columns []*Column
	rows    []span
}

// span is one row: its place in the text, and its number, from 2 on.
type span struct {
	from, to int
	row      int
	torn     string // why the row can't be split; empty if it can
}

// readTable finds the rows of a table. Only a table that is unusable as a whole gives an error; rows that can't be split are kept, torn.
func readTable(path string, data []byte, encodingName string, known []Column, more func(name string) *Column) (*table, error) {
	t := &table{name: filepath.Base(path)}
	if len(data) > maxTable {
		return nil, unusable(t.name, "it is %d bytes long; want at most %d: split it", len(data), maxTable)
	}
	var err error
	if t.text, err = decodeText(t.name, data, encodingName); err != nil {
		return nil, err
	}
	if !strings.Contains(t.text, "\n") {
		t.text = strings.ReplaceAll(t.text, "\r", "\n") // as old Macs end lines
	}
	at, row := t.blank(0, 1)
	head := t.text[at:][:lineEnd(t.text[at:])]
	if strings.TrimSpace(head) == "" {
		return nil, unusable(t.name, "it is empty; want a header with the names of the columns, then one row a picture")
	}
	t.comma = sniff(path, head)
	cells, end, err := t.split(at)
	if err != nil {
		return nil, unusable(t.name, "the header can't be read: %s", err)
	}
	if err := t.header(cells, known, more); err != nil {
		return nil, err
	}
	for at, row = t.blank(end, row+1); at < len(t.text); at, row = t.blank(end, row+1) {
		cells, end, err = t.split(at)
		s := span{from: at, to: end, row: row}
		switch {
		case err != nil:
			end = at + lineEnd(t.text[at:]) // what follows an open quotation mark is read anew: only this line is lost
			s.to, s.torn = end, err.Error()
		case allEmpty(cells):
			continue // spreadsheets write empty rows below the last
		case len(cells) < len(t.columns) || !allEmpty(cells[len(t.columns):]):
			s.torn = fmt.Sprintf("found %d cells; want %d as in the header: a cell with the separator in it needs quotation marks", len(cells), len(t.columns))
		}
		t.rows = append(t.rows, s)
	}
	return t, nil
}

// blank passes over empty lines, which a spreadsheet counts as rows.
func (t *table) blank(at, row int) (int, int) {
	for at < len(t.text) && (t.text[at] == '\n' || t.text[at] == '\r') {
		if strings.HasPrefix(t.text[at:], "\r\n") {
			at++
		}
		at++
		row++
	}
	return at, row
}

// lineEnd is the length of the first line with its end.
func lineEnd(s string) int {
	if i := strings.IndexByte(s, '\n'); i >= 0 {
		return i + 1
	}
	return len(s)
}

// sniff finds the separator: a tab for .tsv and .tab, else whichever of tab, semicolon and comma stands most often in the header.
func sniff(path, head string) rune {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".tsv", ".tab":
		return '\t'
	}
	comma, most := ',', strings.Count(head, ",")
	for _, c := range "\t;" {
		if n := strings.Count(head, string(c)); n > most {
			comma, most = c, n
		}
	}
	return comma
}

// split reads the row that starts at a place, and tells where it ends.
func (t *table) split(at int) (cells []string, end int, err error) {
	window := t.text[at:min(len(t.text), at+maxRecord)]
	r := csv.NewReader(strings.NewReader(window))
	r.Comma, r.FieldsPerRecord = t.comma, -1
	cells, err = r.Read()
	var bad *csv.ParseError
	switch {
	case errors.As(err, &bad) && errors.Is(err, csv.ErrQuote):
		return nil, 0, fmt.Errorf("a quotation mark is left open or stands inside a quoted cell (character %d of the row); want quoted cells closed, and a quotation mark inside one doubled", bad.Column)
	case errors.As(err, &bad):
		return nil, 0, fmt.Errorf("a quotation mark stands inside a cell that isn't quoted (character %d of the row); want the cell quoted and the mark inside doubled", bad.Column)
	case err != nil && !errors.Is(err, io.EOF):
		return nil, 0, err
	}
	return cells, at + int(r.InputOffset()), nil
}

// header finds the column of each name; more makes those that aren't listed by name.
func (t *table) header(cells []string, known []Column, more func(name string) *Column) error {
	for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	var names []string
	for i := range known {
		names = append(names, known[i].Name)
	}
	var wrong []string
	seen := map[string]bool{}
	for i, cell := range cells {
		name := foldHeader(unguard(cell))
		col := columnNamed(known, name)
		if col == nil {
			col = more(name)
		}
		switch {
		case name == "":
			wrong = append(wrong, fmt.Sprintf("column %d has no name", i+1))
		case col == nil:
			wrong = append(wrong, fmt.Sprintf("column %d is called %q, which isn't known%s", i+1, short(cell), suggestion(name, names)))
		case seen[name]:
			wrong = append(wrong, fmt.Sprintf("column %d is called %q, as one before it is", i+1, name))
		}
		seen[name] = true
		t.columns = append(t.columns, col)
	}
	for _, col := range known {
		if col.Required && !seen[col.Name] {
			wrong = append(wrong, fmt.Sprintf("column %s is missing", col.Name))
		}
	}
	if len(wrong) > 0 {
		return unusable(t.name, "%s; the columns are listed by: platarium manifest columns", strings.Join(wrong, "; "))
	}
	return nil
}

// cells gives the texts of a row that isn't torn, one for each column.
func (t *table) cells(s span) []string {
	cells, _, err := t.split(s.from)
	if err != nil || len(cells) < len(t.columns) {
		return t.pieces(s)
	}
	cells = cells[:len(t.columns)]
	for i := range cells {
		cells[i] = unguard(cells[i])
	}
	return cells
}

// pieces gives what can be made of a torn row, for the rejects: one cell for each column, the last with all that is over.
func (t *table) pieces(s span) []string {
	cells := strings.SplitN(strings.TrimRight(t.text[s.from:s.to], "\r\n"), string(t.comma), len(t.columns))
	for len(cells) < len(t.columns) {
		cells = append(cells, "")
	}
	for i := range cells {
		cells[i] = unguard(cells[i])
	}
	return cells
}

func allEmpty(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}
