package scale

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Every published row stands in the program and gives its worked values; the
// program holds no relation that isn't published.
func TestPublishedRelations(t *testing.T) {
	known := PublishedRelations()
	used := 0
	for _, r := range table(t, "length-relations.tsv") {
		rel := Relation{
			Species: r["species"], From: Measurement(r["from"]), To: Measurement(r["to"]),
			Slope: r.number(t, "slope"), Intercept: r.number(t, "intercept_mm"),
		}
		if r["kind"] != "check only" {
			used++
			i := slices.IndexFunc(known, func(k Relation) bool {
				return k.Species == rel.Species && k.From == rel.From && k.To == rel.To
			})
			if i < 0 || known[i].Slope != rel.Slope || known[i].Intercept != rel.Intercept || !strings.HasPrefix(r["source"], known[i].Source) {
				t.Errorf("%s %s to %s isn't held as published", rel.Species, rel.From, rel.To)
				continue
			}
			if r["n"] != "" && float64(known[i].N) != r.number(t, "n") {
				t.Errorf("%s: n %d, published %s", rel.Species, known[i].N, r["n"])
			}
			rel = known[i]
		}
		for _, check := range strings.Split(r["checks_mm"], "|") {
			in, out, ok := strings.Cut(check, "->")
			if !ok {
				continue
			}
			from, errIn := strconv.ParseFloat(in, 64)
			want, errOut := strconv.ParseFloat(out, 64)
			if errIn != nil || errOut != nil {
				t.Fatalf("check %q of %s", check, rel.Species)
			}
			_, digits, _ := strings.Cut(out, ".")
			half := 0.5 * math.Pow10(-len(digits)) * 1.0001
			got, err := Convert([]Relation{rel}, rel.Species, rel.From, from, rel.To)
			if err != nil {
				t.Fatal(err)
			}
			near(t, rel.Species+" "+check, got.MM, want, half)
			back, err := Convert([]Relation{rel}, rel.Species, rel.To, got.MM, rel.From)
			if err != nil {
				t.Fatal(err)
			}
			near(t, rel.Species+" back", back.MM, from, 1e-9*from)
		}
	}
	if used != len(known) {
		t.Errorf("%d relations published, %d held", used, len(known))
	}
}

// The lines of 1917 are those of least squares through the fishes measured.
func TestFittedRelations(t *testing.T) {
	fishes := table(t, "fish-lengths.tsv")
	for _, rel := range PublishedRelations() {
		if rel.N == 0 {
			continue
		}
		var n, sx, sy, sxx, sxy float64
		low, high := math.Inf(1), 0.0
		var at [][2]float64
		for _, f := range fishes {
			if f["species"] != rel.Species {
				continue
			}
			x, y := 10*f.number(t, "SL_cm"), 10*f.number(t, string(rel.To)+"_cm")
			n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
			low, high = min(low, x), max(high, x)
			at = append(at, [2]float64{x, y})
		}
		slope := (n*sxy - sx*sy) / (n*sxx - sx*sx)
		intercept := (sy - slope*sx) / n
		var square float64
		for _, p := range at {
			d := p[1] - intercept - slope*p[0]
			square += d * d
		}
		what := rel.Species + " " + string(rel.To)
		near(t, what+" slope", rel.Slope, slope, 6e-6)
		near(t, what+" intercept", rel.Intercept, intercept, 6e-4)
		near(t, what+" residual", rel.Residual, math.Sqrt(square/(n-2))/(sy/n), 6e-5)
		if rel.N != int(n) || rel.FromMin != low || rel.FromMax != high {
			t.Errorf("%s: n %d, %g to %g; in the table %g, %g to %g", what, rel.N, rel.FromMin, rel.FromMax, n, low, high)
		}
	}
}

