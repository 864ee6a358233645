package meristic

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// table reads a tab-separated file of published values with a header line. Another
// file of the same columns can be named in the environment.
func table(tb testing.TB, env, name string) []map[string]string {
	tb.Helper()
	path := os.Getenv(env)
	if path == "" {
		path = filepath.Join("..", "..", "testdata", "published", name)
	}
	f, err := os.Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	var header []string
	var rows []map[string]string
	sc := bufio.NewScanner(f)
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		cells := strings.Split(sc.Text(), "\t")
		if header == nil {
			header = cells
			continue
		}
		row := make(map[string]string, len(header))
		for i, h := range header {
			if i < len(cells) {
				row[h] = cells[i]
			}
		}
		rows = append(rows, row)
	}
	if err := sc.Err(); err != nil {
		tb.Fatal(err)
	}
	return rows
}

func published(tb testing.TB) []map[string]string {
	return table(tb, "PLATARIUM_FORMULAE", "formulae.tsv")
}

// rowOptions is the context that a table column would give.
func rowOptions(row map[string]string) Options {
	c, _ := CharacterByCode(row["char"])
	return Options{Character: c, SoftRayed: SoftRayedFamily(row["family"])}
}

// A row passes when spines, unbranched and other rays agree with the flattened columns
// that are filled and, where none is, when the first statement's ranges agree.
func TestPublishedFormulae(t *testing.T) {
	rows := published(t)
	passed, full := 0, 0
	var fullMisses []string
	for _, row := range rows {
		res, err := Parse(row["string"], rowOptions(row))
		var stated []map[string]any
		if e := json.Unmarshal([]byte(row["counts_json"]), &stated); e != nil {
			t.Fatalf("%s: %v", row["id"], e)
		}
		problem := ""
		if err != nil {
			problem = err.Error()
		} else {
			problem = rowProblem(row, stated, &res)
		}
		if problem == "" {
			passed++
		} else {
			t.Logf("%s %q: %s", row["id"], row["string"], problem)
		}
		if all := allProblems(stated, &res); err == nil && all == "" {
			full++
		} else {
			fullMisses = append(fullMisses, fmt.Sprintf("%s %q: %s", row["id"], row["string"], all))
		}
	}
	for _, m := range fullMisses {
		t.Log("all statements: " + m)
	}
	t.Logf("published formulae: %d of %d", passed, len(rows))
	t.Logf("published formulae, every stated count: %d of %d", full, len(rows))
	if passed*100 < len(rows)*92 {
		t.Errorf("%d of %d published formulae read, want 92 in a hundred", passed, len(rows))
	}
}

func rowProblem(row map[string]string, stated []map[string]any, res *Result) string {
	s := firstStatement(row["char"], res)
	if s == nil {
		return "no statement of " + row["char"] + " in " + dump(res)
	}
	filled := false
	for _, col := range []string{"spines", "unbranched", "rays"} {
		lo, hi := row[col+"_min"], row[col+"_max"]
		if lo == "" {
			continue
		}
		filled = true
		want := Range(num(lo), num(hi))
		got, ok := flat(s, col)
		if !ok || got.Min != want.Min || got.Max != want.Max {
			return fmt.Sprintf("%s: want %s-%s, got %s", col, lo, hi, dump(res))
		}
	}
	if filled || len(stated) == 0 {
		return ""
	}
	return statementProblem(stated[0], res)
}

// firstStatement is the statement of the row's character: a pooled dorsal stands for
// its first fin and the reverse.
func firstStatement(code string, res *Result) *Statement {
	c, _ := CharacterByCode(code)
	if s, ok := res.Statement(c); ok {
		return s
	}
	return nil
}

func num(s string) float64 {
	n, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return -1
	}
	return n
}

func flat(s *Statement, col string) (Interval, bool) {
	elems := map[string][]Element{
		"spines":     {Spine},
		"unbranched": {Unbranched},
		"rays":       {Branched, Segmented, Ray, Total, Whole, CaudalRegion},
	}[col]
	for _, e := range elems {
		if c, ok := s.Count(e); ok {
			return c.Interval, true
		}
	}
	return Interval{}, false
}

// jsonElements maps the keys of counts_json to elements; several where the key doesn't
// tell a plain count from a total.
var jsonElements = map[string][]Element{
	"s": {Spine}, "free": {FreeSpine}, "u": {Unbranched}, "b": {Branched}, "r": {Ray}, "seg": {Segmented}, "t": {TrailingUnbranched},
	"n": {Whole, Total}, "tot": {Total, Whole}, "up": {Upper}, "lo": {Lower}, "mid": {Middle, Midbody}, "hyp": {Hypobranchial}, "cer": {Ceratobranchial}, "epi": {Epibranchial},
	"ub": {UpperBranched}, "lb": {LowerBranched}, "uu": {UpperUnbranched}, "lu": {LowerUnbranched}, "pu": {UpperProcurrent}, "pl": {LowerProcurrent},
	"ab": {Abdominal}, "cd": {CaudalRegion}, "fl": {Finlet}, "above": {Above}, "lat": {AtLine}, "below": {Below}, "left": {Left}, "right": {Right},
	"neck": {Neck}, "vent": {BeforeVent}, "part1": {FirstPart}, "part2": {SecondPart}, "oncaudal": {OnCaudalBase}, "proc": {Procurrent},
}

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

// dump shows a result in one line.
func dump(res *Result) string {
	var b strings.Builder
	for _, s := range res.Statements {
		fmt.Fprintf(&b, "{%s", s.Character)
		for _, c := range s.Counts {
			fmt.Fprintf(&b, " %s=%s", c.Element, rangeText(c.Interval))
		}
		b.WriteString("}")
	}
	return b.String()
}
