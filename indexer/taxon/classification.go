package taxon

import (
	"fmt"
	"slices"
	"sync"
)

// maxDepth bounds every walk up; the deepest real lineage is below 40.
const maxDepth = 256

// Classification lays a studio's own taxa, synonyms, vernaculars and corrections
// over an immutable Tree. A taxon put under an id of the base replaces that
// record, but the base's name goes on matching as an earlier name. All methods
// may be called concurrently; a change costs time in proportion to that one taxon.
type Classification struct {
	base *Tree
	mu   sync.RWMutex
	over map[string]*Taxon
	idx  *nameIndex
	syn  map[string][]string // accepted id to the overlay's synonyms
}

// NewClassification starts with an empty overlay. base may be nil.
func NewClassification(base *Tree) *Classification {
	if base == nil {
		base = &Tree{idx: newNameIndex(0)}
	}
	return &Classification{base: base, over: map[string]*Taxon{}, idx: newNameIndex(0), syn: map[string][]string{}}
}

// Base is the tree below the overlay.
func (c *Classification) Base() *Tree { return c.base }

// Put adds a taxon to the overlay or replaces the one of the same id. Parents
// and accepted taxa may come later: a journal can be replayed in any order.
// Errors: ErrNoID (wrapped), *CycleError; the overlay is then unchanged.
func (c *Classification) Put(t Taxon) error {
	if t.ID == "" || t.Name == "" {
		return fmt.Errorf("taxon (id %q, name %q): %w", t.ID, t.Name, ErrNoID)
	}
	t.Synonyms = slices.Clone(t.Synonyms)
	t.Vernaculars = slices.Clone(t.Vernaculars)
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.ring(t); err != nil {
		return err
	}
	c.drop(t.ID)
	c.over[t.ID] = &t
	c.idx.add(&t)
	if t.Status == Synonym {
		c.syn[t.AcceptedID] = append(c.syn[t.AcceptedID], t.ID)
	}
	return nil
}

// Remove takes a taxon out of the overlay, which brings a base record of that
// id back. It reports whether there was one.
func (c *Classification) Remove(id string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.drop(id)
}

// drop forgets an overlay record; the caller holds the lock.
func (c *Classification) drop(id string) bool {
	t, had := c.over[id]
	if !had {
		return false
	}
	c.idx.remove(id)
	delete(c.over, id)
	if t.Status == Synonym {
		c.syn[t.AcceptedID] = slices.DeleteFunc(c.syn[t.AcceptedID], func(s string) bool { return s == id })
	}
	return true
}

// Check says what Put would refuse, and besides whether parent and accepted
// taxon are known (ErrUnknownTaxon, wrapped with the id).
func (c *Classification) Check(t Taxon) error {
	if t.ID == "" || t.Name == "" {
		return fmt.Errorf("taxon (id %q, name %q): %w", t.ID, t.Name, ErrNoID)
	}
	c.mu.RLock()
	defer c.mu.RUnlock()
	if _, ok := c.get(t.ParentID); !ok && t.ParentID != "" {
		return fmt.Errorf("parent %q: %w", t.ParentID, ErrUnknownTaxon)
	}
	if _, ok := c.get(t.AcceptedID); !ok && (t.AcceptedID != "" || t.Status == Synonym) {
		return fmt.Errorf("accepted taxon %q: %w", t.AcceptedID, ErrUnknownTaxon)
	}
	return c.ring(t)
}

// Renamed is the taxon under a new name; the old name goes to its synonyms, so
// that both match. Putting it is left to the caller.
func (t Taxon) Renamed(name, authorship string) Taxon {
	if t.Name != name && !slices.Contains(t.Synonyms, t.Name) {
		t.Synonyms = append(slices.Clone(t.Synonyms), t.Name)
	}
	t.Name, t.Authorship = name, authorship
	return t
}

// ring reports the circle that putting t would close.
func (c *Classification) ring(t Taxon) error {
	path := []string{t.ID}
	for id := t.up(); id != "" && len(path) < maxDepth; {
		path = append(path, id)
		if id == t.ID {
			return &CycleError{Path: path}
		}
		x, ok := c.get(id)
		if !ok {
			return nil
		}
		id = x.up()
	}
	return nil
}

