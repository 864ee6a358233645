package rights

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"platarium/server/rights/territory"
)

// casesFile is the file of worked cases; PLATARIUM_GRANT_CASES names another
// one, with its grant-regions.json beside it.
func casesFile() string {
	if f := os.Getenv("PLATARIUM_GRANT_CASES"); f != "" {
		return f
	}
	return filepath.Join("..", "..", "testdata", "published", "grant-cases.tsv")
}

type workedCase struct {
	id, question, answer, code, remainder, reason string
	by                                            []string
	today                                         Date
	grants                                        []Grant
	facts                                         Facts
	request                                       caseUse
	unread                                        error
}

// outcome is the answer to a case in the columns of the file.
type outcome struct {
	answer, code string
	by           []string
	free         []Scope
}

func TestWorkedCases(t *testing.T) {
	cases := readCases(t)
	good := 0
	for _, c := range cases {
		got, err := c.run()
		if err != nil {
			t.Errorf("%s: %v", c.id, err)
			continue
		}
		slices.Sort(got.by)
		slices.Sort(c.by)
		if got.answer != c.answer || got.code != c.code || !slices.Equal(got.by, c.by) ||
			(got.answer == "PART") != (len(got.free) > 0) {
			t.Errorf("%s (%s): got %s %s by %v free %v; want %s %s by %v: %s",
				c.id, c.question, got.answer, got.code, got.by, got.free, c.answer, c.code, c.by, c.reason)
			continue
		}
		good++
	}
	fmt.Fprintf(os.Stdout, "worked cases: %d of %d\n", good, len(cases))
	if len(cases) == 0 {
		t.Fatal("no cases")
	}
}

func (c *workedCase) run() (outcome, error) {
	if c.unread != nil {
		return outcome{}, c.unread
	}
	today := c.today.First()
	switch c.question {
	case "available":
		a, err := Available(c.request.request(), c.grants, c.facts, today)
		return outcome{string(a.Verdict), string(a.Code), a.By, a.Free}, err
	case "licensed":
		r, err := LicensedUse(c.request.use(), c.grants, today)
		return outcome{string(r.Verdict), string(r.Code), r.By, nil}, err
	case "conflict":
		b, err := NewBook(c.grants)
		if err != nil {
			return outcome{}, err
		}
		out := outcome{answer: "NONE", code: string(Clear)}
		for _, clash := range b.AllConflicts() {
			out.answer, out.code = "CONFLICT", "OVERLAP"
			out.by = append(out.by, clash.A+"/"+clash.B)
		}
		return out, nil
	}
	return outcome{}, fmt.Errorf("unknown question %q", c.question)
}

func readCases(t *testing.T) []workedCase {
	t.Helper()
	raw, err := os.ReadFile(casesFile())
	if err != nil {
		t.Fatal(err)
	}
	var out []workedCase
	lines := strings.Split(strings.TrimRight(string(raw), "\n"), "\n")
	head := strings.Split(lines[0], "\t")
	for n, line := range lines[1:] {
		row := map[string]string{}
		for i, cell := range strings.Split(line, "\t") {
			row[head[i]] = cell
		}
		c, err := readCase(row)
		if err != nil { // one that cannot be read fails alone
			c.unread = fmt.Errorf("line %d: %w", n+2, err)
		}
		out = append(out, c)
	}
	return out
}

func readCase(row map[string]string) (workedCase, error) {
	c := workedCase{id: row["case_id"], question: row["question"], answer: row["answer"], code: row["code"],
		remainder: row["remainder"], reason: row["reason"]}
	if row["by"] != "" {
		c.by = strings.Split(row["by"], ";")
	}
	for i, pair := range c.by { // pairs are unordered
		if g, h, ok := strings.Cut(pair, "/"); ok {
			c.by[i] = min(g, h) + "/" + max(g, h)
		}
	}
	var err error
	if c.today, err = ParseDate(row["today"]); err != nil {
		return c, err
	}
	var grants []caseGrant
	var facts caseFacts
	for _, col := range []struct {
		name string
		into any
	}{{"grants", &grants}, {"facts", &facts}, {"request", &c.request}} {
		if err := json.Unmarshal([]byte(row[col.name]), col.into); err != nil {
			return c, fmt.Errorf("%s: %w", col.name, err)
		}
	}
	for _, g := range grants {
		grant, err := g.grant()
		if err != nil {
			return c, err
		}
		c.grants = append(c.grants, grant)
	}
	c.facts = facts.facts()
	_, err = pick(c.request.Excl, exclusivities())
	return c, err
}

// TestRegionsFile compares our own tables with the expansions that the cases use.
func TestRegionsFile(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join(filepath.Dir(casesFile()), "grant-regions.json"))
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Groups map[string][]string `json:"groups"`
	}
	if err := json.NewDecoder(bytes.NewReader(raw)).Decode(&file); err != nil {
		t.Fatal(err)
	}
	if len(file.Groups) == 0 {
		t.Fatal("no groups")
	}
	for name, want := range file.Groups {
		codes := []string{name}
		if union, days, ok := strings.Cut(name, "@"); ok { // EU@first/last: look at both ends
			first, last, _ := strings.Cut(days, "/")
			codes = []string{union + "@" + first}
			if last != ".." {
				codes = append(codes, union+"@"+last)
			}
		}
		slices.Sort(want)
		for _, code := range codes {
			s, err := territory.Read([]string{code}, "2025-01-01")
			if err != nil {
				t.Errorf("%s: %v", code, err)
				continue
			}
			if got := s.Codes(); !slices.Equal(got, want) {
				t.Errorf("%s = %v, want %v", code, got, want)
			}
		}
	}
}
