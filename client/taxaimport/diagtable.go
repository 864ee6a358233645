package taxaimport

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

// Limits of a table of diagnoses.
const (
	longestLine = 1 << 20 // bytes
	mostRows    = 200_000
)

// diagRow is one row of a table of diagnoses.
type diagRow struct {
	line  int
	cells map[string]string // by column; without empty ones
	fault *Fault
}

func (r *diagRow) cell(column string) string { return r.cells[column] }

// readDiagnoses reads a table parted by tabs, in UTF-8; quotation marks mean themselves.
func readDiagnoses(path string) ([]*diagRow, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%w: %w", ErrUnusable, err)
	}
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }() // read only: nothing is lost
	return scanDiagnoses(filepath.Base(path), f)
}

func scanDiagnoses(name string, r io.Reader) ([]*diagRow, error) {
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 64<<10), longestLine)
	var columns []string
	var rows []*diagRow
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSuffix(lines.Text(), "\r")
		if n == 1 {
			text = strings.TrimPrefix(text, "\uFEFF")
		}
		switch {
		case !utf8.ValidString(text):
			return nil, fmt.Errorf("%s, row %d: %w: found bytes that are no UTF-8", name, n, ErrUnusable)
		case strings.TrimSpace(text) == "":
			continue
		case columns == nil:
			var err error
			if columns, err = headings(name, strings.Split(text, "\t")); err != nil {
				return nil, err
			}
			continue
		case len(rows) == mostRows:
			return nil, fmt.Errorf("%s: %w: more than %d rows", name, ErrUnusable, mostRows)
		}
		rows = append(rows, newDiagRow(n, columns, strings.Split(text, "\t")))
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return nil, fmt.Errorf("%s: %w: a row is longer than %d bytes", name, ErrUnusable, longestLine)
	case err != nil:
		return nil, fmt.Errorf("read %s: %w", name, err)
	case columns == nil:
		return nil, fmt.Errorf("%s: %w: it is empty", name, ErrUnusable)
	}
	return rows, nil
}

func newDiagRow(line int, columns, cells []string) *diagRow {
	r := &diagRow{line: line, cells: map[string]string{}}
	for i, v := range cells {
		v = strings.TrimSpace(v)
		switch {
		case v == "":
		case i >= len(columns):
			r.fault = &Fault{Column: fmt.Sprint(i + 1), Found: v, Wanted: fmt.Sprintf("no more than %d columns", len(columns))}
		default:
			r.cells[columns[i]] = v
		}
	}
	for _, must := range []string{colSpecies, colSource} {
		if r.cells[must] == "" && r.fault == nil {
			r.fault = &Fault{Column: must, Wanted: map[string]string{colSpecies: "a scientific name", colSource: "the publication"}[must]}
		}
	}
	return r
}
