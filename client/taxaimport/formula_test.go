package taxaimport

import (
	"strings"
	"testing"

	"platarium/indexer/meristic"
)

func cellsOf(pairs ...string) func(string) string {
	m := map[string]string{}
	for i := 0; i < len(pairs); i += 2 {
		m[pairs[i]] = pairs[i+1]
	}
	return func(c string) string { return m[c] }
}

func TestFormulaOf(t *testing.T) {
	for _, c := range []struct {
		name  string
		cells []string
		soft  bool
		want  string
		notes string
	}{
		{"one dorsal fin", []string{"d1_spines", "13-14", "d_rays", "12-15", "a_spines", "3", "a_rays", "6-8"}, false, "D XIII-XIV,12-15; A III,6-8", ""},
		{"two dorsal fins", []string{"d1_spines", "6", "d2_spines", "1", "d_rays", "10"}, false, "D1 VI; D2 I,10", ""},
		{"only the second", []string{"d2_spines", "1", "d_rays", "8"}, false, "D2 I,8", ""},
		{"two fins of rays", []string{"d_rays", "10-12+~125"}, false, "D1 10-12; D2 ~125", ""},
		{"three fins", []string{"d_rays", "13-16+17-24", "d3_rays", "16-21", "a_rays", "17-25", "a2_rays", "16-22"}, false, "D1 13-16; D2 17-24; D3 16-21; A1 17-25; A2 16-22", ""},
		{"the first of several", []string{"d_rays", "13-16 (first)"}, false, "D1 13-16", "d_rays 13-16 (first)"},
		{"finlets follow a second fin", []string{"d1_spines", "14", "d_rays", "12", "finlets_dorsal", "8", "a_rays", "13", "finlets_anal", "7-8"}, false, "D1 XIV; D2 12 with 8 finlets; A 13 with 7-8 finlets", ""},
		{"spines of a soft-rayed fish", []string{"d1_spines", "3-4", "d_rays", "8"}, true, "D iii-iv,8", ""},
		{"unbranched rays", []string{"d_rays", "ii,8", "pectoral", "i,12-13", "pelvic", "I,5"}, false, "D ii,8; P i,12-13; V I,5", ""},
		{"scales by kind", []string{"ll_scales", "43-53", "ll_kind", "pored"}, false, "LLp 43-53", ""},
		{"scales in series", []string{"ll_scales", "27-29", "ll_kind", "lateral series"}, false, "LS 27-29", ""},
		{"scales by a kind of their own", []string{"ll_scales", "50", "ll_kind", "to caudal base"}, false, "LL 50", "lateral line: to caudal base"},
		{"sums", []string{"gr_upper", "9", "gr_lower", "14", "gr_total", "23", "vert_precaudal", "11", "vert_caudal", "17", "vert_total", "28"}, false, "GR 9+14=23; Vert 11+17=28", ""},
		{"sums that overlap", []string{"gr_upper", "7-10", "gr_lower", "14-20", "gr_total", "23-29"}, false, "GR 7-10+14-20=23-29", ""},
		{"parts of sums", []string{"gr_lower", "22-23", "vert_precaudal", "11", "vert_total", "28"}, false, "GR 22-23 lower; Vert 11 abdominal, 28", ""},
		{"totals", []string{"gr_total", "35-39", "vert_total", "~40"}, false, "GR 35-39; Vert ~40", ""},
		{"other counts and notes", []string{"d_rays", "9", "other", "branchiostegals 15-19; pyloric caeca ~180; about; L.tr. 7/17; usually 9 rays"}, false, "D 9; B 15-19; PC ~180; Ltr 7/17", "about; usually 9 rays"},
		{"other counts that have a column", []string{"d_rays", "9", "other", "dorsal 11; scale rows below lateral line 69-70; CONFLICT: A III"}, false, "D 9", "dorsal 11; scale rows below lateral line 69-70; CONFLICT: A III"},
		{"nothing", []string{"other", "seen once"}, false, "", "seen once"},
	} {
		got := formulaOf(cellsOf(c.cells...), c.soft)
		if got.fault != nil {
			t.Errorf("%s: %s", c.name, got.fault)
			continue
		}
		if same := canonical(t, got.formula()); same != canonical(t, c.want) || strings.Join(got.notes, "; ") != c.notes {
			t.Errorf("%s: %q with notes %q, want %q with %q", c.name, got.formula(), got.notes, c.want, c.notes)
		}
	}
}

// canonical is a formula as it is printed, so that the order of statements and the wording of parts don't count.
func canonical(t *testing.T, formula string) string {
	t.Helper()
	if formula == "" {
		return ""
	}
	r, err := meristic.Parse(formula, meristic.Options{})
	if err != nil {
		t.Errorf("%q: %v", formula, err)
	}
	return meristic.Print(r.Statements)
}

func TestFormulaFaults(t *testing.T) {
	for column, cell := range map[string]string{"d_rays": "11-", "a_rays": "12-", "gr_upper": "none told", "pectoral": "many"} {
		got := formulaOf(cellsOf(column, cell), false)
		if got.fault == nil || got.fault.Column != column || got.fault.Found != cell || got.fault.Wanted == "" {
			t.Errorf("%s %q: %+v", column, cell, got.fault)
		}
	}
}

// FuzzFormula: what is taken for a formula can be read again, and says the same.
func FuzzFormula(f *testing.F) {
	f.Add("13-14", "", "12-15", "3", "6-8", "17", "branchiostegals 7; about", false)
	f.Add("6", "1", "10", "1", "8", "i,12", "TRB 7.5-8.5", false)
	f.Add("3-4", "", "10+12", "0", "9 (second)", "absent", "L.tr. 7/17; B.vii", true)
	f.Add("0; D2 XI", "0", "0", "0", "0", "0", "", false)
	f.Add("", "", "iii,8+", "~", ">", "½", ";;caudal 9+8", true)
	f.Fuzz(func(t *testing.T, d1, d2, d, as, a, p, other string, soft bool) {
		got := formulaOf(cellsOf("d1_spines", d1, "d2_spines", d2, "d_rays", d, "a_spines", as, "a_rays", a, "pectoral", p, "other", other), soft)
		if got.fault != nil || len(got.statements) == 0 {
			return
		}
		text := got.formula()
		if len(text) > meristic.MaxInput {
			return
		}
		r, err := meristic.Parse(text, meristic.Options{})
		if err != nil {
			t.Fatalf("%q can't be read again: %v", text, err)
		}
		if again := meristic.Print(r.Statements); again != text {
			t.Errorf("%q is read as %q", text, again)
		}
	})
}
