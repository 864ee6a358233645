package rights

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"platarium/server/rights/pathset"
	"platarium/server/rights/territory"
)

// Witness is one tuple on which two grants contradict each other: proof, and
// something to talk about. "*" stands for any.
type Witness struct {
	Work, Medium, Territory, Language, Purpose string
	Day                                        Day
}

// String describes the tuple in words.
func (w Witness) String() string {
	var b strings.Builder
	b.WriteString("work " + w.Work)
	if w.Work == "*" {
		b.Reset()
		b.WriteString("any work")
	}
	b.WriteString(", " + orAny(w.Medium, "any medium"))
	fmt.Fprintf(&b, ", in %s (%s)", territory.Name(w.Territory), w.Territory)
	if w.Language == "*" {
		b.WriteString(", any language")
	} else {
		b.WriteString(", language " + w.Language)
	}
	b.WriteString(", " + orAny(w.Purpose, "any purpose"))
	if d := w.Day.String(); d != "" {
		b.WriteString(", on " + d)
	}
	return b.String()
}

func orAny(s, any string) string {
	if s == "*" {
		return any
	}
	return s
}

// witness picks a tuple of a box that is not empty.
func (b *box) witness() Witness {
	var w Witness
	w.Work, _ = b.work.First(pathset.Parts)
	w.Medium, _ = b.media.First(pathset.Dotted)
	w.Language, _ = b.lang.First(pathset.Tags)
	w.Territory, _ = b.terr.First()
	w.Purpose = "*"
	if b.purpose != anyPurpose {
		w.Purpose = b.purpose.names()[0]
	}
	if w.Day = b.days.lo; w.Day == minDay {
		w.Day = b.days.hi
	}
	return w
}

// Clash is a contradiction between two grants.
type Clash struct {
	A, B    string // the grants, in the order of their ids
	Promise string // the grant whose exclusivity the other breaks
	Later   string // the one signed later, "" if both were signed on one day: the false promise or the breach
	Witness Witness
}

// String says what clashes, and where.
func (c Clash) String() string {
	other := c.A
	if other == c.Promise {
		other = c.B
	}
	return fmt.Sprintf("%s lets another party do what %s promises to keep from it: %s", other, c.Promise, c.Witness)
}

// Conflict reports whether two grants contradict each other. Sublicences and
// amendments are judged rightly only in a Book that holds the grants they refer
// to. The error wraps a *FieldError.
func Conflict(g, h Grant) (Clash, bool, error) {
	b, err := NewBook([]Grant{g, h})
	if err != nil {
		return Clash{}, false, err
	}
	c, ok := b.Conflict(g.ID, h.ID)
	return c, ok, nil
}

// Conflict reports whether two grants of the book contradict each other.
func (b *Book) Conflict(g, h string) (Clash, bool) {
	eg, eh := b.entries[g], b.entries[h]
	if eg == nil || eh == nil || g == h {
		return Clash{}, false
	}
	if inOrder(eg, eh) > 0 { // the answer does not depend on the order asked in
		eg, eh = eh, eg
	}
	for _, pair := range [...][2]*entry{{eg, eh}, {eh, eg}} {
		if common, ok := b.breaks(pair[0], pair[1]); ok {
			c := Clash{A: min(g, h), B: max(g, h), Promise: pair[0].grant.ID, Witness: common.witness()}
			if eg.signed != eh.signed {
				c.Later = eh.grant.ID
			}
			return c, true
		}
	}
	return Clash{}, false
}

// breaks finds tuples that other lets its licensee use although promise keeps them from it.
func (b *Book) breaks(promise, other *entry) (box, bool) {
	if len(promise.effect.shuts) == 0 || len(other.effect.permits) == 0 {
		return box{}, false
	}
	shut := promise.against(other.grant.To)
	common, met := firstCommon(shut, other.effect.permits)
	if !met || b.oneLine(&promise.grant, &other.grant) {
		return box{}, false
	}
	if len(promise.grant.SubjectTo) == 0 {
		return common, true
	}
	return firstCommon(shut, b.beyond(promise, other))
}

