package taxon

import (
	"slices"
	"strings"
)

// Children lists the taxa and synonyms directly under a taxon, by id. It looks at
// every taxon once: a few milliseconds.
func (c *Classification) Children(id string) []Taxon {
	c.mu.RLock()
	defer c.mu.RUnlock()
	var out []Taxon
	for i := range c.base.taxa {
		t := &c.base.taxa[i]
		if _, over := c.over[t.ID]; !over && t.up() == id {
			out = append(out, t.clone())
		}
	}
	for _, t := range c.over {
		if t.up() == id {
			out = append(out, t.clone())
		}
	}
	slices.SortFunc(out, func(a, b Taxon) int { return strings.Compare(a.ID, b.ID) })
	return out
}
