package meristic

// combine keeps a whole formula as one of several alternatives.
func (p *parser) combine(c Character, lo, hi int) {
	if hi-lo < 2 || lo == p.it.lo && hi == p.it.hi {
		return
	}
	if s, ok := p.res.Statement(c); ok {
		s.Combined = append(s.Combined, p.combination(lo, hi))
	}
}

func (p *parser) combination(lo, hi int) Combination {
	first, last := &p.terms[lo], &p.terms[hi-1]
	return Combination{Text: p.src[first.pos:p.bareEnd(last)], Specimens: p.specimens(last), Holotype: last.has(termStar)}
}

// whole reads a sum lo..hi through put. A frequency behind a sum is that of the whole
// sum, not of its last part.
func (p *parser) whole(c Character, lo, hi int, put func()) {
	if hi == lo {
		return
	}
	last := &p.terms[hi-1]
	if hi-lo < 2 || !last.annotated() || p.specimens(last) == 0 && !last.has(termStar) {
		put()
		p.combine(c, lo, hi)
		return
	}
	comb := p.combination(lo, hi)
	last.auxHi, last.freq = last.auxLo, 0
	last.flags &^= termStar
	put()
	if s, ok := p.res.Statement(c); ok {
		s.Combined = append(s.Combined, comb)
	}
}

// bareEnd is where a term ends without its brackets and marks.
func (p *parser) bareEnd(t *term) int32 {
	for i := t.pos; i < t.end; i++ {
		switch p.src[i] {
		case '(', '*', '[', ' ':
			if i > t.pos {
				return i
			}
		}
	}
	return t.end
}

// specimens is the frequency hung on a term.
func (p *parser) specimens(t *term) int {
	if t.freq > 0 {
		return int(t.freq)
	}
	if t.singleBracket() && p.bracketsAs == ReadBracketFrequency {
		return int(p.aux[t.auxLo].Min)
	}
	return 0
}
