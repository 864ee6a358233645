// Package checklist reads lists of taxa that others publish: Darwin Core
// Archives, Catalogue of Life data packages (ColDP) and plain tables. What it
// reads becomes taxon.Taxon records: accepted names, synonyms, ranks and
// vernaculars in several languages.
//
// It opens nothing but the fs.FS or io.ReaderAt it is given and never the
// network. A row that can't be used is put on a list with file, row, column, what
// was found and what is wanted, and reading goes on; only a list that is no
// checklist at all, breaks a limit or runs in a circle is refused as a whole.
//
// It leaves out: references, distributions, type material and media.
package checklist

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"

	"platarium/indexer/taxon"
)

// Format names a way of writing checklists.
type Format string

// Formats that can be read.
const (
	DarwinCore Format = "Darwin Core Archive"
	ColDP      Format = "ColDP"
	Table      Format = "table"
)

// Checklist is what was read.
type Checklist struct {
	Format Format
	// Taxa are accepted taxa and synonyms in the order of the files, implied parents last.
	Taxa []taxon.Taxon
	// Origins says where each of Taxa stands; an implied parent has the row that first named it.
	Origins []Origin
	// Problems lists rows left out or used in part, at most MaxProblems of them;
	// MoreProblems counts the others.
	Problems     []Problem
	MoreProblems int
}

// Origin is the row that a taxon came from.
type Origin struct {
	File string
	// Row counts lines from 1, the heading included.
	Row int
}

// MaxProblems is how many problems are kept in full.
const MaxProblems = 1000

// Problem says what is wrong with a row.
type Problem struct {
	File string
	// Row counts lines from 1, the heading included; 0 when no row is meant.
	Row    int
	Column string
	Found  string
	Wanted string
	// Skipped is true when the row was left out, false when only the value was.
	Skipped bool
}

// String is the problem in one line.
func (p Problem) String() string {
	what := "value left out"
	if p.Skipped {
		what = "row left out"
	}
	return fmt.Sprintf("%s, row %d, %s: found %q, wanted %s; %s", p.File, p.Row, p.Column, p.Found, p.Wanted, what)
}

// Errors that refuse a whole checklist.
var (
	// ErrFormat means that the files are none of the known formats, or that a file
	// the format needs is missing; the caller shows the message.
	ErrFormat = errors.New("not a checklist that can be read")
	// ErrLimit means that an archive or table is larger than Limits allow, or made
	// to exhaust memory; the caller refuses it or raises the limit knowingly.
	ErrLimit = errors.New("checklist exceeds a limit")
)

// Limits bound what is read.
type Limits struct {
	// Files in an archive or folder.
	Files int
	// Bytes read in all, after unpacking.
	Bytes int64
	// Ratio of unpacked to packed bytes of a file; the first mebibyte of each is free.
	Ratio int64
	// Rows in all files together.
	Rows int
	// Line is the longest row, in bytes.
	Line int
}

// DefaultLimits suit checklists of up to some hundred thousand taxa.
func DefaultLimits() Limits {
	return Limits{Files: 1000, Bytes: 1 << 30, Ratio: 100, Rows: 2_000_000, Line: 1 << 20}
}

// Options say how to read.
type Options struct {
	// Limits; the zero value means DefaultLimits.
	Limits Limits
	// Prefix is put before every id, so that ids of one list don't collide with those of another.
	Prefix string
}

// ReadFS reads a folder: a Darwin Core Archive if it has meta.xml, a ColDP
// package if it has its files, else the one table in it.
//
// Errors: ErrFormat, ErrLimit, *taxon.CycleError (wrapped, with the ring of
// ids), or what opening the files gives.
func ReadFS(fsys fs.FS, o Options) (*Checklist, error) {
	return read(folder{fsys}, o)
}

// ReadZip reads the same from a zip archive of the given size. Names that leave
// the archive, doubled names and archives that unpack to more than the limits
// are refused with ErrLimit or ErrFormat.
func ReadZip(r io.ReaderAt, size int64, o Options) (*Checklist, error) {
	z, err := openZip(r, size, o.limits())
	if err != nil {
		return nil, err
	}
	return read(z, o)
}

// ReadTable reads one table whose file name tells how it is separated: .csv by
// commas with quotes, anything else by tabs without.
func ReadTable(r io.Reader, name string, o Options) (*Checklist, error) {
	return read(single{r, name}, o)
}

func (o Options) limits() Limits {
	if o.Limits == (Limits{}) {
		return DefaultLimits()
	}
	return o.Limits
}

// files is where a checklist's files come from.
type files interface {
	// list gives the names of the regular files.
	list(limit int) ([]string, error)
	open(name string) (io.ReadCloser, error)
}

func read(f files, o Options) (*Checklist, error) {
	lim := o.limits()
	names, err := f.list(lim.Files)
	if err != nil {
		return nil, err
	}
	b := newBuilder(&budget{bytes: lim.Bytes, rows: lim.Rows, line: lim.Line}, f)
	switch {
	case find(names, "meta.xml") != "":
		b.list.Format = DarwinCore
		err = readDarwinCore(b, names)
	case entity(names, "nameusage") != "" || entity(names, "taxon") != "" && entity(names, "name") != "":
		b.list.Format = ColDP
		err = readColDP(b, names)
	default:
		b.list.Format = Table
		err = readPlain(b, names)
	}
	if err != nil {
		return nil, err
	}
	return b.finish(o.Prefix)
}

// find gives the full name of a file by its last part, in any case.
func find(names []string, base string) string {
	for _, n := range names {
		if strings.EqualFold(path.Base(n), base) {
			return n
		}
	}
	return ""
}

// folder is a directory and its direct sub-folder, if that is all it has.
type folder struct{ fsys fs.FS }

func (d folder) list(limit int) ([]string, error) {
	var names []string
	err := fs.WalkDir(d.fsys, ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case e.IsDir() && strings.Count(name, "/") >= 2:
			return fs.SkipDir
		case !e.Type().IsRegular():
			return nil
		case len(names) >= limit:
			return fmt.Errorf("more than %d files: %w", limit, ErrLimit)
		}
		names = append(names, name)
		return nil
	})
	return names, err
}

func (d folder) open(name string) (io.ReadCloser, error) { return d.fsys.Open(name) }

// single is one table that comes as a stream.
type single struct {
	r    io.Reader
	name string
}

func (s single) list(int) ([]string, error) { return []string{s.name}, nil }

func (s single) open(string) (io.ReadCloser, error) { return io.NopCloser(s.r), nil }
