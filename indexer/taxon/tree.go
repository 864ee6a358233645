package taxon

import (
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
)

// Status says whether a name is the one in use for its taxon.
type Status uint8

// Standing of a name in a classification.
const (
	// Accepted names stand in the tree.
	Accepted Status = iota
	// Synonym names point to the accepted taxon.
	Synonym
)

// String gives the word that checklists use.
func (s Status) String() string {
	if s == Synonym {
		return "synonym"
	}
	return "accepted"
}

// Vernacular is a name in everyday language.
type Vernacular struct {
	// Lang is a BCP 47 tag, empty when unknown.
	Lang string
	Name string
}

// Taxon is one node of a classification, or a synonym that points to one.
type Taxon struct {
	// ID is opaque and stable.
	ID string
	// ParentID is the next taxon up; empty at the root and for taxa of unknown place.
	ParentID string
	Rank     Rank
	// Name is the scientific name without authors, Authorship the authors and year.
	Name       string
	Authorship string
	Status     Status
	// AcceptedID is the taxon that a synonym belongs to.
	AcceptedID string
	// Synonyms are further scientific names that have no record of their own.
	Synonyms    []string
	Vernaculars []Vernacular
	// Source says where the record comes from.
	Source string
}

// placeholder reports whether the node only collects taxa of unsure place, so
// that two taxa under it needn't be related more closely than through its parent.
func (t Taxon) placeholder() bool {
	return strings.Contains(strings.ToLower(t.Name), "incertae sedis")
}

// Errors of building and changing a classification.
var (
	// ErrDuplicateID means that two taxa carry one id; the caller drops or renames one.
	ErrDuplicateID = errors.New("taxon id is used twice")
	// ErrNoID means that a taxon has no id or no name; the caller supplies it.
	ErrNoID = errors.New("taxon needs an id and a name")
	// ErrUnknownTaxon means that an id named by a taxon is in no layer; the caller
	// adds that taxon first or corrects the id.
	ErrUnknownTaxon = errors.New("no such taxon")
)

// CycleError says that taxa are each other's ancestors, or synonyms of each
// other in a ring. Path names the ring from one taxon back to itself.
type CycleError struct {
	Path []string
}

// Error names the ring.
func (e *CycleError) Error() string {
	return "classification runs in a circle: " + strings.Join(e.Path, " > ")
}

// Tree is an immutable classification. It is safe for concurrent use.
type Tree struct {
	taxa []Taxon
	byID map[string]int32
	idx  *nameIndex
	// synonyms by the id of their accepted taxon
	synonyms map[string][]string
}

// NewTree builds a tree; it keeps the slice. A parent that isn't there leaves
// its children without place, which is allowed. Errors: ErrNoID, ErrDuplicateID
// (wrapped, with the id) and *CycleError.
func NewTree(taxa []Taxon) (*Tree, error) {
	t := &Tree{taxa: taxa, byID: make(map[string]int32, len(taxa))}
	for i, x := range taxa {
		if x.ID == "" || x.Name == "" {
			return nil, fmt.Errorf("taxon %d (id %q, name %q): %w", i+1, x.ID, x.Name, ErrNoID)
		}
		if _, dup := t.byID[x.ID]; dup {
			return nil, fmt.Errorf("%q: %w", x.ID, ErrDuplicateID)
		}
		t.byID[x.ID] = int32(i)
	}
	if err := t.cycles(); err != nil {
		return nil, err
	}
	t.idx = newNameIndex(len(taxa))
	t.synonyms = map[string][]string{}
	for i := range taxa {
		t.idx.add(&taxa[i])
		if x := &taxa[i]; x.Status == Synonym {
			t.synonyms[x.AcceptedID] = append(t.synonyms[x.AcceptedID], x.ID)
		}
	}
	return t, nil
}

// Len is the number of taxa and synonyms.
func (t *Tree) Len() int { return len(t.taxa) }

// Taxon looks a taxon up.
func (t *Tree) Taxon(id string) (Taxon, bool) {
	i, ok := t.byID[id]
	if !ok {
		return Taxon{}, false
	}
	return t.taxa[i], true
}

// up is the next node of a chain: the accepted taxon of a synonym, else the
// parent.
func (t Taxon) up() string {
	if t.Status == Synonym && t.AcceptedID != "" {
		return t.AcceptedID
	}
	return t.ParentID
}

// cycles walks every chain once and reports the first ring.
func (t *Tree) cycles() error {
	const (
		unseen = iota
		walking
		clear
	)
	state := make([]uint8, len(t.taxa))
	for i := range t.taxa {
		var path []int32
		for j, ok := int32(i), true; ok && state[j] != clear; {
			if state[j] == walking {
				return t.ring(path, j)
			}
			state[j] = walking
			path = append(path, j)
			j, ok = t.byID[t.taxa[j].up()]
		}
		for _, j := range path {
			state[j] = clear
		}
	}
	return nil
}

func (t *Tree) ring(path []int32, again int32) error {
	var e CycleError
	for _, j := range path {
		if j == again || len(e.Path) > 0 {
			e.Path = append(e.Path, t.taxa[j].ID)
		}
	}
	e.Path = append(e.Path, t.taxa[again].ID)
	return &e
}

// All yields every taxon and synonym in the order given.
func (t *Tree) All() iter.Seq[Taxon] {
	return slices.Values(t.taxa)
}
