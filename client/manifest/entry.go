package manifest

import (
	"crypto/sha256"
	"fmt"
	"slices"
	"strconv"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// entry is one row of either table, read.
type entry struct {
	picture  *pb.Picture
	animal   *pb.Specimen // for rows of a specimens file, instead of picture
	file     string
	id, key  string
	specimen string // as the cell names it
	sources  []derivation
	outside  []derivation
	paths    []string // fields of the record that cells speak of
	identity []string // the cells that make the row what it is, as name=length:text
	faults   []fault
	lenient  bool // read before and found sound: formulae aren't checked again
}

// fault is what is wrong with one column.
type fault struct {
	column, text string
}

func (e *entry) identification() *pb.Identification {
	if e.animal != nil {
		if e.animal.Identification == nil {
			e.animal.Identification = &pb.Identification{}
		}
		return e.animal.Identification
	}
	if e.picture.Identification == nil {
		e.picture.Identification = &pb.Identification{}
	}
	return e.picture.Identification
}

func (e *entry) setCounts(s string) error {
	counts := &pb.Counts{Formula: s}
	if e.animal != nil {
		e.animal.Counts = counts
	} else {
		e.picture.Counts = counts
	}
	if e.lenient {
		return nil
	}
	return checkFormula(s)
}

func (e *entry) fault(column, format string, args ...any) {
	e.faults = append(e.faults, fault{column, fmt.Sprintf(format, args...)})
}

// read fills the entry from the cells of a row.
func (e *entry) read(columns []*Column, cells []string) {
	for i, col := range columns {
		cell := strings.TrimSpace(cells[i])
		if cell == "" {
			if col.Required {
				e.fault(col.Name, "is empty; want %s", col.Meaning)
			}
			continue
		}
		if strings.ContainsRune(cell, 0) {
			e.fault(col.Name, "holds a NUL character; want plain text")
			continue
		}
		if err := col.set(e, cell); err != nil {
			e.fault(col.Name, "%s", err)
			continue
		}
		for _, p := range col.paths {
			if !slices.Contains(e.paths, p) {
				e.paths = append(e.paths, p)
			}
		}
		if len(col.paths) > 0 && !e.lenient {
			e.identity = append(e.identity, col.Name+"="+strconv.Itoa(len(cell))+":"+cell)
		}
	}
}

// contentID is the id of a row that has nothing but its text, whatever the order of columns.
func (e *entry) contentID() string {
	slices.Sort(e.identity)
	return digestID("r", sha256.Sum256([]byte(strings.Join(e.identity, "\n"))))
}
