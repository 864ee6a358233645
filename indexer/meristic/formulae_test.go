package meristic

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
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
	want := 100 // of a hundred
	if os.Getenv("PLATARIUM_FORMULAE") != "" {
		want = 92 // strings that nobody looked at while the grammar was written
	}
	if len(rows) == 0 || passed*100 < len(rows)*want {
		t.Errorf("%d of %d published formulae read, want %d in a hundred", passed, len(rows), want)
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
