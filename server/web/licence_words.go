package web

import (
	"strings"

	pb "platarium/proto/platarium/v1"
)

// scopeWords is a scope in one line: media, territories, languages, purposes and term.
func scopeWords(s *pb.Scope) string {
	if s == nil {
		return ""
	}
	var parts []string
	add := func(before string, list []string, all string) {
		switch {
		case len(list) == 0:
		case len(list) == 1 && list[0] == "*":
			parts = append(parts, all)
		default:
			parts = append(parts, before+exceptWords(list))
		}
	}
	add("", s.GetMedia(), "all media")
	add("in ", s.GetTerritories(), "in the world")
	add("languages ", s.GetLanguages(), "all languages")
	add("for ", s.GetPurposes(), "")
	if term := termWords(s.GetFrom(), s.GetTo()); term != "" {
		parts = append(parts, term)
	}
	return strings.Join(parts, "; ")
}

// termWords is a term in words; a last day that isn't given is that of the law.
func termWords(from, to string) string {
	switch {
	case from == "" && to == "":
		return ""
	case from == "":
		return "to " + to
	case to == "":
		return "from " + from + ", as long as the law lasts"
	}
	return from + " to " + to
}

// exceptWords lists what is in, and after that what is taken out again.
func exceptWords(list []string) string {
	var in, out []string
	for _, s := range list {
		if rest, ok := strings.CutPrefix(s, "-"); ok {
			out = append(out, rest)
		} else {
			in = append(in, s)
		}
	}
	words := strings.Join(in, ", ")
	if len(out) > 0 {
		words += " except " + strings.Join(out, ", ")
	}
	return words
}
