package checklist

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// layout says how a table is written.
type layout struct {
	comma   rune // between columns
	quote   bool // columns may stand in double quotes
	escapes bool // \t, \n and \\ are escaped
	latin1  bool // Windows-1252 rather than UTF-8
	skip    int  // heading lines
}

// budget is what may still be read, over all files of a checklist.
type budget struct {
	bytes int64
	rows  int
	line  int
}

// metered takes what is read off the budget, and stops a row that never ends: an
// open quotation mark would otherwise take in the rest of the file.
type metered struct {
	r   io.Reader
	b   *budget
	row int // bytes since the last row was complete
}

func (m *metered) Read(p []byte) (int, error) {
	n, err := m.r.Read(p)
	if m.b.bytes -= int64(n); m.b.bytes < 0 {
		return 0, fmt.Errorf("too many bytes: %w", ErrLimit)
	}
	if m.row += n; m.row > m.b.line+readAhead {
		return 0, fmt.Errorf("a row is longer than %d bytes: %w", m.b.line, ErrLimit)
	}
	return n, err
}

// readAhead is what the buffers may hold of the next rows.
const readAhead = 256 << 10

// rows calls f with each row and its line number, counted from 1. Bytes that
// are no UTF-8 become U+FFFD. The slice is reused.
func (l layout) rows(r io.Reader, b *budget, f func(line int, row []string) error) error {
	meter := &metered{r: r, b: b}
	r = meter
	if l.latin1 {
		r = charmap.Windows1252.NewDecoder().Reader(r)
	}
	in := bufio.NewReaderSize(r, 64<<10)
	if mark, err := in.Peek(3); err == nil && string(mark) == "\uFEFF" {
		if _, err := in.Discard(3); err != nil {
			return err
		}
	}
	each := func(line int, row []string) error {
		meter.row = 0
		if b.rows--; b.rows < 0 {
			return fmt.Errorf("too many rows: %w", ErrLimit)
		}
		if line <= l.skip {
			return nil
		}
		for i, v := range row {
			row[i] = l.value(v)
		}
		return f(line, row)
	}
	if l.quote {
		return l.quoted(in, b, each)
	}
	return l.split(in, b, each)
}

func (l layout) value(v string) string {
	if l.escapes && strings.ContainsRune(v, '\\') {
		v = strings.NewReplacer(`\\`, `\`, `\t`, " ", `\n`, " ", `\r`, " ").Replace(v)
	}
	if !utf8.ValidString(v) {
		v = strings.ToValidUTF8(v, "\uFFFD")
	}
	return strings.TrimSpace(v)
}

// split reads lines and cuts them at the separator.
func (l layout) split(in *bufio.Reader, b *budget, f func(int, []string) error) error {
	lines := bufio.NewScanner(in)
	lines.Buffer(make([]byte, 0, 64<<10), b.line)
	n := 0
	for lines.Scan() {
		n++
		line := strings.TrimSuffix(lines.Text(), "\r")
		if strings.TrimSpace(line) == "" {
			continue
		}
		if err := f(n, strings.Split(line, string(l.comma))); err != nil {
			return err
		}
	}
	if errors.Is(lines.Err(), bufio.ErrTooLong) {
		return fmt.Errorf("line %d is longer than %d bytes: %w", n+1, b.line, ErrLimit)
	}
	return lines.Err()
}

// quoted reads rows in which columns may be quoted and hold line breaks.
func (l layout) quoted(in *bufio.Reader, b *budget, f func(int, []string) error) error {
	rows := csv.NewReader(in)
	rows.Comma, rows.LazyQuotes, rows.FieldsPerRecord, rows.ReuseRecord = l.comma, true, -1, true
	for {
		row, err := rows.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("read table: %w", err)
		}
		size := 0
		for _, v := range row {
			size += len(v)
		}
		line, _ := rows.FieldPos(0)
		if size > b.line {
			return fmt.Errorf("row %d is longer than %d bytes: %w", line, b.line, ErrLimit)
		}
		if err := f(line, row); err != nil {
			return err
		}
	}
}

// headed calls f with each row below a heading as a lookup by column. Column
// names are compared in lower case without a prefix such as "dwc:". A row with
// more values than columns becomes a problem.
func (b *builder) headed(name string, l layout, f func(r record)) error {
	file, err := b.files.open(name)
	if err != nil {
		return fmt.Errorf("open %s: %w", name, err)
	}
	defer func() { _ = file.Close() }() // read only: nothing is lost
	var head []string
	err = l.rows(file, b.budget, func(line int, row []string) error {
		if head == nil {
			for _, c := range row {
				head = append(head, columnName(c))
			}
			return nil
		}
		for len(row) > len(head) {
			if extra := row[len(row)-1]; extra != "" {
				b.problem(Problem{File: name, Row: line, Column: fmt.Sprintf("column %d", len(row)), Found: extra,
					Wanted: fmt.Sprintf("%d columns", len(head)), Skipped: true})
				return nil
			}
			row = row[:len(row)-1]
		}
		r := record{file: name, line: line, values: make(map[string]string, len(row))}
		for i, v := range row {
			if v != "" {
				r.values[head[i]] = strings.Clone(v)
			}
		}
		f(r)
		return nil
	})
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

func columnName(c string) string {
	c = strings.ToLower(strings.TrimSpace(c))
	if i := strings.LastIndexByte(c, ':'); i >= 0 && !strings.HasPrefix(c, "vernacular") {
		c = c[i+1:]
	}
	return c
}

// record is one row by column name.
type record struct {
	file   string
	line   int
	values map[string]string
}

// get gives the first column that has a value.
func (r record) get(columns ...string) string {
	for _, c := range columns {
		if v := r.values[c]; v != "" {
			return v
		}
	}
	return ""
}

// has gives the first of the columns that has a value, for messages.
func (r record) has(columns ...string) string {
	for _, c := range columns {
		if r.values[c] != "" {
			return c
		}
	}
	return columns[0]
}
