package meristic

import (
	"fmt"
	"slices"
	"strings"
)

// jsonElements maps the keys of counts_json to elements; several where the key doesn't
// tell a plain count from a total.
var jsonElements = map[string][]Element{
	"s": {Spine}, "free": {FreeSpine}, "u": {Unbranched}, "b": {Branched}, "r": {Ray}, "seg": {Segmented}, "t": {TrailingUnbranched},
	"n": {Whole, Total}, "tot": {Total, Whole}, "up": {Upper}, "lo": {Lower}, "mid": {Middle, Midbody}, "hyp": {Hypobranchial}, "cer": {Ceratobranchial}, "epi": {Epibranchial},
	"ub": {UpperBranched}, "lb": {LowerBranched}, "uu": {UpperUnbranched}, "lu": {LowerUnbranched}, "pu": {UpperProcurrent}, "pl": {LowerProcurrent},
	"ab": {Abdominal}, "cd": {CaudalRegion}, "fl": {Finlet}, "above": {Above}, "lat": {AtLine}, "below": {Below}, "left": {Left}, "right": {Right},
	"neck": {Neck}, "vent": {BeforeVent}, "part1": {FirstPart}, "part2": {SecondPart}, "oncaudal": {OnCaudalBase}, "proc": {Procurrent},
}

// marks are the keys that markProblem compares.
var marks = map[string]bool{"char": true, "usual": true, "rare": true, "freq": true, "holotype": true, "mode": true, "alternatives": true}

func statementProblem(want map[string]any, res *Result) string {
	code, _ := want["char"].(string)
	c, ok := CharacterByCode(code)
	if !ok {
		return "unknown character " + code
	}
	s, ok := res.Statement(c)
	if !ok {
		if len(want) == 2 && want["n"] == nil && code != "" {
			return "no statement of " + code
		}
		return "no statement of " + code + " in " + dump(res)
	}
	for key, v := range want {
		elems, ok := jsonElements[key]
		if !ok {
			if !marks[key] {
				return "unknown key " + key
			}
			continue
		}
		if v == nil {
			if !s.Unknown {
				return code + " should be unknown"
			}
			continue
		}
		if p := elementProblem(code, key, elems, v, s); p != "" {
			return p + " in " + dump(res)
		}
	}
	return markProblem(code, want, s)
}

func elementProblem(code, key string, elems []Element, v any, s *Statement) string {
	var got Count
	found := false
	for _, e := range elems {
		if c, ok := s.Count(e); ok {
			got, found = c, true
			break
		}
	}
	if !found {
		return fmt.Sprintf("%s.%s: not read, want %v", code, key, v)
	}
	if !sameCounts(v, got) {
		return fmt.Sprintf("%s.%s: want %v, got %v", code, key, v, got.Interval)
	}
	return ""
}

// sameCounts compares a range [a, b], an approximation "~70" or a choice "7|9-10".
func sameCounts(v any, got Count) bool {
	switch v := v.(type) {
	case []any:
		return len(v) == 2 && v[0] == got.Min && v[1] == got.Max
	case string:
		switch {
		case strings.HasPrefix(v, "~"):
			return got.Bound == About && got.Min == num(v[1:])
		case strings.HasPrefix(v, ">"):
			return got.Bound == MoreThan && got.Min == num(v[1:])
		}
		var want []Interval
		for _, part := range strings.Split(v, "|") {
			lo, hi, isRange := strings.Cut(part, "-")
			if !isRange {
				hi = lo
			}
			want = append(want, Range(num(lo), num(hi)))
		}
		return slices.Equal(joinIntervals(want), got.Intervals())
	default:
		return false
	}
}

