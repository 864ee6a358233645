package manifest

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// state says how far a row has come.
type state uint8

const (
	pending  state = iota
	accepted       // in the archive, or sound in a dry run
	refused        // rejected and reported
	standing       // rejected and reported, but the archive has the record: others may refer to it
)

// item is what is kept of a row between stages: the rest is read anew from the table when it is needed.
type item struct {
	state   state
	id      string // as wanted, or made from the content once that is known
	ownID   bool   // the row gives it
	key     string
	file    string // as the cell names it, cleaned
	spelled string // as the disk spells it
	size    int64
	sum     string  // sha256 of the file, hex
	sent    bool    // the archive has the file
	taxon   string  // scientific name, to be looked up; empty if none or settled
	animal  string  // specimen as the cell names it
	derived bool    // the row names what it derives from
	sources []int32 // rows that it derives from
	window  int32
	remarks []string
}

// sheet is one table with what is known of its rows.
type sheet struct {
	*table
	path    string
	items   []item
	byKey   map[string]int // key, then id, then file
	byID    map[string]int
	files   map[string]int // of pictures
	numbers map[string]int // of specimens, by catalog number; -1 where several have it
	made    func() *entry
}

func newSheet(path, encodingName string, known []Column, more func(string) *Column, made func() *entry) (*sheet, []byte, error) {
	data, err := readFile(path)
	if err != nil {
		return nil, nil, err
	}
	t, err := readTable(path, data, encodingName, known, more)
	if err != nil {
		return nil, nil, err
	}
	s := &sheet{table: t, path: path, items: make([]item, len(t.rows)), byKey: map[string]int{}, byID: map[string]int{}, files: map[string]int{}, numbers: map[string]int{}, made: made}
	return s, data, nil
}

func newPictureEntry() *entry  { return &entry{picture: &pb.Picture{}} }
func newSpecimenEntry() *entry { return &entry{animal: &pb.Specimen{}} }

func noFurther(string) *Column { return nil }

// readFile reads a table; one that isn't there or isn't a file can't be used.
func readFile(path string) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, unusable(path, "it isn't there")
	case err != nil:
		return nil, fmt.Errorf("read the manifest: %w", err)
	case info.IsDir():
		return nil, unusable(path, "it is a folder; a first manifest of a folder is written by: platarium manifest draft")
	case info.Size() > maxTable:
		return nil, unusable(path, "it is %d bytes long; want at most %d: split it", info.Size(), maxTable)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read the manifest: %w", err)
	}
	return data, nil
}

// entry reads a row.
func (s *sheet) entry(i int, lenient bool) *entry {
	e := s.made()
	e.lenient = lenient
	e.read(s.columns, s.cells(s.rows[i]))
	return e
}

// scan reads every row once: faults are told, what later stages need is kept.
func (s *sheet) scan(bad func(i int, faults []fault), good func(i int, e *entry)) {
	for i, row := range s.rows {
		if row.torn != "" {
			bad(i, []fault{{"", row.torn}})
			continue
		}
		e := s.entry(i, false)
		it := &s.items[i]
		it.key, it.file, it.id, it.ownID = e.key, e.file, e.id, e.id != ""
		it.taxon, it.animal, it.derived = e.nameToMatch(), e.specimen, len(e.sources) > 0
		s.claim(e, i)
		if len(e.faults) > 0 {
			bad(i, e.faults)
			continue
		}
		good(i, e)
	}
}

func (e *entry) nameToMatch() string {
	var id *pb.Identification
	if e.animal != nil {
		id = e.animal.GetIdentification()
	} else {
		id = e.picture.GetIdentification()
	}
	if id.GetTaxon() != "" {
		return ""
	}
	return id.GetScientificName()
}

// claim notes what a row is called, and finds fault if another has that name.
func (s *sheet) claim(e *entry, i int) {
	taken := func(m map[string]int, column, name string) {
		if name == "" {
			return
		}
		if first, ok := m[name]; ok {
			e.fault(column, "found %q, which row %d has already; want each %s once", short(name), s.rows[first].row, column)
			return
		}
		m[name] = i
	}
	taken(s.byKey, "key", e.key)
	taken(s.byID, "id", e.id)
	if first, ok := s.files[e.file]; ok && e.file != "" && (e.id == "" || !s.items[first].ownID) {
		e.fault("file", "found %q, which row %d has already; want each file once, or an id on every such row where one scan holds several pictures", short(e.file), s.rows[first].row)
	} else if !ok && e.file != "" {
		s.files[e.file] = i
	}
}

// where names a row for a person.
func (s *sheet) where(i int) string {
	it := &s.items[i]
	for _, label := range []string{it.key, it.file, it.id} {
		if label != "" {
			return fmt.Sprintf("row %d (%s)", s.rows[i].row, short(label))
		}
	}
	return fmt.Sprintf("row %d", s.rows[i].row)
}

func reasonOf(faults []fault) string {
	list := make([]string, len(faults))
	for i, f := range faults {
		list[i] = f.text
		if f.column != "" {
			list[i] = "column " + f.column + ": " + f.text
		}
	}
	return strings.Join(list, "; ")
}

// importID names an import by the manifest's content, so that a repetition is the same import.
func importID(data []byte) string { return digestID("m", sha256.Sum256(data)) }
