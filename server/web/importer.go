package web

import (
	"context"
	"time"
)

// Importer brings a folder of files into the archive by the same bulk import as the command line. It stands outside of the server, and acts with the key that it is given.
type Importer interface {
	// Prepare finds the tables of a folder, or drafts a first manifest of it.
	Prepare(ctx context.Context, job ImportJob) (ImportTables, error)
	// Import brings in the rows of the tables, or, in a dry run, says what would become of them. The summary is there whenever the tables could be read.
	Import(ctx context.Context, job ImportJob, tables ImportTables, dry bool, watch ImportWatch) (ImportSummary, error)
}

// ImportJob is a folder and whose it is.
type ImportJob struct {
	Key    string // secret of the visitor's key
	Folder string // what was dropped, as it lay
	Beside string // a folder for tables that are made
}

// ImportTables are the tables of an import.
type ImportTables struct {
	Manifest  string // path
	Specimens string // path; empty for none
	Drafted   bool   // the manifest was drafted, and a person should look at it
	LeftOut   []string
}

// ImportRow is what became of a row.
type ImportRow struct {
	Table, File, Outcome, Name, Reason string
	Row                                int
	Rejected                           bool
	Remarks                            []string
}

// ImportProgress is how far an import has come.
type ImportProgress struct {
	Stage         string        `json:"stage"`
	Rows, AllRows int           `json:"-"`
	Sent          int64         `json:"-"` // bytes that the archive has
	Fraction      float64       `json:"fraction"`
	Elapsed, Left time.Duration `json:"-"`
}

// ImportWatch is told how an import goes, one call at a time.
type ImportWatch struct {
	Row      func(ImportRow)
	Progress func(ImportProgress)
}

// ImportSummary is what became of an import.
type ImportSummary struct {
	Words    string   // in a few lines
	Rejected int      // rows
	Rejects  []string // paths of tables of the rejected rows, each with its reason
}
