package indexer

import "sync"

// standingCache keeps what the columns need of the standings in use: usually that
// for the studio and that for outsiders, and those of a moment ago while
// questions are under way.
type standingCache struct {
	mu   sync.Mutex
	used []*standingColumn // the latest last
}

// standingKept is how many are kept.
const standingKept = 4

// standingColumn holds one standing by ordinal. It only grows.
type standingColumn struct {
	of    *Standing
	codes []uint32
	words []string
}

// of gives the standing of every picture as codes into words; the caller holds
// the index's read lock.
func (c *standingCache) of(s *Standing, cols *columns) (codes []uint32, words []string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	var col *standingColumn
	for i, u := range c.used {
		if u.of == s {
			col = u
			c.used = append(append(c.used[:i:i], c.used[i+1:]...), u)
			break
		}
	}
	if col == nil {
		col = &standingColumn{of: s}
		c.used = append(c.used, col)
		if len(c.used) > standingKept {
			c.used = c.used[1:]
		}
	}
	col.extend(cols.names)
	return col.codes, col.words
}

// extend takes in the pictures that have come since.
func (c *standingColumn) extend(names []string) {
	if len(c.codes) == len(names) {
		return
	}
	known := make(map[string]uint32, len(c.words))
	for i, w := range c.words {
		known[w] = uint32(i)
	}
	for _, name := range names[len(c.codes):] {
		w := c.of.Of(name)
		code, ok := known[w]
		if !ok {
			code = uint32(len(c.words))
			known[w] = code
			c.words = append(c.words, w)
		}
		c.codes = append(c.codes, code)
	}
}
