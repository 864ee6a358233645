package territory

import (
	mathbits "math/bits"
	"slices"

	"platarium/server/rights/pathset"
)

// bits is a set of indexes into the table of countries.
type bits [4]uint64

func (b *bits) set(i int)     { b[i/64] |= 1 << (i % 64) }
func (b bits) has(i int) bool { return b[i/64]&(1<<(i%64)) != 0 }

func (b bits) count() int {
	n := 0
	for _, w := range b {
		n += mathbits.OnesCount64(w)
	}
	return n
}

// each calls f with the indexes in order, until it returns false.
func (b bits) each(f func(i int) bool) {
	for w, word := range b {
		for word != 0 {
			if !f(w*64 + mathbits.TrailingZeros64(word)) {
				return
			}
			word &= word - 1
		}
	}
}

// part is a country of which only some subdivisions are in a set. It is never
// the whole country and never nothing.
type part struct {
	country int
	subs    pathset.Set
}

// Set is a set of places. The zero Set is empty.
type Set struct {
	whole bits
	parts []part // by country, none of them in whole
}

// All is every place of the table, XK included: what the absence of a limit means.
func All() Set {
	var s Set
	for i := range countries {
		s.whole.set(i)
	}
	return s
}

// Empty reports whether the set holds no place.
func (s Set) Empty() bool { return s.whole == bits{} && len(s.parts) == 0 }

// Countries is the number of countries that are in the set, wholly or in part.
func (s Set) Countries() int { return s.whole.count() + len(s.parts) }

// Equal reports whether both sets hold the same places.
func (s Set) Equal(t Set) bool {
	return s.whole == t.whole && slices.EqualFunc(s.parts, t.parts, func(a, b part) bool {
		return a.country == b.country && a.subs.Equal(b.subs)
	})
}

// in is the part of a country that is in the set.
func (s Set) in(country int) pathset.Set {
	if s.whole.has(country) {
		return pathset.All()
	}
	for _, p := range s.parts {
		if p.country == country {
			return p.subs
		}
	}
	return pathset.Set{}
}

// And is the set of the places in both.
func (s Set) And(t Set) Set {
	if len(s.parts) == 0 && len(t.parts) == 0 {
		for i := range s.whole {
			s.whole[i] &= t.whole[i]
		}
		return s
	}
	return combine(s, t, func(a, b uint64) uint64 { return a & b }, pathset.Set.And)
}

// Minus is the set of the places in s and not in t.
func (s Set) Minus(t Set) Set {
	if len(s.parts) == 0 && len(t.parts) == 0 {
		for i := range s.whole {
			s.whole[i] &^= t.whole[i]
		}
		return s
	}
	return combine(s, t, func(a, b uint64) uint64 { return a &^ b }, pathset.Set.Minus)
}

// Or is the set of the places in either.
func (s Set) Or(t Set) Set {
	return combine(s, t, func(a, b uint64) uint64 { return a | b }, pathset.Set.Or)
}

// Meets reports whether the sets share a place.
func (s Set) Meets(t Set) bool {
	for i := range s.whole {
		if s.whole[i]&t.whole[i] != 0 {
			return true
		}
	}
	if len(s.parts) == 0 && len(t.parts) == 0 {
		return false
	}
	return !s.And(t).Empty()
}

// Covers reports whether every place in t is in s.
func (s Set) Covers(t Set) bool { return t.Minus(s).Empty() }

func combine(s, t Set, words func(a, b uint64) uint64, paths func(a, b pathset.Set) pathset.Set) Set {
	var out Set
	for i := range s.whole {
		out.whole[i] = words(s.whole[i], t.whole[i])
	}
	var split bits
	for _, p := range s.parts {
		split.set(p.country)
	}
	for _, p := range t.parts {
		split.set(p.country)
	}
	split.each(func(i int) bool {
		out.whole[i/64] &^= 1 << (i % 64)
		out.put(i, paths(s.in(i), t.in(i)))
		return true
	})
	return out
}

// put adds a part of a country that is not in the set yet, as a whole if it
// holds every listed subdivision, and not at all if it holds none.
func (s *Set) put(country int, subs pathset.Set) {
	all, some := subs.IsAll(), subs.IsAll()
	if !all && !subs.Empty() {
		all = true
		p := part{country, subs}
		for i := 0; i < len(subdivisions[country]); {
			next, a, sm := p.extent(i)
			all, some, i = all && a, some || sm, next
		}
	}
	switch {
	case all:
		s.whole.set(country)
	case some:
		s.parts = append(s.parts, part{country: country, subs: subs})
	}
}

// First is the code of a place in the set; false if there is none.
func (s Set) First() (string, bool) {
	code := ""
	s.whole.each(func(i int) bool { code = countries[i].alpha2; return false })
	if code != "" {
		return code, true
	}
	if len(s.parts) == 0 {
		return "", false
	}
	p := s.parts[0]
	for _, s := range subdivisions[p.country] {
		if in, uniform := p.subs.At(pathset.Stored, s.path); in && (uniform || s.parts == 0) {
			return countries[p.country].alpha2 + "-" + s.code(), true
		}
	}
	return countries[p.country].alpha2, true
}

// Codes writes the set as codes that Read takes back: whole countries, then
// split ones; a split country is written by the subdivisions in it, or as itself
// with the missing subdivisions marked by "-", whichever is shorter.
func (s Set) Codes() []string {
	out := make([]string, 0, s.whole.count()+2*len(s.parts))
	s.whole.each(func(i int) bool { out = append(out, countries[i].alpha2); return true })
	for _, p := range s.parts {
		cc := countries[p.country].alpha2
		include, exclude := p.largest(true), p.largest(false)
		if len(exclude)+1 < len(include) {
			out = append(out, cc)
			for _, code := range exclude {
				out = append(out, "-"+cc+"-"+code)
			}
			continue
		}
		for _, code := range include {
			out = append(out, cc+"-"+code)
		}
	}
	return out
}

// extent looks how much of the i-th subdivision is in the part: all of it, some of
// it; next is the entry after it and its parts.
func (p part) extent(i int) (next int, all, some bool) {
	s := &subdivisions[p.country][i]
	next = i + 1 + s.parts
	in, uniform := p.subs.At(pathset.Stored, s.path)
	if uniform || s.parts == 0 {
		return next, in, in
	}
	all = true
	for j := i + 1; j < next; {
		after, a, sm := p.extent(j)
		all, some, j = all && a, some || sm, after
	}
	return next, all, some
}

// largest lists the largest subdivisions that lie wholly in the part, or else wholly out of it.
func (p part) largest(in bool) []string {
	var out []string
	for i := 0; i < len(subdivisions[p.country]); {
		next, all, some := p.extent(i)
		if in && all || !in && !some {
			out = append(out, subdivisions[p.country][i].code())
			i = next
		} else {
			i++
		}
	}
	return out
}

// IsWorld reports whether the set holds every officially assigned country.
func (s Set) IsWorld() bool {
	world, _ := findGroup("WORLD")
	for i := range s.whole {
		if world.members[i]&^s.whole[i] != 0 {
			return false
		}
	}
	return true
}

// Group is the English name of the UN M49 group that holds exactly these places, if there is one.
func (s Set) Group() (string, bool) {
	if len(s.parts) > 0 {
		return "", false
	}
	for _, g := range groups {
		if g.members == s.whole {
			return g.name, true
		}
	}
	return "", false
}
