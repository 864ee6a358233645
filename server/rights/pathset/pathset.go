// Package pathset is the algebra of sets of hierarchical names: media
// (print.book.hardback), language tags (zh-Hant-TW), works and their parts
// (P12#fig3), subdivisions of a country.
//
// A set is written as names to include and names to exclude; a name stands for
// itself and for everything beneath it, level by level, so that "print.book"
// covers "print.book.hardback" and not "print.bookmark". Exclusion always wins.
//
// The hierarchy is open: beneath every name there are always names that nobody
// has listed, so "print.book" without its hardbacks and paperbacks is still not
// empty. Union, intersection and difference are exact and results are canonical:
// equal sets hold equal marks. A Set is immutable and safe for concurrent use.
//
// Left out: any vocabulary. The package does not know which names exist.
package pathset

import (
	"slices"
	"strings"
)

// low replaces the separator inside stored paths. It sorts before every printable
// character, which keeps a subtree contiguous in byte order.
const low = '\x01'

// mark says that a path and what lies beneath it is in the set, or out of it,
// until a deeper mark says otherwise.
type mark struct {
	path string
	in   bool
}

// Set is a set of names. The zero Set is empty.
type Set struct {
	marks []mark
}

// Hierarchy is the separator that parts the levels of a name.
type Hierarchy byte

// The hierarchies in use.
const (
	Dotted Hierarchy = '.' // media
	Tags   Hierarchy = '-' // language tags, basic filtering (RFC 4647 section 3.3.1)
	Parts  Hierarchy = '#' // a work and its parts
	Stored Hierarchy = low // paths kept in the form that needs no rewriting
)

func (h Hierarchy) key(name string) string {
	if h == Stored || strings.IndexByte(name, byte(h)) < 0 {
		return name
	}
	return strings.ReplaceAll(name, string(rune(h)), string(rune(low)))
}

func (h Hierarchy) name(key string) string {
	return strings.ReplaceAll(key, string(rune(low)), string(rune(h)))
}

// root is the one mark of the set of every name. It is never written to.
var root = []mark{{in: true}}

// All is the set of every name.
func All() Set { return Set{marks: root} }

// Of is the set of the included names without the excluded ones. "*" stands for every name.
func (h Hierarchy) Of(include, exclude []string) Set {
	s := h.union(include)
	if len(exclude) == 0 || s.Empty() {
		return s
	}
	return s.Minus(h.union(exclude))
}

func (h Hierarchy) union(names []string) Set {
	if len(names) == 0 {
		return Set{}
	}
	keys := make([]string, 0, len(names))
	for _, n := range names {
		if n == "*" {
			return All()
		}
		keys = append(keys, h.key(n))
	}
	slices.Sort(keys)
	marks := make([]mark, 0, len(keys))
	for _, k := range keys {
		if n := len(marks); n > 0 && beneath(k, marks[n-1].path) {
			continue
		}
		marks = append(marks, mark{path: k, in: true})
	}
	return Set{marks: marks}
}

// beneath reports whether path is above or lies beneath it.
func beneath(path, above string) bool {
	if above == "" {
		return true
	}
	return strings.HasPrefix(path, above) && (len(path) == len(above) || path[len(above)] == low)
}

// Empty reports whether nothing is in the set.
func (s Set) Empty() bool { return len(s.marks) == 0 }

// IsAll reports whether every name is in the set.
func (s Set) IsAll() bool { return len(s.marks) == 1 && s.marks[0].path == "" && s.marks[0].in }

// Equal reports whether both sets hold the same names.
func (s Set) Equal(t Set) bool { return slices.Equal(s.marks, t.marks) }

// HasName reports whether one name is in the set.
func (s Set) HasName(h Hierarchy, name string) bool {
	in, _ := s.At(h, name)
	return in
}

// At reports whether a name is in the set, and whether the same holds for all that lies beneath it.
func (s Set) At(h Hierarchy, name string) (in, uniform bool) {
	k := h.key(name)
	uniform = true
	for _, m := range s.marks {
		switch {
		case beneath(k, m.path):
			in = m.in
		case beneath(m.path, k):
			return in, false
		case m.path > k:
			return in, uniform
		}
	}
	return in, uniform
}

// First is a name in the set, the widest there is; "*" if every name is.
// It reports false for the empty set.
func (s Set) First(h Hierarchy) (string, bool) {
	if len(s.marks) == 0 {
		return "", false
	}
	if s.marks[0].path == "" {
		return "*", true
	}
	return h.name(s.marks[0].path), true
}

// Names writes the set as names with removals marked by a leading "-", in a
// form that Of reads back: an inclusion beneath a removal can't arise from
// written scopes, but may arise from differences; then ok is false.
func (s Set) Names(h Hierarchy) (include, exclude []string, ok bool) {
	ok = true
	out := ""
	for _, m := range s.marks {
		name := h.name(m.path)
		if m.path == "" {
			name = "*"
		}
		switch {
		case !m.in:
			exclude = append(exclude, name)
			out = m.path
		default:
			if out != "" && beneath(m.path, out) {
				ok = false
			}
			include = append(include, name)
		}
	}
	return include, exclude, ok
}

// Layers parts the set into sets that Names can write: inclusions beneath a
// removal go into a layer of their own. Most sets are one layer.
func (s Set) Layers() []Set {
	if s.Empty() {
		return nil
	}
	if !s.deep() {
		return []Set{s}
	}
	var layers []Set
	var open []mark // inclusions and removals above the present mark
	for _, m := range s.marks {
		for len(open) > 0 && !beneath(m.path, open[len(open)-1].path) {
			open = open[:len(open)-1]
		}
		open = append(open, m)
		layer := (len(open) - 1) / 2
		if layer == len(layers) {
			layers = append(layers, Set{})
		}
		layers[layer].marks = append(layers[layer].marks, m)
	}
	return layers
}

// deep reports whether an inclusion lies beneath a removal.
func (s Set) deep() bool {
	var t trail
	for _, m := range s.marks {
		t.leave(m.path)
		if t.enter(m); t.n > 2 {
			return true
		}
	}
	return false
}
