package taxaimport

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"platarium/indexer/taxon"
	"platarium/indexer/taxon/checklist"
)

// readList reads a table, an archive or a folder.
func readList(path string) (*checklist.Checklist, error) {
	list, err := openList(path)
	var ring *taxon.CycleError
	switch {
	case err == nil && len(list.Taxa) == 0 && len(list.Problems) == 0:
		return nil, fmt.Errorf("%s: %w: it holds no taxon", path, ErrUnusable)
	case err == nil:
		return list, nil
	case errors.As(err, &ring):
		return nil, fmt.Errorf("%s: %w: taxa are above each other in a circle, by their ids: %s", path, ErrUnusable, strings.Join(ring.Path, " > "))
	case errors.Is(err, checklist.ErrFormat), errors.Is(err, checklist.ErrLimit), errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%s: %w: %w", path, ErrUnusable, err)
	default:
		return nil, fmt.Errorf("read %s: %w", path, err)
	}
}

func openList(path string) (*checklist.Checklist, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		return checklist.ReadFS(os.DirFS(path), checklist.Options{})
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }() // read only: nothing is lost
	if strings.EqualFold(filepath.Ext(path), ".zip") {
		return checklist.ReadZip(f, info.Size(), checklist.Options{})
	}
	return checklist.ReadTable(f, filepath.Base(path), checklist.Options{})
}

// listName is the name of a list whose caller gives none.
func listName(path string) string {
	if whole, err := filepath.Abs(path); err == nil {
		path = whole
	}
	base := filepath.Base(path)
	switch ext := filepath.Ext(base); strings.ToLower(ext) {
	case ".zip", ".tsv", ".tab", ".txt", ".csv":
		return strings.TrimSuffix(base, ext)
	}
	return base
}

// withRank gives a name without a rank the one that its words show.
func withRank(t taxon.Taxon) taxon.Taxon {
	if t.Rank != taxon.Unranked {
		return t
	}
	n, err := taxon.Parse(t.Name)
	switch {
	case err != nil || n.Hybrid == taxon.HybridFormula:
	case len(n.Infras) > 0:
		t.Rank = taxon.Subspecies
	case n.Species != "":
		t.Rank = taxon.Species
	}
	return t
}

// settled says whether a name is that of a taxon, and not of something compared with one or left open (cf., sp.).
func settled(name string) bool {
	n, err := taxon.Parse(name)
	return err != nil || n.Surrogate == taxon.Settled
}