// markProblem compares usual and rare values, frequencies, holotype and alternatives.
func markProblem(code string, want map[string]any, s *Statement) string {
	if v, ok := want["usual"]; ok && !anyCount(s, func(c Count) bool { return c.Usual != nil && sameCounts(v, Count{Interval: *c.Usual}) }) {
		return fmt.Sprintf("%s: usual %v not read", code, v)
	}
	if v, ok := want["rare"]; ok && !anyCount(s, func(c Count) bool {
		var rare []Interval
		for _, v := range c.Values {
			if v.Rare {
				rare = append(rare, v.Interval)
			}
		}
		if len(rare) == 0 {
			return false
		}
		u := rare[0]
		for _, r := range rare {
			u = u.Union(r)
		}
		return sameCounts(v, Count{Interval: u, Values: valuesOf(rare)})
	}) {
		return fmt.Sprintf("%s: rare %v not read", code, v)
	}
	if freq, ok := want["freq"].(map[string]any); ok {
		for key, n := range freq {
			if !hasFrequency(s, key, n) {
				return fmt.Sprintf("%s: frequency %s: %v not read", code, key, n)
			}
		}
	}
	if h, ok := want["holotype"].(string); ok && !hasHolotype(s, h) {
		return fmt.Sprintf("%s: holotype %s not read", code, h)
	}
	if m, ok := want["mode"].(string); ok && !hasMode(s, m) {
		return fmt.Sprintf("%s: mode %s not read", code, m)
	}
	if alts, ok := want["alternatives"].([]any); ok {
		for _, a := range alts {
			pair, _ := a.([]any)
			text, _ := pair[0].(string)
			n, _ := pair[1].(float64)
			if !slices.ContainsFunc(s.Combined, func(c Combination) bool {
				return strings.ReplaceAll(c.Text, " ", "") == text && c.Specimens == int(n)
			}) {
				return fmt.Sprintf("%s: combination %s (%v) not read", code, text, n)
			}
		}
	}
	return ""
}

// hasMode compares the most frequent value, several that tie ("23|24"), or a usual
// range; of whole formulae the one with most specimens.
func hasMode(s *Statement, text string) bool {
	if best := mostFrequent(s.Combined); best != "" && strings.ReplaceAll(best, " ", "") == text {
		return true
	}
	var want []float64
	for _, m := range strings.Split(text, "|") {
		want = append(want, num(m))
	}
	return anyCount(s, func(c Count) bool {
		return slices.Equal(c.Mode(), want) || c.Usual != nil && rangeText(*c.Usual) == text
	})
}

func mostFrequent(all []Combination) string {
	best, text := 0, ""
	for _, c := range all {
		if c.Specimens > best {
			best, text = c.Specimens, c.Text
		}
	}
	return text
}

func valuesOf(in []Interval) []Value {
	var out []Value
	for _, i := range in {
		out = append(out, Value{Interval: i})
	}
	return out
}

func anyCount(s *Statement, ok func(Count) bool) bool { return slices.ContainsFunc(s.Counts, ok) }

var freqPrefix = map[string]Element{"cd": CaudalRegion, "ab": Abdominal, "tot": Total, "u": Upper, "l": Lower}

func hasFrequency(s *Statement, key string, n any) bool {
	return anyCount(s, func(c Count) bool {
		text := key
		for prefix, e := range freqPrefix {
			if rest, ok := strings.CutPrefix(key, prefix); ok && num(rest) >= 0 {
				if c.Element != e {
					return false
				}
				text = rest
			}
		}
		return slices.ContainsFunc(c.Values, func(v Value) bool { return v.Min == num(text) && float64(v.Specimens) == n })
	}) || slices.ContainsFunc(s.Combined, func(c Combination) bool { return c.Text == key && float64(c.Specimens) == n })
}

func hasHolotype(s *Statement, text string) bool {
	for prefix := range freqPrefix {
		if rest, ok := strings.CutPrefix(text, prefix); ok && num(rest) >= 0 {
			text = rest
		}
	}
	if slices.ContainsFunc(s.Combined, func(c Combination) bool { return c.Holotype && strings.ReplaceAll(c.Text, " ", "") == text }) {
		return true
	}
	if i := strings.LastIndex(text, ","); i >= 0 {
		text = text[i+1:]
	}
	return anyCount(s, func(c Count) bool {
		h, ok := c.Holotype()
		return ok && h == At(num(text))
	})
}

func allProblems(stated []map[string]any, res *Result) string {
	var out []string
	for _, want := range stated {
		if p := statementProblem(want, res); p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, "; ")
}
