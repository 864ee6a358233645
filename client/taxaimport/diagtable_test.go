package taxaimport

import (
	"errors"
	"os"
	"strconv"
	"strings"
	"testing"

	"platarium/indexer/meristic"
)

// TestPublishedDiagnoses: every published row makes a formula that says what its cells say.
func TestPublishedDiagnoses(t *testing.T) {
	rows, err := readDiagnoses("../../testdata/published/diagnoses.tsv")
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 20 {
		t.Errorf("only %d rows", len(rows))
	}
	for _, r := range rows {
		c := formulaOf(r.cell, meristic.SoftRayedFamily(r.cell("family")))
		if r.fault != nil || c.fault != nil {
			t.Errorf("row %d: %v, %v", r.line, r.fault, c.fault)
			continue
		}
		read, err := meristic.Parse(c.formula(), meristic.Options{})
		if err != nil {
			t.Errorf("row %d: %q: %v", r.line, c.formula(), err)
		}
		for column, where := range map[string]struct {
			characters []meristic.Character
			element    meristic.Element
		}{
			"d1_spines": {[]meristic.Character{meristic.Dorsal, meristic.Dorsal1}, meristic.Spine},
			"a_spines":  {[]meristic.Character{meristic.Anal}, meristic.Spine},
			"a_rays":    {[]meristic.Character{meristic.Anal}, meristic.Ray},
			"gr_upper":  {[]meristic.Character{meristic.GillRakers}, meristic.Upper},
			"gr_lower":  {[]meristic.Character{meristic.GillRakers}, meristic.Lower},
		} {
			lo, hi, plain := strings.Cut(r.cell(column), "-")
			if !plain {
				hi = lo
			}
			if lo == "" || strings.ContainsAny(lo+hi, "ivx,") {
				continue
			}
			if !states(read, where.characters, where.element, lo, hi) {
				t.Errorf("row %d, %s: %q isn't in %q", r.line, column, r.cell(column), c.formula())
			}
		}
	}
}

func states(r meristic.Result, characters []meristic.Character, e meristic.Element, lo, hi string) bool {
	for _, c := range characters {
		s, ok := r.Statement(c)
		if !ok {
			continue
		}
		if n, ok := s.Count(e); ok && trim(n.Min) == lo && trim(n.Max) == hi {
			return true
		}
	}
	return false
}

func trim(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func TestHeadings(t *testing.T) {
	if _, err := headings("x.tsv", []string{"Species", "Source", "d1 spines"}); err != nil {
		t.Errorf("letter case and spaces don't count: %v", err)
	}
	for _, c := range []struct {
		heads []string
		says  string
	}{
		{[]string{"species", "source", "d1_spine"}, `did you mean "d1_spines"?`},
		{[]string{"species", "source", "weight of the animal"}, "want one of species, family"},
		{[]string{"species"}, "want a column source"},
		{[]string{"species", "source", "species"}, "twice"},
	} {
		if _, err := headings("x.tsv", c.heads); !errors.Is(err, ErrUnusable) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v: %v, want %q", c.heads, err, c.says)
		}
	}
}

func TestScanDiagnoses(t *testing.T) {
	rows, err := scanDiagnoses("x.tsv", strings.NewReader("\uFEFFspecies\tsource\td_rays\r\n\r\nFicta alba\tMoor 1911\t\"9\"\r\nFicta\t\t9\nFicta rubra\tMoor 1911\t9\tmore\n"))
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 3 || rows[0].line != 3 || rows[0].cell("d_rays") != `"9"` || rows[0].fault != nil {
		t.Errorf("rows: %+v", rows)
	}
	if rows[1].fault == nil || rows[1].fault.Column != "source" || rows[2].fault == nil || rows[2].fault.Found != "more" {
		t.Errorf("faults: %v, %v", rows[1].fault, rows[2].fault)
	}
	for name, text := range map[string]string{"empty": "", "no UTF-8": "species\tsource\nF\xff\tx\n", "long": "species\tsource\n" + strings.Repeat("x", longestLine+1)} {
		if _, err := scanDiagnoses("x.tsv", strings.NewReader(text)); !errors.Is(err, ErrUnusable) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := readDiagnoses("no such file"); !errors.Is(err, ErrUnusable) || !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing file: %v", err)
	}
}

func FuzzScanDiagnoses(f *testing.F) {
	f.Add("species\tsource\td_rays\nFicta alba\tMoor 1911\t9\n")
	f.Add("species\tsource\n\t\t\t\n")
	f.Add("\uFEFF")
	f.Fuzz(func(t *testing.T, text string) {
		rows, err := scanDiagnoses("x.tsv", strings.NewReader(text))
		if err != nil && rows != nil {
			t.Error("rows beside an error")
		}
		for _, r := range rows {
			if r.fault == nil && (r.cell(colSpecies) == "" || r.cell(colSource) == "") {
				t.Errorf("row %d is sound without a species or source", r.line)
			}
		}
	})
}
