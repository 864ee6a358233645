package rights

import (
	"cmp"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"

	"platarium/server/rights/media"
	"platarium/server/rights/pathset"
	"platarium/server/rights/territory"
)

// Book is an index of grants by work that answers the questions. Grants may come
// in any order: an amendment before what it amends, a sublicence before its head.
// Reading is safe for many goroutines at once; Put and Remove must be alone.
type Book struct {
	entries    map[string]*entry
	byWork     map[string][]*entry // in the order of signature
	everyWork  []*entry            // grants over "*"
	replacedBy map[string][]string // ids of the grants that amend or supersede an id
	subs       map[string][]string // ids of the sublicences under an id
}

// entry is a grant with what was worked out from it.
type entry struct {
	grant    Grant
	signed   Day
	works    []string // ids without parts; "*" for all
	axes     axes
	reserved pathset.Set
	effect   effect
}

// NewBook indexes grants. The error says which grant cannot be read and wraps a *FieldError.
func NewBook(grants []Grant) (*Book, error) {
	b := &Book{
		entries:    make(map[string]*entry, len(grants)),
		byWork:     make(map[string][]*entry, len(grants)),
		replacedBy: map[string][]string{},
		subs:       map[string][]string{},
	}
	for i := range grants {
		e, err := readGrant(grants[i])
		if err != nil {
			return nil, err
		}
		if b.entries[e.grant.ID] != nil {
			return nil, fmt.Errorf("grant %s: %w", e.grant.ID, &FieldError{Field: "id", Found: e.grant.ID, Wanted: "an id of its own"})
		}
		b.link(e)
	}
	for id := range b.byWork {
		slices.SortFunc(b.byWork[id], inOrder)
	}
	slices.SortFunc(b.everyWork, inOrder)
	for _, e := range b.entries {
		e.effect = b.effect(e)
	}
	return b, nil
}

// readGrant reads a grant's scope. Expansions that are not frozen yet are made as at signature.
func readGrant(g Grant) (*entry, error) {
	if g.ID == "" {
		return nil, &FieldError{Field: "id", Wanted: "an id"}
	}
	e := &entry{grant: g, signed: wide.begin(g.Signed, wide.begin(g.Scope.From, minDay))}
	var err error
	if e.axes, err = readAxes(g.Scope, g.Frozen, g.signingDay(), nothing); err != nil {
		return nil, fmt.Errorf("grant %s: %w", g.ID, err)
	}
	if e.reserved, err = readReserved(&g); err != nil {
		return nil, fmt.Errorf("grant %s: %w", g.ID, err)
	}
	for _, w := range g.Scope.Works {
		id, _, _ := strings.Cut(w, "#")
		if !strings.HasPrefix(id, "-") && !slices.Contains(e.works, id) {
			e.works = append(e.works, id)
		}
	}
	return e, nil
}

// signingDay is the day as at which groups are expanded.
func (g *Grant) signingDay() string {
	if g.Signed.IsZero() {
		return wide.begin(g.Scope.From, 0).String()
	}
	return g.Signed.First().String()
}

// Freeze stores the expansion of a grant's groups as at its signature. An
// expansion that is there already is kept as it is. The error is a *FieldError.
func Freeze(g Grant) (Grant, error) {
	if g.Frozen.Territory != nil || g.Frozen.Media != nil {
		return g, nil
	}
	places, err := territory.Read(g.Scope.Territory, g.signingDay())
	if err != nil {
		return g, inField("territory", err)
	}
	g.Frozen = Frozen{
		Territory: places.Codes(),
		Media:     append([]string{}, mediaAt(g.Scope.Media, g.signingDay())...),
		Tables:    territory.Version + "; " + media.Version,
	}
	return g, nil
}

func inOrder(a, b *entry) int {
	return cmp.Or(cmp.Compare(a.signed, b.signed), strings.Compare(a.grant.ID, b.grant.ID))
}

// Put adds a grant or replaces the one of the same id, and works out anew what depends on it.
func (b *Book) Put(g Grant) error {
	e, err := readGrant(g)
	if err != nil {
		return err
	}
	touched := b.family(g.ID)
	b.unlink(g.ID)
	b.link(e)
	for _, w := range e.works {
		if w == "*" {
			slices.SortFunc(b.everyWork, inOrder)
		} else {
			slices.SortFunc(b.byWork[w], inOrder)
		}
	}
	maps.Copy(touched, b.family(g.ID))
	b.refresh(touched)
	return nil
}

