package meristic

import (
	"slices"
	"testing"
)

func mustParse(t *testing.T, s string) []Statement {
	t.Helper()
	res, err := Parse(s, Options{})
	if err != nil {
		t.Fatalf("%q: %v", s, err)
	}
	return res.Statements
}

func TestCompare(t *testing.T) {
	for _, c := range []struct {
		name, found, expected string
		want                  Verdict
		reasons               []string
	}{
		{"same", "D X-XII,11-13", "D X-XII,11-13", Agrees, []string{"D X-XII agrees", "D 11-13 agrees"}},
		{"overlap", "D X-XI,12", "D X-XII,11-13", Agrees, []string{"D X-XI lies within X-XII", "D 12 lies within 11-13"}},
		{"overlap at an end", "D IX-X,11", "D X-XII,11", Agrees, []string{"D IX-X overlaps X-XII", "D 11 agrees"}},
		{"near miss", "D X,11", "D XI,11", OutsideBy, []string{"D X against XI: outside by 1", "D 11 agrees"}},
		{"large counts, near", "LL 48", "LL 51-55", OutsideBy, []string{"LL 48 against 51-55: outside by 3"}},
		{"contradiction", "A III,8", "A III,15-17", Contradicts, []string{"A III agrees", "A 8 against 15-17: contradicts, outside by 7"}},
		{"open end", "D 130", "D >110", Agrees, []string{"D 130 lies within >110"}},
		{"pooled fins", "D VI+I,9", "D VII,9", Agrees, []string{"D VII agrees", "D 9 agrees"}},
		{"one fin against two", "D VII,9", "D1 VI; D2 I,9", Agrees, []string{"D VII agrees", "D 9 agrees"}},
		{"soft rays against kinds", "A 23", "A iii,20", Agrees, []string{"A 23 agrees"}},
		{"kinds against soft rays", "A iii,20", "A 26-28", Contradicts, []string{"A 23 against 26-28: contradicts, outside by 3"}},
		{"half ray", "A iii,8½", "A iii,9", Agrees, []string{"A iii agrees", "A branched 8½ overlaps 9"}},
		{"total vertebrae against regions", "Vert 24", "Vert 10+14", Agrees, []string{"Vert 24 agrees"}},
		{"limbs", "GR 7+13", "GR 7-8+16-18", Contradicts, []string{"GR upper 7 lies within 7-8", "GR lower 13 against 16-18: contradicts, outside by 3"}},
		{"not stated", "D X,11", "D X,11; A III,8", Agrees, []string{"D X agrees", "D 11 agrees", "A is not stated"}},
		{"rudiments", "gill rakers including rudiments 22", "gill rakers excluding rudiments 18-20", NotComparable,
			[]string{"GR 22 and 18-20 are not comparable: rudimentary rakers are counted on one side only"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Compare(mustParse(t, c.found), mustParse(t, c.expected), Tolerance{Steps: 2, Share: 0.1})
			var reasons []string
			for _, d := range got {
				reasons = append(reasons, d.Reason())
			}
			if w := Worst(got); w != c.want || !slices.Equal(reasons, c.reasons) {
				t.Errorf("%s against %s: %v %q, want %v %q", c.found, c.expected, w, reasons, c.want, c.reasons)
			}
		})
	}
}

func TestByCharacter(t *testing.T) {
	got := ByCharacter(Compare(mustParse(t, "D X,11; A III,8"), mustParse(t, "D XI,14; A III,8"), NearMiss()))
	if len(got) != 2 || got[0].Verdict != Contradicts || got[0].Distance != 3 || got[1].Verdict != Agrees {
		t.Errorf("%+v", got)
	}
}

// An anal fin with spines and rays exchanged is well formed; it is found when it is
// laid beside a diagnosis, or by what no fish has.
func TestImplausible(t *testing.T) {
	for s, want := range map[string]int{
		"D XII,10; A III,12":                0,
		"anal spines 10, anal soft rays 3":  1,
		"D X,300":                           1,
		"V I,60":                            1,
		"C 98":                              1,
		"D 52-65; A 400":                    0,
		"D XXX-XXXVI; Vert 98-99; P 11-12":  0,
		"Vert 900":                          1,
		"GR 8+14; LL 120-130; LLp 100; B 7": 0,
	} {
		if got := Implausible(mustParse(t, s)); len(got) != want {
			t.Errorf("%q: %v, want %d notes", s, got, want)
		}
	}
	diff := Compare(mustParse(t, "anal spines 10, anal soft rays 3"), mustParse(t, "A III,12"), NearMiss())
	if Worst(diff) != Contradicts {
		t.Errorf("exchanged spines and rays: %v", diff)
	}
}

func TestIntervalProperties(t *testing.T) {
	all := []Interval{At(0), At(8), At(8.5), Range(8, 10), Range(11, 13), {Min: 70, Max: 70, Bound: About}, {Min: 9, Max: 9, Bound: MoreThan}, {Min: 10, Max: 10, Bound: AtLeast}, {Min: 12, Max: 12, Bound: Under}, {Min: 12, Max: 12, Bound: AtMost}}
	for _, a := range all {
		for _, b := range all {
			if a.Overlaps(b) != b.Overlaps(a) || a.Distance(b) != b.Distance(a) {
				t.Errorf("%v and %v: not symmetric", a, b)
			}
			if a.Overlaps(b) != (a.Distance(b) == 0) {
				t.Errorf("%v and %v: overlap and distance disagree", a, b)
			}
			if a.Contains(b) && !a.Overlaps(b) {
				t.Errorf("%v contains %v and doesn't overlap it", a, b)
			}
			if u := a.Union(b); u.Min > min(a.Min, b.Min) || u.Max < max(a.Max, b.Max) {
				t.Errorf("%v and %v: union %v", a, b, u)
			}
		}
	}
}
