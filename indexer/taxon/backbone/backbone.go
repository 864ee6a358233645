// Package backbone holds the embedded classification of fishes that every
// studio starts from: some 31,000 species under genera, families and orders, with
// synonyms, authorships and English names where the sources have them.
//
// The base is read-only and versioned with the program; a studio's own taxa and
// corrections go into a taxon.Classification laid over it. Ids ("T000123") are
// those of the published table and never change their meaning. Sources and
// licences are in SOURCES.md.
package backbone

import (
	"bytes"
	"compress/gzip"
	_ "embed" // for the table
	"errors"
	"fmt"
	"io"
	"strings"

	"platarium/indexer/taxon"
)

// Version names the state of the table; it changes whenever a row does.
const Version = "2025-1"

//go:embed base.tsv.gz
var packed []byte

// maxTable bounds the unpacked table, in bytes.
const maxTable = 64 << 20

// ErrDamaged means that the embedded table can't be read: the program was built
// from a damaged file and the caller can only stop.
var ErrDamaged = errors.New("embedded classification is damaged")

// Load unpacks the base. It takes a fraction of a second and returns a new tree
// each time: load once and share it.
func Load() (*taxon.Tree, error) {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	var table strings.Builder
	if _, err := io.Copy(&table, io.LimitReader(z, maxTable)); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	rows := strings.Split(strings.TrimSuffix(table.String(), "\n"), "\n")
	taxa := make([]taxon.Taxon, 0, len(rows))
	for i, row := range rows[1:] {
		t, err := parseRow(row)
		if err != nil {
			return nil, fmt.Errorf("%w: line %d: %w", ErrDamaged, i+2, err)
		}
		taxa = append(taxa, t)
	}
	tree, err := taxon.NewTree(taxa)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return tree, nil
}

// columns of the table, in order: id, parent, rank, name, authorship, status,
// accepted id, English name, source.
const columns = 9

func parseRow(row string) (taxon.Taxon, error) {
	f := strings.Split(row, "\t")
	if len(f) != columns {
		return taxon.Taxon{}, fmt.Errorf("%d columns, want %d", len(f), columns)
	}
	rank, ok := taxon.ParseRank(f[2])
	if !ok {
		return taxon.Taxon{}, fmt.Errorf("unknown rank %q", f[2])
	}
	t := taxon.Taxon{
		ID: f[0], ParentID: f[1], Rank: rank, Name: f[3], Authorship: f[4], AcceptedID: f[6], Source: f[8],
	}
	if f[5] == taxon.Synonym.String() {
		t.Status = taxon.Synonym
	}
	if f[7] != "" {
		t.Vernaculars = []taxon.Vernacular{{Lang: "en", Name: f[7]}}
	}
	return t, nil
}
