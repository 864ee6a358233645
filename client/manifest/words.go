package manifest

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"google.golang.org/protobuf/reflect/protoreflect"
)

type enum interface {
	~int32
	protoreflect.Enum
}

// wordsOf lists the words of an enum's values: FINAL_ART of Stage is "final art".
func wordsOf[E enum]() []string {
	var list []string
	for w := range eachWord[E] {
		list = append(list, w)
	}
	return list
}

func eachWord[E enum](yield func(string, E) bool) {
	var zero E
	values := zero.Descriptor().Values()
	prefix := strings.TrimSuffix(string(values.Get(0).Name()), "UNSPECIFIED")
	for i := 1; i < values.Len(); i++ {
		v := values.Get(i)
		w := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(string(v.Name()), prefix), "_", " "))
		if !yield(w, E(v.Number())) {
			return
		}
	}
}

// parseWord reads one of an enum's words, whatever its case and with hyphens or underscores for spaces.
func parseWord[E enum](to *E, s string) error {
	key := strings.ReplaceAll(strings.ToLower(strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '_' || r == '-' }), " ")), "colour", "color")
	values := (*to).Descriptor().Values()
	prefix, _ := strings.CutSuffix(string(values.Get(0).Name()), "UNSPECIFIED")
	if v := values.ByName(protoreflect.Name(prefix + strings.ReplaceAll(strings.ToUpper(key), " ", "_"))); v != nil && v.Number() != 0 {
		*to = E(v.Number())
		return nil
	}
	all := wordsOf[E]()
	return fmt.Errorf("found %q; want one of %s%s", short(s), strings.Join(all, ", "), suggestion(key, all))
}

// wordOf gives an enum's value in words.
func wordOf[E enum](e E) string {
	for w, v := range eachWord[E] {
		if v == e {
			return w
		}
	}
	return ""
}

// suggestion is ` (did you mean "x"?)` if one of the candidates is near enough to be a slip of the pen.
func suggestion(s string, candidates []string) string {
	if best := nearest(s, candidates); best != "" {
		return fmt.Sprintf(" (did you mean %q?)", best)
	}
	return ""
}

// nearest finds the candidate that differs least from s, by at most a third of its letters; "" if none does.
func nearest(s string, candidates []string) string {
	best, least := "", utf8.RuneCountInString(s)/3+1
	for _, c := range candidates {
		if d := distance(s, c, least); d < least {
			best, least = c, d
		}
	}
	return best
}

// distance counts insertions, deletions, substitutions and exchanges of neighbours that turn a into b; limit if there are that many or more.
func distance(a, b string, limit int) int {
	x, y := []rune(a), []rune(b)
	if len(x)-len(y) >= limit || len(y)-len(x) >= limit {
		return limit
	}
	before, last, row := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := range x {
		row[0] = i + 1
		for j := range y {
			cost := 1
			if x[i] == y[j] {
				cost = 0
			}
			row[j+1] = min(last[j+1]+1, row[j]+1, last[j]+cost)
			if i > 0 && j > 0 && x[i] == y[j-1] && x[i-1] == y[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last, row = last, row, before
	}
	return min(last[len(y)], limit)
}

// short cuts a text for an error message.
func short(s string) string {
	const most = 80 // characters
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most]) + "…"
}