func firstCommon(shut, permits []box) (box, bool) {
	for i := range shut {
		for j := range permits {
			if shut[i].meets(&permits[j]) {
				return shut[i].and(&permits[j]), true
			}
		}
	}
	return box{}, false
}

// oneLine reports whether two grants are versions of one agreement, or one is a
// sublicence under the other: those never contradict.
func (b *Book) oneLine(g, h *Grant) bool {
	return b.under(g, h.ID) || b.under(h, g.ID)
}

// under reports whether an id names a version of a grant or of a grant that it hangs on, in any number of steps.
func (b *Book) under(g *Grant, id string) bool {
	seen := map[string]bool{}
	queue := []string{g.ID}
	for i := 0; i < len(queue); i++ {
		if seen[queue[i]] {
			continue
		}
		seen[queue[i]] = true
		for _, version := range b.agreement(queue[i]) {
			if version.grant.ID == id {
				return true
			}
			if version.grant.Kind == Sublicence {
				queue = append(queue, version.grant.Head)
			}
		}
	}
	return false
}

// beyond is what a grant permits outside those that the promise was made subject
// to: the grant itself if it is listed, and if what it amends or hangs on is
// listed, as far as that one went.
func (b *Book) beyond(promise, other *entry) []box {
	permits := other.effect.permits
	for _, id := range promise.grant.SubjectTo {
		if id == other.grant.ID {
			return nil
		}
		if listed := b.entries[id]; listed != nil && b.under(&other.grant, id) {
			w := b.window(&listed.grant, wide)
			known := box{axes: listed.axes, days: span{w.from, max(w.end, w.sellOff)}}
			permits = minusAll(permits, []box{known})
		}
	}
	return permits
}

// Conflicts lists the clashes of one grant with every other, by the other's place in the order of signature.
func (b *Book) Conflicts(id string) []Clash {
	e := b.entries[id]
	if e == nil {
		return nil
	}
	var out []Clash
	for _, o := range b.neighbours(e) {
		if c, ok := b.Conflict(id, o.grant.ID); ok {
			out = append(out, c)
		}
	}
	return out
}

// neighbours are the other grants that name a work of this one, each once, in order.
func (b *Book) neighbours(e *entry) []*entry {
	var out []*entry
	seen := map[*entry]bool{e: true}
	add := func(o *entry) {
		if !seen[o] {
			seen[o] = true
			out = append(out, o)
		}
	}
	for _, w := range e.works {
		if w == "*" {
			for _, o := range b.entries {
				add(o)
			}
			break
		}
		for o := range b.on(w) {
			add(o)
		}
	}
	slices.SortFunc(out, inOrder)
	return out
}

// AllConflicts lists every clash in the book once, by the first grant's place in
// the order of signature.
func (b *Book) AllConflicts() []Clash {
	all := make([]*entry, 0, len(b.entries))
	for _, e := range b.entries {
		all = append(all, e)
	}
	slices.SortFunc(all, inOrder)
	var out []Clash
	for _, e := range all {
		for _, o := range b.neighbours(e) {
			if inOrder(e, o) > 0 {
				continue
			}
			if c, ok := b.Conflict(e.grant.ID, o.grant.ID); ok {
				out = append(out, c)
			}
		}
	}
	return out
}

// Try lists the clashes that a grant would cause if it were executed as it
// stands: the warning before signing. The error wraps a *FieldError.
func (b *Book) Try(g Grant) ([]Clash, error) {
	g.Status = Executed
	e, err := readGrant(g)
	if err != nil {
		return nil, err
	}
	ids := map[string]bool{}
	for _, o := range b.neighbours(e) {
		maps.Copy(ids, b.family(o.grant.ID))
	}
	for _, old := range append(g.replaces(), g.Head, g.ID) {
		maps.Copy(ids, b.family(old))
	}
	delete(ids, g.ID)
	grants := []Grant{g}
	for id := range ids {
		if old, ok := b.Grant(id); ok {
			grants = append(grants, old)
		}
	}
	small, err := NewBook(grants)
	if err != nil {
		return nil, err
	}
	return small.Conflicts(g.ID), nil
}
