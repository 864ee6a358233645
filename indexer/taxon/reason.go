package taxon

import (
	"fmt"
	"strings"
)

// soundReason says how two spellings of one sound differ.
func soundReason(query, found string) string {
	q, f := strings.Fields(query), strings.Fields(found)
	var why []string
	add := func(s string) {
		for _, have := range why {
			if have == s {
				return
			}
		}
		why = append(why, s)
	}
	for i := 0; i < len(q) && i < len(f); i++ {
		if q[i] == f[i] {
			continue
		}
		a, b := q[i], f[i]
		if i > 0 && stem(a) == stem(b) {
			add(endingReason(a, b))
			continue
		}
		if single(a) == single(b) {
			add("a doubled consonant")
			continue
		}
		named := false
		for _, pair := range []string{"ae e", "oe e", "y i", "ph f", "th t", "rh r", "ch c", "k c", "j i", "ei i", "z s", "w v"} {
			long, short, _ := strings.Cut(pair, " ")
			if strings.ReplaceAll(a, long, short) == strings.ReplaceAll(b, long, short) {
				add(long + "/" + short)
				named = true
				break
			}
		}
		if !named {
			return "sounds the same"
		}
	}
	if len(why) == 0 {
		return "sounds the same"
	}
	return "same name but for " + strings.Join(why, ", ")
}

// endingReason compares two forms of one stem.
func endingReason(a, b string) string {
	n := common(a, b)
	if n == len(a) || n == len(b) { // smithi, smithii: show a letter of the stem too
		n--
	}
	return fmt.Sprintf("the ending (-%s for -%s)", a[n:], b[n:])
}

// common is the length of the shared beginning.
func common(a, b string) int {
	n := 0
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return n
}

// likenessReason says which letters differ.
func likenessReason(query, found string, d int) string {
	if d != 1 {
		return fmt.Sprintf("%d letters differ", d)
	}
	i := common(query, found)
	q, f := query[i:], found[i:]
	switch {
	case len(q) < len(f):
		return "the letter " + letter(f) + " is missing"
	case len(q) > len(f):
		return "the letter " + letter(q) + " is too many"
	case len(q) > 1 && q[0] == f[1] && q[1] == f[0] && q[2:] == f[2:]:
		return fmt.Sprintf("%s stands for %s", q[:2], f[:2])
	default:
		return fmt.Sprintf("%s stands for %s", letter(q), letter(f))
	}
}

func letter(s string) string {
	if s[0] == ' ' {
		return "space"
	}
	for _, r := range s {
		return string(r)
	}
	return s
}
