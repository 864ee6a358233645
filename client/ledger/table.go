package ledger

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"unicode/utf8"
)

// maxFile is the largest ledger, bytes.
const maxFile = 64 << 20

// ErrUnusable means that the file as a whole can't be read as a ledger. The caller mends its header or its encoding.
var ErrUnusable = errors.New("file can't be used as a ledger")

func unusable(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrUnusable, fmt.Sprintf(format, args...))
}

// table is a ledger as text.
type table struct {
	header  []string
	columns []Column // of each cell
	rows    []record
}

// record is one row with the line on which it begins.
type record struct {
	line  int
	cells []string
	torn  string // why it can't be read, if it can't
}

// readTable reads CSV, parted by commas, semicolons or tabs, in UTF-8.
func readTable(path string) (*table, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(io.LimitReader(f, maxFile+1))
	if err := errors.Join(err, f.Close()); err != nil {
		return nil, err
	}
	if len(data) > maxFile {
		return nil, unusable("it is larger than %d MiB", maxFile>>20)
	}
	return parseTable(data)
}

func parseTable(data []byte) (*table, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !utf8.Valid(data) {
		return nil, unusable("it isn't UTF-8; save it anew as CSV in UTF-8")
	}
	first, _, _ := strings.Cut(string(data[:min(len(data), 1<<16)]), "\n")
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = -1
	for _, comma := range ",;\t" {
		if strings.Count(first, string(comma)) > strings.Count(first, string(r.Comma)) {
			r.Comma = comma
		}
	}
	header, err := r.Read()
	if err != nil {
		return nil, unusable("it has no header: %s", err)
	}
	t := &table{header: header}
	if err := t.readHeader(); err != nil {
		return nil, err
	}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return t, nil
		}
		var torn *csv.ParseError
		if errors.As(err, &torn) {
			return nil, unusable("line %d: %s", torn.Line, torn.Err)
		}
		if err != nil {
			return nil, err
		}
		line, _ := r.FieldPos(0)
		rec := record{line: line, cells: make([]string, len(cells))}
		for i, c := range cells {
			rec.cells[i] = strings.TrimSpace(unguard(c))
		}
		if strings.Join(rec.cells, "") == "" {
			continue
		}
		if len(cells) != len(header) {
			rec.torn = fmt.Sprintf("found %d cells; want %d as in the header", len(cells), len(header))
		}
		t.rows = append(t.rows, rec)
	}
}

// readHeader finds the column of each cell. A column that isn't known is refused, lest what it says be lost in silence.
func (t *table) readHeader() error {
	known := map[string]Column{}
	var names []string
	for _, c := range Columns() {
		known[c.Name] = c
		names = append(names, c.Name)
	}
	seen := map[string]bool{}
	for i, h := range t.header {
		name := strings.Join(strings.FieldsFunc(strings.ToLower(strings.TrimSpace(h)), func(r rune) bool { return r == ' ' || r == '_' || r == '-' }), "_")
		c, ok := known[name]
		if !ok {
			hint := ""
			if near := nearest(name, names); near != "" {
				hint = fmt.Sprintf("; did you mean %s?", near)
			}
			return unusable("column %d is called %q, which isn't known%s The columns are %s", i+1, h, hint, strings.Join(names, ", "))
		}
		if seen[name] {
			return unusable("column %s stands twice in the header", name)
		}
		seen[name] = true
		t.columns = append(t.columns, c)
	}
	for _, c := range Columns() {
		if c.Required && !seen[c.Name] {
			return unusable("column %s is missing; want it for %s", c.Name, c.Meaning)
		}
	}
	return nil
}

// has says whether the header has a column.
func (t *table) has(column string) bool {
	return slices.ContainsFunc(t.columns, func(c Column) bool { return c.Name == column })
}

// guard keeps a spreadsheet from running a cell that begins like a formula (CWE-1236); unguard takes back what guard did.
func guard(cell string) string {
	if runs(cell) {
		return "'" + cell
	}
	return cell
}

func unguard(cell string) string {
	if rest, ok := strings.CutPrefix(cell, "'"); ok && runs(rest) {
		return rest
	}
	return cell
}

func runs(cell string) bool {
	rest := strings.TrimLeft(cell, `'" `)
	first, _ := utf8.DecodeRuneInString(rest)
	return rest != "" && strings.ContainsRune("=+-@\t\r\n\x00＝＋－＠", first)
}

// rejects writes rows with their reasons in the form of the table, to be mended and imported again.
func (t *table) rejects(reasons map[int]string) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("\ufeff")
	w := csv.NewWriter(&b)
	write := func(first string, cells []string) error {
		out := []string{first}
		for i, c := range cells {
			if i >= len(t.columns) || t.columns[i].Name != "reason" {
				out = append(out, guard(c))
			}
		}
		return w.Write(out)
	}
	if err := write("reason", t.header); err != nil {
		return nil, err
	}
	for i, rec := range t.rows {
		if reason, ok := reasons[i]; ok {
			if err := write(reason, rec.cells); err != nil {
				return nil, err
			}
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}