func TestConvert(t *testing.T) {
	known := PublishedRelations()
	for _, c := range []struct {
		name, species string
		from, to      Measurement
		mm            float64
		hint          bool
		in            []string
		err           error
	}{
		{"species", "Perca fluviatilis", SL, TL, 200, false, []string{"Brofeldt 1917", "n = 56"}, nil},
		{"authorship and subgenus", "Perca (Perca) fluviatilis Linnaeus, 1758", SL, TL, 200, false, []string{"Brofeldt"}, nil},
		{"backward", "Perca fluviatilis", TL, SL, 232, false, []string{"turned round"}, nil},
		{"backward on a major axis", "Clupea pallasii", TL, SL, 200, false, []string{"Palance"}, nil},
		{"through a length between", "Perca fluviatilis", FL, TL, 218.5, false, []string{"SL from FL", "then TL from SL", "turned round"}, nil},
		{"beyond the fish measured", "Esox lucius", SL, FL, 900, false, []string{"beyond the fish measured, SL 300 to 590 mm"}, nil},
		{"congeners", "Coregonus lavaretus", SL, TL, 300, true, []string{"Coregonus nasus", "Coregonus pidschian", "hint only"}, nil},
		{"the same length", "Notropis inventus", SL, SL, 50, false, []string{"as it is"}, nil},
		{"another genus", "Notropis inventus", SL, TL, 50, false, nil, ErrNoRelation},
		{"another length", "Perca fluviatilis", SL, HL, 50, false, nil, ErrNoRelation},
		{"no name", "", SL, TL, 50, false, nil, ErrNoRelation},
		{"genus alone", "Perca", SL, TL, 200, true, []string{"Perca fluviatilis"}, nil},
		{"no length", "Perca fluviatilis", SL, TL, 0, false, nil, ErrLength},
		{"below the line's zero", "Osmerus eperlanus", SL, FL, 5, false, nil, ErrNoRelation},
	} {
		got, err := Convert(known, c.species, c.from, c.mm, c.to)
		if !errors.Is(err, c.err) {
			t.Errorf("%s: error %v, want %v", c.name, err, c.err)
			continue
		}
		if got.Hint != c.hint {
			t.Errorf("%s: hint %v", c.name, got.Hint)
		}
		for _, part := range c.in {
			if !strings.Contains(got.Basis, part) {
				t.Errorf("%s: %q lacks %q", c.name, got.Basis, part)
			}
		}
	}
	// By way of SL, each of the fishes measured comes out within a few parts in a hundred.
	for _, f := range table(t, "fish-lengths.tsv") {
		got, err := Convert(known, f["species"], FL, 10*f.number(t, "FL_cm"), TL)
		if strings.Contains(f["note"], "doubtful") {
			if !errors.Is(err, ErrNoRelation) {
				t.Errorf("%s: %+v, %v; want no relation from a doubtful fish", f["species"], got, err)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		near(t, f["species"]+" TL by way of SL", got.MM, 10*f.number(t, "TL_cm"), min(4*got.Uncertainty, 0.08*got.MM))
	}
	nasus, _ := Convert(known, "Coregonus nasus", SL, 300, TL)
	other, _ := Convert(known, "Coregonus pidschian", SL, 300, TL)
	hint, err := Convert(known, "Coregonus lavaretus", SL, 300, TL)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean of the genus", hint.MM, (nasus.MM+other.MM)/2, 1e-9)
	apart := (nasus.MM - other.MM) / 2
	near(t, "its uncertainty", hint.Uncertainty, math.Sqrt((nasus.Uncertainty*nasus.Uncertainty+other.Uncertainty*other.Uncertainty)/2+apart*apart), 1e-9)
}

// Measured in pictures drawn to the published lengths, however turned, the
// published percentages and mean ratios come out.
func TestPublishedFishes(t *testing.T) {
	tol := DefaultTolerances()
	var all []look
	for _, name := range []string{"plain", "turned", "mirrored", "oblong pixels", "all"} {
		all = append(all, looks()[name])
	}
	type sums struct{ n, fl, tl float64 }
	means := map[string]sums{}
	for i, r := range table(t, "fish-lengths.tsv") {
		sl, fl, tl := r.number(t, "SL_cm"), r.number(t, "FL_cm"), r.number(t, "TL_cm")
		if !(sl < fl && fl < tl) {
			t.Errorf("fish %s: SL %g, FL %g, TL %g", r["obs"], sl, fl, tl)
		}
		height := r.number(t, "height_pct_TL")
		l := all[i%len(all)]
		l.px = 1500 / tl
		p := l.show(body{SnoutTip: {0, 0}, HypuralEnd: {sl, 0}, Fork: {fl, 0}, TailTip: {tl, 0},
			Back: {sl / 2, tl * height / 200}, Belly: {sl / 2, -tl * height / 200}})
		ratio := func(a, b Measurement) float64 {
			got, err := ProportionOf(p, a, b, tol)
			if err != nil {
				t.Fatalf("fish %s: %v", r["obs"], err)
			}
			return got.Value
		}
		near(t, "fish "+r["obs"]+" height", 100*ratio(BD, TL), height, 0.05)
		m := means[r["species"]]
		means[r["species"]] = sums{m.n + 1, m.fl + ratio(FL, SL), m.tl + ratio(TL, SL)}
	}
	// Mean ratios of the species, computed from the same table elsewhere.
	for species, want := range map[string][2]float64{
		"Abramis brama": {1.0926, 1.2671}, "Rutilus rutilus": {1.0797, 1.2110}, "Blicca bjoerkna": {1.0865, 1.2173},
		"Osmerus eperlanus": {1.0579, 1.1579}, "Esox lucius": {1.0706, 1.1482}, "Perca fluviatilis": {1.0875, 1.1534},
	} {
		m := means[species]
		near(t, species+" FL/SL", m.fl/m.n, want[0], 5.1e-5)
		near(t, species+" TL/SL", m.tl/m.n, want[1], 5.1e-5)
	}
}

// The percentages that a description prints follow from the lengths that it prints.
func TestPublishedProportions(t *testing.T) {
	tol := DefaultTolerances()
	l := plain()
	l.px = 10
	for _, r := range table(t, "fish-proportions.tsv") {
		m, err := ParseMeasurement(r["measurement"])
		if err != nil {
			t.Fatal(err)
		}
		mm := r.number(t, "mm")
		at := map[Measurement]body{
			SL: {HypuralEnd: {mm, 0}}, HL: {OpercleEdge: {mm, 0}}, ED: {EyeFront: {40, 5}, EyeRear: {40 + mm, 5}},
			SnL: {EyeFront: {mm, 0}}, BD: {Back: {90, mm / 2}, Belly: {90, -mm / 2}},
		}[m]
		b := body{SnoutTip: {0, 0}, TailTip: {280, 0}}
		for name, v := range at {
			b[name] = v
		}
		got, err := ProportionOf(l.show(b), m, TL, tol)
		if err != nil {
			t.Fatal(err)
		}
		near(t, r["measurement"], 100*got.Value, r.number(t, "percent"), 0.051)
	}
}

func TestShrinkageNote(t *testing.T) {
	for _, c := range []struct {
		preservation string
		sl           float64
		found        int
		in           string
	}{
		{"10 % formalin", 80, 2, "about 2 %"},
		{"70 % ethanol after formalin", 80, 2, "up to some 10 %"},
		{"95 % Ethanol", 12, 4, "8 to 18 %"},
		{"alcohol", 28, 3, "28 mm SL"},
		{"alcohol", 0, 2, "young"},
		{"frozen", 100, 3, "capelin"},
	} {
		short, note := ShrinkageNote(c.preservation, c.sl)
		if !strings.HasPrefix(note, short) || short == note {
			t.Errorf("%q in short: %q", c.preservation, short)
		}
		if strings.Count(note, ": shorter ") != c.found || !strings.Contains(note, c.in) {
			t.Errorf("%q, %g mm: %q", c.preservation, c.sl, note)
		}
	}
	for _, fresh := range []string{"fresh", ""} {
		if short, note := ShrinkageNote(fresh, 100); short != "" || note != "" {
			t.Errorf("%q: %q, %q", fresh, short, note)
		}
	}
}
