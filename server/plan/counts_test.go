package plan

import (
	"slices"
	"testing"

	"platarium/indexer/meristic"
	"platarium/indexer/rank"
	"platarium/indexer/taxon"
)

func TestDifferences(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ structure, shown, target, want string }{
		{"dorsal fin", "D X,14; A III,8", "D IX,13; A III,7", "S has D X,14; wanted D IX,13: don't copy the number"},
		{"anal fin", "D X,14; A III,8", "D IX,13; A III,7", "S has A III,8; wanted A III,7: don't copy the number"},
		{"anal fin", "A III,8", "A III,7-9", ""},
		{"opercle", "D X,14", "D IX,13", ""},
		{"dorsal fin", "A III,8", "D IX,13", ""},
		{"first dorsal fin", "D1 XIV; D2 I,13", "D1 XVI; D2 I,13", "S has D1 XIV; wanted D1 XVI: don't copy the number"},
		{"second dorsal fin", "D1 XIV; D2 I,13", "D1 XVI; D2 I,13", ""},
		{"gill rakers", "GR 5+11", "GR 7+17", "S has GR 5+11; wanted GR 7+17: don't copy the number"},
		{"lateral line", "LL 80", "LL 46", "S has LL 80; wanted LL 46: don't copy the number"},
	} {
		got := ""
		for _, d := range Differences(c.structure, statements(t, c.shown), statements(t, c.target)) {
			got += d.Text("S")
		}
		if got != c.want {
			t.Errorf("%s of %s against %s: %q, want %q", c.structure, c.shown, c.target, got, c.want)
		}
	}
	if d := Differences("dorsal fin", statements(t, "D1 VI; D2 I,9"), statements(t, "D X,12")); len(d) != 1 || d[0].Shown != "D1 VI; D2 I,9" || d[0].Wanted != "D X,12" {
		t.Errorf("a fin in parts against a whole one: %+v", d)
	}
	if d := Differences("dorsal fin", nil, nil); d != nil {
		t.Errorf("nothing stated: %+v", d)
	}
}

func TestExpect(t *testing.T) {
	t.Parallel()
	sources := []Source{
		{Statements: statements(t, "D X,14"), Text: "the brief"},
		{Statements: statements(t, "D IX,13; A III,7"), Text: "specimens/jar", Damaged: []string{"anal fin"}},
		{Statements: statements(t, "D X-XI,13-15; A III,8; LL 70-80"), Text: "a publication"},
		{Statements: statements(t, "A III,9; P 15; GR 7+15"), Text: "a relative", Relative: true},
	}
	var got []string
	for _, e := range Expect([]string{"anal fin", "dorsal fin", "pectoral fin"}, sources) {
		line := e.Structure + ": " + e.Statement.String() + ", " + e.Source
		if e.Relative {
			line += " (hint)"
		}
		got = append(got, line)
	}
	want := []string{
		"anal fin: A III,7, specimens/jar (damaged there)", "anal fin: A III,8, a publication",
		"dorsal fin: D X,14, the brief", "dorsal fin: D IX,13, specimens/jar", "dorsal fin: D X-XI,13-15, a publication",
		"pectoral fin: P 15, a relative (hint)", ": LL 70-80, a publication",
	}
	if !slices.Equal(got, want) {
		t.Errorf("\n%q, want\n%q", got, want)
	}
	if f := meristic.Print(Target(sources)); f != "D X,14; A III,8; LL 70-80" {
		t.Errorf("target %s", f)
	}
	apart := []Source{{Statements: statements(t, "D1 X; D2 I,12")}, {Statements: statements(t, "D XI,12; A III,8")}}
	if f := meristic.Print(Target(apart)); f != "D1 X; D2 I,12; A III,8" {
		t.Errorf("fins counted apart beside one counted whole: %s", f)
	}
}

