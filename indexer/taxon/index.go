package taxon

import (
	"math/bits"
	"strings"
)

// entryKind says what sort of name an entry of the index is.
type entryKind uint8

const (
	entryName       entryKind = iota // the taxon's own scientific name
	entrySynonym                     // a scientific name listed with the taxon
	entryVernacular                  // an everyday name
)

// entry is one name under which a taxon can be found.
type entry struct {
	key   string // folded spelling
	sound string // how it is heard: see sound
	name  string // as written
	owner string // taxon id
	lang  string
	kind  entryKind
	dead  bool
}

// nameIndex finds entries by spelling, by sound and by likeness. Likeness is a
// scan over one letter mask a name, which beats every tree or table of deletions
// at some ten thousand names and costs four bytes each.
type nameIndex struct {
	entries  []entry
	lengths  [][]int32 // entries by length of their key
	masks    []uint32
	byKey    map[string]int32 // last entry of the key; next holds the one before
	bySound  map[string]int32
	nextKey  []int32
	nextSnd  []int32
	byOwner  map[string][]int32 // filled in overlays only, where entries are removed
	everyday []int32            // entries that are vernaculars
	dead     int
}

func newNameIndex(size int) *nameIndex {
	x := &nameIndex{
		entries: make([]entry, 0, size), masks: make([]uint32, 0, size),
		byKey: make(map[string]int32, size), bySound: make(map[string]int32, size),
		nextKey: make([]int32, 0, size), nextSnd: make([]int32, 0, size),
	}
	if size == 0 {
		x.byOwner = map[string][]int32{}
	}
	return x
}

// add enters every name of a taxon.
func (x *nameIndex) add(t *Taxon) {
	x.enter(entry{key: scientificKey(t.Name), name: t.Name, owner: t.ID, kind: entryName})
	for _, s := range t.Synonyms {
		x.enter(entry{key: scientificKey(s), name: s, owner: t.ID, kind: entrySynonym})
	}
	for _, v := range t.Vernaculars {
		x.enter(entry{key: Fold(v.Name), name: v.Name, owner: t.ID, lang: v.Lang, kind: entryVernacular})
	}
}

func (x *nameIndex) enter(e entry) {
	if e.key == "" {
		return
	}
	if e.kind == entryVernacular {
		e.sound = e.key
	} else {
		e.sound = sound(e.key)
	}
	i := int32(len(x.entries))
	x.entries = append(x.entries, e)
	x.masks = append(x.masks, letterMask(e.key))
	for len(x.lengths) <= min(len(e.key), longestKey) {
		x.lengths = append(x.lengths, nil)
	}
	l := min(len(e.key), longestKey)
	x.lengths[l] = append(x.lengths[l], i)
	if e.kind == entryVernacular {
		x.everyday = append(x.everyday, i)
	}
	x.nextKey = append(x.nextKey, chain(x.byKey, e.key, i))
	x.nextSnd = append(x.nextSnd, chain(x.bySound, e.sound, i))
	if x.byOwner != nil {
		x.byOwner[e.owner] = append(x.byOwner[e.owner], i)
	}
}

// chain puts entry i at the head of a key's list and returns the former head.
func chain(heads map[string]int32, key string, i int32) int32 {
	head, ok := heads[key]
	heads[key] = i
	if !ok {
		return -1
	}
	return head
}

// remove takes out the names of a taxon. Space is won back once half the
// entries are dead, so that removal stays cheap on the average.
func (x *nameIndex) remove(owner string) {
	for _, i := range x.byOwner[owner] {
		x.entries[i].dead = true
		x.dead++
	}
	delete(x.byOwner, owner)
	if x.dead < 64 || x.dead*2 < len(x.entries) {
		return
	}
	old := x.entries
	*x = *newNameIndex(0)
	for _, e := range old {
		if !e.dead {
			x.enter(e)
		}
	}
}

// equal calls f with every live entry of a spelling.
func (x *nameIndex) equal(key string, f func(*entry)) {
	i, ok := x.byKey[key]
	for ; ok && i >= 0; i = x.nextKey[i] {
		if e := &x.entries[i]; !e.dead {
			f(e)
		}
	}
}

// alike calls f with every live entry of a sound.
func (x *nameIndex) alike(snd string, f func(*entry)) {
	i, ok := x.bySound[snd]
	for ; ok && i >= 0; i = x.nextSnd[i] {
		if e := &x.entries[i]; !e.dead {
			f(e)
		}
	}
}

// near calls f with every live entry within limit edits of the pattern. An edit
// changes the length by at most one and the letter mask by at most two bits, which
// spares most comparisons.
func (x *nameIndex) near(p *pattern, limit int, f func(*entry, int)) {
	mask, n := letterMask(p.text), len(p.text)
	for l := max(min(n, longestKey)-limit, 0); l <= n+limit && l < len(x.lengths); l++ {
		for _, i := range x.lengths[l] {
			if bits.OnesCount32(x.masks[i]^mask) > 2*limit {
				continue
			}
			e := &x.entries[i]
			if e.dead {
				continue
			}
			if d := p.distance(e.key); d <= limit {
				f(e, d)
			}
		}
	}
}

// longestKey is the length from which on keys share one list.
const longestKey = 100

// letterMask has one bit for each letter that occurs, and one for the rest.
func letterMask(s string) uint32 {
	var m uint32
	for i := range len(s) {
		switch c := s[i]; {
		case c >= 'a' && c <= 'z':
			m |= 1 << (c - 'a')
		case c == ' ':
			m |= 1 << 26
		default:
			m |= 1 << 27
		}
	}
	return m
}

// scientificKey folds a scientific name that may carry a subgenus, ranks or
// signs to its plain words.
func scientificKey(name string) string {
	if strings.ContainsAny(name, "().×") {
		if n, err := Parse(name); err == nil {
			return Fold(n.Simple())
		}
	}
	return Fold(name)
}
