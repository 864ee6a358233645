package manifest

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// writeRejects writes the rejected rows of each table in its own form, with the reason first, to be mended and imported again.
func (im *importer) writeRejects() error {
	if im.opts.NoRejects || im.opts.DryRun && im.opts.Rejects == "" {
		return nil
	}
	for s := range im.sheets {
		if len(im.rejects[s]) == 0 {
			continue
		}
		path, err := im.writeRejectsOf(s)
		if err != nil {
			return fmt.Errorf("write the rejected rows: %w", err)
		}
		if s == im.animals {
			im.summary.SpecimenRejects = path
		} else {
			im.summary.RejectsFile = path
		}
	}
	return nil
}

func (im *importer) writeRejectsOf(s *sheet) (string, error) {
	head := []string{"reason"}
	for _, c := range s.columns {
		if c.Name != "reason" {
			head = append(head, c.Name)
		}
	}
	rows := [][]string{head}
	for _, i := range slices.Sorted(maps.Keys(im.rejects[s])) {
		row := []string{im.rejects[s][i]}
		var cells []string
		if s.rows[i].torn == "" {
			cells = s.cells(s.rows[i])
		} else {
			cells = s.pieces(s.rows[i])
		}
		for k, c := range s.columns {
			if c.Name != "reason" {
				row = append(row, im.lasting(s, c.Name, cells[k]))
			}
		}
		rows = append(rows, row)
	}
	data, err := encodeTable(rows)
	if err != nil {
		return "", err
	}
	if s == im.pictures && im.opts.Rejects != "" {
		return im.opts.Rejects, replaceFile(im.opts.Rejects, data)
	}
	return writeBeside(s.path, data)
}

// lasting replaces references to rows that went in by their resource names, since those rows aren't among the rejects.
func (im *importer) lasting(s *sheet, column, cell string) string {
	switch {
	case s != im.pictures:
	case column == "specimen":
		if row, ok := im.animalRow(strings.TrimSpace(cell)); ok && row >= 0 && im.archived(im.animals, row) {
			return "specimens/" + im.animals.items[row].id
		}
	case column == "derived_from":
		list, err := parseDerivations(cell)
		if err != nil {
			return cell
		}
		changed := false
		texts := make([]string, len(list))
		for k, d := range list {
			if row, _ := s.find(d.name); row >= 0 && im.archived(s, row) {
				d.name, changed = "pictures/"+s.items[row].id, true
			}
			texts[k] = d.name + roleWord(d.role)
		}
		if changed {
			return strings.Join(texts, "; ")
		}
	}
	return cell
}

// archived says whether the archive has a row's record.
func (im *importer) archived(s *sheet, row int) bool {
	st := s.items[row].state
	return !im.opts.DryRun && (st == accepted || st == standing)
}

// encodeTable writes CSV as spreadsheets read it: with a byte order mark, lest they take it for another encoding and spoil names, and with guarded cells.
func encodeTable(rows [][]string) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("\ufeff")
	w := csv.NewWriter(&b)
	for _, row := range rows {
		out := make([]string, len(row))
		for i, cell := range row {
			out[i] = guard(cell)
		}
		if err := w.Write(out); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// writeBeside writes TABLE.rejects.csv, or TABLE.rejects-2.csv and so on where a file of that name holds something else: somebody may be mending it.
func writeBeside(table string, data []byte) (string, error) {
	for n := 1; ; n++ {
		path := table + ".rejects.csv"
		if n > 1 {
			path = fmt.Sprintf("%s.rejects-%d.csv", table, n)
		}
		there, err := os.ReadFile(path)
		switch {
		case err == nil && bytes.Equal(there, data):
			return path, nil
		case err == nil:
			continue
		case errors.Is(err, fs.ErrNotExist):
			return path, replaceFile(path, data)
		default:
			return "", err
		}
	}
}

// replaceFile writes a file whole or not at all.
func replaceFile(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".platarium-*")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	err = errors.Join(err, f.Chmod(0o644), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}