func TestGap(t *testing.T) {
	t.Parallel()
	family, order := rank.Taxon{Name: "Serranidae", Rank: taxon.Family}, rank.Taxon{Name: "Perciformes", Rank: taxon.Order}
	good := Shown{Animal: "Serranus cabrilla", Picture: "pictures/good", As: "opercle", Completeness: rank.Complete, View: rank.LeftLateral, Common: family}
	with := func(change func(*Shown)) Shown {
		s := good
		s.Picture = "pictures/other"
		change(&s)
		return s
	}
	for _, c := range []struct {
		name   string
		shown  []Shown
		chosen int
		want   string
	}{
		{"good", []Shown{good}, 0, ""},
		{"nothing", nil, -1, "nothing in the archive shows the opercle"},
		{"mirrored", []Shown{with(func(s *Shown) { s.View, s.Mirror = rank.RightLateral, true })}, 0, ""},
		{"the other side of a flatfish", []Shown{with(func(s *Shown) { s.View = rank.RightLateral })}, 0, "no left lateral view; nearest: Serranus cabrilla, opercle complete, right lateral (pictures/other)"},
		{"damaged, a good one not chosen", []Shown{good, with(func(s *Shown) { s.Completeness = rank.Damaged })}, 1,
			"the opercle is shown damaged; nearest: Serranus cabrilla, opercle damaged, left lateral (pictures/other); without that lack: Serranus cabrilla, opercle complete, left lateral (pictures/good)"},
		{"part of the head", []Shown{with(func(s *Shown) { s.As = "head" })}, 0, "the opercle is shown only with the head; nearest: Serranus cabrilla, head complete, left lateral (pictures/other)"},
		{"another name", []Shown{with(func(s *Shown) { s.As = "gill cover" })}, 0, ""},
		{"whole animal", []Shown{with(func(s *Shown) { s.As, s.Completeness = "", rank.Shown })}, 0, "the opercle is to be seen on the whole animal alone; nearest: Serranus cabrilla, left lateral (pictures/other)"},
		{"far relative", []Shown{with(func(s *Shown) { s.Common = order })}, 0, "no relative of its family shows it; nearest: Serranus cabrilla, opercle complete, left lateral (pictures/other)"},
		{"none chosen", []Shown{good}, -1, "nothing was chosen for the opercle; nearest: Serranus cabrilla, opercle complete, left lateral (pictures/good)"},
	} {
		if got := Gap("opercle", rank.LeftLateral, c.shown, c.chosen); got != c.want {
			t.Errorf("%s:\n%q, want\n%q", c.name, got, c.want)
		}
	}
}

func TestMirror(t *testing.T) {
	t.Parallel()
	w := rank.Default()
	sole := []rank.Taxon{{Name: "Pleuronectiformes"}}
	if !Mirror(rank.RightLateral, rank.LeftLateral, nil, w) || Mirror(rank.RightLateral, rank.LeftLateral, sole, w) || Mirror(rank.LeftLateral, rank.LeftLateral, nil, w) || Mirror(rank.Dorsal, rank.LeftLateral, nil, w) {
		t.Error("mirrored views are wrong")
	}
}

func TestValue(t *testing.T) {
	t.Parallel()
	w := Default()
	best := Use{Score: 9, Scaled: true}
	if w.Value(best) != 9 || w.Against(best) != nil {
		t.Errorf("the best is worth %v: %v", w.Value(best), w.Against(best))
	}
	for _, u := range []Use{
		{Score: 8, Scaled: true}, {Score: 9}, {Score: 9, Scaled: true, Lacks: []string{"shown in part"}}, {Score: 9, Scaled: true, Deformed: true},
		{Score: 9, Scaled: true, Differing: 1}, {Score: 9, Scaled: true, Permission: Ask}, {Score: 9, Scaled: true, Permission: FactsOnly},
	} {
		if w.Value(u) >= 9 || -w.Value(u) >= w.Missing {
			t.Errorf("%+v is worth %v", u, w.Value(u))
		}
		if len(w.Against(u)) == 0 && u.Score == best.Score {
			t.Errorf("nothing speaks against %+v", u)
		}
	}
}
