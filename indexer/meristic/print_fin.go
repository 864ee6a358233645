package meristic

// appendFin writes spines in capitals, unbranched rays in lower case, rays in
// figures, as far as the fin has that shape; the rest in words.
func (s *Statement) appendFin(b []byte) []byte {
	f, ok := s.finShape()
	if !ok {
		return s.appendWords(b)
	}
	total, inBrackets := s.Count(Total)
	if inBrackets {
		b = append(total.append(b, tNumber), " ("...)
	}
	start := len(b)
	add := func(c Count, kind tokenKind) {
		if len(b) > start {
			b = append(b, ',')
		}
		b = c.append(b, kind)
	}
	if f.free.Element == FreeSpine {
		b = append(f.free.append(b, tUpper), '+')
		start = len(b)
	}
	for _, part := range [...]struct {
		e    Element
		kind tokenKind
	}{{Spine, tUpper}, {Unbranched, tLower}, {Ray, tNumber}, {Branched, tNumber}, {TrailingUnbranched, tLower}} {
		if c, ok := s.Count(part.e); ok {
			if part.e == Spine {
				c = f.spine
			}
			add(c, part.kind)
		}
	}
	if inBrackets {
		b = append(b, ')')
	}
	for i := range s.Counts {
		switch c := &s.Counts[i]; c.Element {
		case Segmented, Finlet, Procurrent, Whole, Left, Right:
			b = append(b, " with "...)
			b = c.appendWorded(b, s.Character)
		default:
		}
	}
	return b
}

// finShape is what a formula of numerals and figures needs beside the counts: the
// spines of the fin proper and those that stand before it.
type finShape struct{ spine, free Count }

// finShape reports whether the fin can be written in numerals and figures.
func (s *Statement) finShape() (finShape, bool) {
	var f finShape
	spine, hasSpine := s.Count(Spine)
	free, hasFree := s.Count(FreeSpine)
	unbr, hasUnbr := s.Count(Unbranched)
	trail, hasTrail := s.Count(TrailingUnbranched)
	_, hasBranched := s.Count(Branched)
	ray, hasRay := s.Count(Ray)
	if ray.Derived {
		return f, false
	}
	ok := (!hasSpine || spine.roman(romanMax)) && (!hasUnbr || unbr.roman(lowerMax)) && (!hasTrail || trail.roman(lowerMax) && trail.plain())
	if hasUnbr || hasTrail {
		ok = ok && hasBranched && !hasRay
	} else {
		ok = ok && !hasBranched && (hasRay || hasSpine)
	}
	if total, has := s.Count(Total); has {
		ok = ok && total.plain() && (hasUnbr || hasTrail) && !hasFree // a formula of several parts, in brackets
	}
	if _, finlets := s.Count(Finlet); finlets {
		ok = ok && (!hasSpine || !hasRay) // would be two dorsal fins
	}
	if hasFree {
		spine.Interval = Interval{Min: spine.Min - free.Min, Max: spine.Max - free.Max}
		ok = ok && hasSpine && s.Character.class() == classAnal && free.roman(romanMax) && free.plain() && spine.plain() &&
			spine.Min <= spine.Max && spine.roman(romanMax)
		f.free = free
	}
	f.spine = spine
	return f, ok
}

// lowerMax is the largest count written in lower-case numerals, of i, v and x.
const lowerMax = 39

// roman reports whether the count can be written in numerals up to most.
func (c Count) roman(most float64) bool {
	for _, i := range c.Intervals() {
		if i.Min < 1 || i.Max > most || i.Min != float64(int(i.Min)) || i.Max != float64(int(i.Max)) || i.Bound != Exact {
			return false
		}
	}
	return c.Min >= 1
}

// plain reports a range without list or usual value.
func (c Count) plain() bool { return len(c.Values) == 0 && c.Usual == nil }
