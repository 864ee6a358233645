package taxon

import (
	"strings"
)

// pattern measures the edit distance from one text to many: insertions,
// deletions, substitutions and transpositions of neighbours each count one
// (optimal string alignment). Up to 64 bytes it runs bit-parallel after
// Hyyrö 2003, longer texts by the plain table.
type pattern struct {
	text string
	bits [256]uint64
}

func newPattern(text string) *pattern {
	p := &pattern{text: text}
	if len(text) <= 64 {
		for i := range len(text) {
			p.bits[text[i]] |= 1 << i
		}
	}
	return p
}

func (p *pattern) distance(s string) int {
	m := len(p.text)
	switch {
	case m == 0:
		return len(s)
	case m > 64:
		return alignment(p.text, s)
	}
	var (
		vp, vn, d0, before uint64 = ^uint64(0), 0, 0, 0
		last                      = uint64(1) << (m - 1)
		dist                      = m
	)
	for i := range len(s) {
		pm := p.bits[s[i]]
		swap := ((^d0 & pm) << 1) & before
		d0 = (((pm & vp) + vp) ^ vp) | pm | vn | swap
		hp := vn | ^(d0 | vp)
		hn := d0 & vp
		if hp&last != 0 {
			dist++
		}
		if hn&last != 0 {
			dist--
		}
		hp = hp<<1 | 1
		hn <<= 1
		vp = hn | ^(d0 | hp)
		vn = hp & d0
		before = pm
	}
	return dist
}

// alignment is the same distance by dynamic programming over three rows.
func alignment(a, b string) int {
	prev2, prev, cur := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			d := min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d = min(d, prev2[j-2]+1)
			}
			cur[j] = d
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(b)]
}

// soundPairs are spellings of one sound in Latinised names, in the order in
// which they are tried. Common practice, no source.
var soundPairs = strings.NewReplacer(
	"sch", "sc", "ae", "e", "oe", "e", "ph", "f", "th", "t", "rh", "r", "ch", "c", "ck", "c", "qu", "cu",
	"y", "i", "j", "i", "k", "c", "w", "v", "z", "s", "x", "cs", "ei", "i",
)

// sound writes a folded name as it is heard: one letter for a sound, doubled
// letters once, and from the second word on without the ending of gender or
// genitive, so that smithi and smithii, albus and alba agree.
func sound(key string) string {
	words := strings.Fields(key)
	for i, w := range words {
		if i > 0 {
			w = stem(w)
		}
		words[i] = single(soundPairs.Replace(w))
	}
	return strings.Join(words, " ")
}

// endings of adjectives and genitives, longest first.
var endings = [...]string{"orum", "arum", "iae", "ius", "ium", "ii", "ae", "us", "um", "os", "on", "is", "er", "ra", "rum", "ia", "a", "e", "i"}

// stem cuts one ending off an epithet, leaving three letters at least.
func stem(w string) string {
	for _, e := range endings {
		if len(w) >= len(e)+3 && strings.HasSuffix(w, e) {
			w = strings.TrimSuffix(w, e)
			if e == "ra" || e == "rum" || e == "er" {
				w += "r"
			}
			return w
		}
	}
	return w
}

// single writes doubled letters once.
func single(w string) string {
	b := make([]byte, 0, len(w))
	for i := range len(w) {
		if i == 0 || w[i] != w[i-1] {
			b = append(b, w[i])
		}
	}
	return string(b)
}