// Remove takes a grant out, and reports whether it was there.
func (b *Book) Remove(id string) bool {
	if b.entries[id] == nil {
		return false
	}
	touched := b.family(id)
	b.unlink(id)
	b.refresh(touched)
	return true
}

// Grant is the record of an id.
func (b *Book) Grant(id string) (Grant, bool) {
	e := b.entries[id]
	if e == nil {
		return Grant{}, false
	}
	return e.grant, true
}

// Len is the number of grants.
func (b *Book) Len() int { return len(b.entries) }

// Works visits every work that a grant names, with the ids of its grants in the
// order of signature. Grants over "*" are not among them. The ids may not be kept.
func (b *Book) Works() iter.Seq2[string, []string] {
	return func(yield func(string, []string) bool) {
		var ids []string
		for work, entries := range b.byWork {
			ids = ids[:0]
			for _, e := range entries {
				ids = append(ids, e.grant.ID)
			}
			if !yield(work, ids) {
				return
			}
		}
	}
}

// Touching lists the ids of the grants over a work or a part of it, whatever
// their state, in the order of signature.
func (b *Book) Touching(work string) []string {
	this := pathset.Parts.Of([]string{work}, nil)
	var found []*entry
	for e := range b.on(work) {
		if e.axes.work.Meets(this) && !slices.Contains(found, e) {
			found = append(found, e)
		}
	}
	slices.SortFunc(found, inOrder)
	out := make([]string, len(found))
	for i, e := range found {
		out[i] = e.grant.ID
	}
	return out
}

func (b *Book) get(id string) *Grant {
	if e := b.entries[id]; e != nil {
		return &e.grant
	}
	return nil
}

func (b *Book) link(e *entry) {
	id := e.grant.ID
	b.entries[id] = e
	for _, w := range e.works {
		if w == "*" {
			b.everyWork = append(b.everyWork, e)
		} else {
			b.byWork[w] = append(b.byWork[w], e)
		}
	}
	for _, old := range e.grant.replaces() {
		b.replacedBy[old] = append(b.replacedBy[old], id)
	}
	if e.grant.Kind == Sublicence {
		b.subs[e.grant.Head] = append(b.subs[e.grant.Head], id)
	}
}

func (b *Book) unlink(id string) {
	e := b.entries[id]
	if e == nil {
		return
	}
	delete(b.entries, id)
	same := func(o *entry) bool { return o == e }
	for _, w := range e.works {
		if w == "*" {
			b.everyWork = slices.DeleteFunc(b.everyWork, same)
		} else if b.byWork[w] = slices.DeleteFunc(b.byWork[w], same); len(b.byWork[w]) == 0 {
			delete(b.byWork, w)
		}
	}
	drop := func(m map[string][]string, key string) {
		if m[key] = slices.DeleteFunc(m[key], func(o string) bool { return o == id }); len(m[key]) == 0 {
			delete(m, key)
		}
	}
	for _, old := range e.grant.replaces() {
		drop(b.replacedBy, old)
	}
	if e.grant.Kind == Sublicence {
		drop(b.subs, e.grant.Head)
	}
}

// family is the ids tied to one by amendment, replacement or sublicence, in any number of steps.
func (b *Book) family(id string) map[string]bool {
	out := map[string]bool{}
	var visit func(id string)
	visit = func(id string) {
		if id == "" || out[id] {
			return
		}
		out[id] = true
		for _, next := range b.replacedBy[id] {
			visit(next)
		}
		for _, sub := range b.subs[id] {
			visit(sub)
		}
		if g := b.get(id); g != nil {
			for _, old := range g.replaces() {
				visit(old)
			}
			if g.Kind == Sublicence {
				visit(g.Head)
			}
		}
	}
	visit(id)
	return out
}

func (b *Book) refresh(ids map[string]bool) {
	for id := range ids {
		if e := b.entries[id]; e != nil {
			e.effect = b.effect(e)
		}
	}
}

// on visits the grants that name a work or all works, in the order of signature within each.
func (b *Book) on(work string) iter.Seq[*entry] {
	return func(yield func(*entry) bool) {
		for _, e := range b.byWork[work] {
			if !yield(e) {
				return
			}
		}
		for _, e := range b.everyWork {
			if !yield(e) {
				return
			}
		}
	}
}