// get looks an id up; the caller holds the lock.
func (c *Classification) get(id string) (*Taxon, bool) {
	if t, ok := c.over[id]; ok {
		return t, true
	}
	if i, ok := c.base.byID[id]; ok {
		return &c.base.taxa[i], true
	}
	return nil, false
}

// accepted follows a synonym to its taxon; the caller holds the lock. A synonym
// whose taxon is missing stands for itself.
func (c *Classification) accepted(id string) (*Taxon, bool) {
	t, ok := c.get(id)
	for range maxDepth {
		if !ok || t.Status != Synonym || t.AcceptedID == "" {
			break
		}
		next, found := c.get(t.AcceptedID)
		if !found {
			break
		}
		t = next
	}
	return t, ok
}

// Taxon looks a taxon up in the overlay, then in the base.
func (c *Classification) Taxon(id string) (Taxon, bool) {
	c.mu.RLock()
	defer c.mu.RUnlock()
	if t, ok := c.get(id); ok {
		return t.clone(), true
	}
	return Taxon{}, false
}

// Accepted looks up the accepted taxon behind an id, which may be its own.
func (c *Classification) Accepted(id string) (Taxon, bool) {
	c.mu.RLock()
	defer c.mu.RUnlock()
	if t, ok := c.accepted(id); ok {
		return t.clone(), true
	}
	return Taxon{}, false
}

func (t *Taxon) clone() Taxon {
	x := *t
	x.Synonyms, x.Vernaculars = slices.Clone(t.Synonyms), slices.Clone(t.Vernaculars)
	return x
}

// chain lists the accepted taxon of id and all its ancestors, nearest first;
// the caller holds the lock.
func (c *Classification) chain(id string) []*Taxon {
	var out []*Taxon
	for t, ok := c.accepted(id); ok && len(out) < maxDepth; t, ok = c.accepted(t.ParentID) {
		if slices.Contains(out, t) { // taking a record out of the overlay can close a ring
			break
		}
		out = append(out, t)
	}
	return out
}

// Lineage gives the ids from the root down to the accepted taxon of id, that
// taxon included: the tokens under which a picture of it is indexed. Unknown
// ids have none.
func (c *Classification) Lineage(id string) []string {
	c.mu.RLock()
	defer c.mu.RUnlock()
	chain := c.chain(id)
	out := make([]string, len(chain))
	for i, t := range chain {
		out[len(chain)-1-i] = t.ID
	}
	return out
}

// Synonyms lists the other scientific names of an accepted taxon: synonyms with
// a record of their own, names listed with the taxon (which have no id), and the
// base's name where the studio has changed it.
func (c *Classification) Synonyms(id string) []Taxon {
	c.mu.RLock()
	defer c.mu.RUnlock()
	t, ok := c.get(id)
	if !ok {
		return nil
	}
	var out []Taxon
	for _, s := range c.base.synonyms[id] {
		if now, _ := c.get(s); now.Status == Synonym && now.AcceptedID == id {
			out = append(out, now.clone())
		}
	}
	for _, s := range c.syn[id] {
		if !slices.ContainsFunc(out, func(x Taxon) bool { return x.ID == s }) {
			out = append(out, c.over[s].clone())
		}
	}
	earlier := t.Synonyms
	if b, ok := c.base.Taxon(id); ok && b.Name != t.Name && !slices.Contains(earlier, b.Name) {
		earlier = append(slices.Clone(earlier), b.Name)
	}
	for _, name := range earlier {
		out = append(out, Taxon{Name: name, Rank: t.Rank, Status: Synonym, AcceptedID: id})
	}
	return out
}

// at is the id of a taxon's ancestor of a rank, or "". The caller holds the lock.
func (c *Classification) at(id string, rank Rank) string {
	for _, t := range c.chain(id) {
		if t.Rank == rank {
			return t.ID
		}
	}
	return ""
}

// Ancestor is the taxon of a rank above or at id: the family of a species. It
// is false when the lineage has no such rank.
func (c *Classification) Ancestor(id string, rank Rank) (Taxon, bool) {
	c.mu.RLock()
	defer c.mu.RUnlock()
	t, ok := c.get(c.at(id, rank))
	if !ok {
		return Taxon{}, false
	}
	return t.clone(), true
}
