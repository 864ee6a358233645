package demo

import (
	"slices"
	"strings"
	"testing"
	"time"

	"platarium/indexer/meristic"
)

func TestSpecimensFitTheirDiagnosis(t *testing.T) {
	species := map[string]Species{}
	for _, s := range AllSpecies() {
		species[s.Name] = s
		if s.Source == "" || len(s.Diagnosis) == 0 {
			t.Errorf("%s: diagnosis without source or counts", s.Name)
		}
	}
	seen := map[string]bool{}
	for _, sp := range AllSpecimens() {
		if seen[sp.Key] {
			t.Errorf("two specimens %s", sp.Key)
		}
		seen[sp.Key] = true
		s, ok := species[sp.Species]
		if !ok {
			t.Errorf("%s: unknown species %s", sp.Key, sp.Species)
			continue
		}
		if _, err := sp.Figure(); err != nil {
			t.Error(err)
		}
		if s.LateralLine != (Range{}) && sp.LateralLine != 0 && !s.LateralLine.Has(sp.LateralLine) {
			t.Errorf("%s: lateral line %d, source %v", sp.Key, sp.LateralLine, s.LateralLine)
		}
		for _, d := range s.Diagnosis {
			i := slices.IndexFunc(sp.Counts, func(e Element) bool { return e.Fin == d.Fin })
			if i < 0 {
				t.Errorf("%s: no counts of the %s", sp.Key, d.Fin)
				continue
			}
			e := sp.Counts[i]
			unbranched, rays := e.Unbranched, e.Rays
			if d.Unbranched == (Range{}) {
				unbranched, rays = 0, e.Unbranched+e.Rays
			}
			if !d.Spines.Has(e.Spines) || !d.Unbranched.Has(unbranched) || !d.Rays.Has(rays) {
				// A flatfish's preanal spine isn't part of the stated anal rays.
				if sp.Species != "Pleuronectes platessa" || d.Fin != analFin {
					t.Errorf("%s %s: %+v outside %+v", sp.Key, sp.Species, e, d)
				}
			}
		}
	}
}

func TestWorksHoldTogether(t *testing.T) {
	works := AllWorks()
	byKey, files, used, families := map[string]Work{}, map[string]string{}, map[string]bool{}, map[string]bool{}
	jobs := map[string]bool{}
	for _, j := range Jobs() {
		jobs[j.Key] = true
	}
	for _, w := range works {
		if _, twice := byKey[w.Key]; twice {
			t.Errorf("two works %s", w.Key)
		}
		f := fileName(w)
		if other, twice := files[f]; twice {
			t.Errorf("%s and %s share the file %s", other, w.Key, f)
		}
		files[f] = w.Key
		sp, ok := findSpecimen(w.Specimen)
		if !ok {
			t.Errorf("%s: no specimen %s", w.Key, w.Specimen)
		}
		used[sp.Species] = true
		for _, s := range w.From {
			src, ok := byKey[s.Key]
			switch {
			case !ok:
				t.Errorf("%s derives from %s, which is not before it", w.Key, s.Key)
			case src.Created > w.Created:
				t.Errorf("%s of %s derives from %s of %s", w.Key, w.Created, s.Key, src.Created)
			}
		}
		if w.Job != "" && !jobs[w.Job] {
			t.Errorf("%s: no job %s", w.Key, w.Job)
		}
		if person(w.Creator).Role == "" {
			t.Errorf("%s: nobody called %s", w.Key, w.Creator)
		}
		byKey[w.Key] = w
	}
	for _, s := range AllSpecies() {
		families[s.Family] = true
		if !used[s.Name] {
			t.Errorf("no work shows %s", s.Name)
		}
	}
	if len(works) < 66 || len(used) < 27 || len(families) < 9 {
		t.Errorf("%d works, %d species, %d families: want at least 66, 27 and 9", len(works), len(used), len(families))
	}
}

func TestGrantsHoldTogether(t *testing.T) {
	parties, works, grants := map[string]bool{}, map[string]bool{}, map[string]Grant{}
	for _, c := range Clients() {
		parties[c.Key] = true
		if !strings.HasSuffix(c.Email, ".example") {
			t.Errorf("%s: address %s could be real", c.Key, c.Email)
		}
	}
	for _, w := range AllWorks() {
		works[w.Key] = true
	}
	check := func(g Grant) {
		if !parties[g.Licensee] {
			t.Errorf("%s: no party %s", g.Key, g.Licensee)
		}
		for _, w := range g.Works {
			if !works[w] {
				t.Errorf("%s: no work %s", g.Key, w)
			}
		}
		for _, d := range []string{g.From, g.To, g.Signed} {
			if _, err := time.Parse(time.DateOnly, d); d != "" && err != nil {
				t.Errorf("%s: %v", g.Key, err)
			}
		}
		if g.To != "" && g.To < g.From {
			t.Errorf("%s ends before it begins", g.Key)
		}
	}
	for _, g := range Grants() {
		check(g)
		grants[g.Key] = g
	}
	if len(grants) < 12 {
		t.Errorf("%d grants, want at least 12", len(grants))
	}
	for _, r := range RefusedGrants() {
		check(r.Grant)
		g, ok := grants[r.Against]
		if !ok {
			t.Errorf("%s is refused for %s, which does not exist", r.Key, r.Against)
			continue
		}
		if g.Exclusivity == "non-exclusive" && r.Exclusivity == "non-exclusive" {
			t.Errorf("%s and %s exclude nobody", r.Key, g.Key)
		}
		if !slices.ContainsFunc(r.Works, func(w string) bool { return slices.Contains(g.Works, w) }) {
			t.Errorf("%s shares no work with %s", r.Key, g.Key)
		}
		if (g.To != "" && r.From > g.To) || (r.To != "" && g.From > r.To) {
			t.Errorf("%s and %s never run together", r.Key, g.Key)
		}
	}
}

func TestUsesAndBriefsHoldTogether(t *testing.T) {
	parties, grants := map[string]bool{}, map[string]bool{}
	for _, c := range Clients() {
		parties[c.Key] = true
	}
	for _, g := range Grants() {
		grants[g.Key] = true
	}
	for _, u := range Uses() {
		if ok := grants[u.Grant]; u.Grant != "" && !ok {
			t.Errorf("%s: no grant %s", u.Key, u.Grant)
		}
		if u.Grant == "" && u.Problem == "" {
			t.Errorf("%s has neither grant nor problem", u.Key)
		}
		if u.Number != "" && !strings.HasPrefix(u.Number, "979-0-") {
			t.Errorf("%s: number %s could be a real book's", u.Key, u.Number)
		}
	}
	works, delivered, checked := map[string]bool{}, false, false
	for _, w := range AllWorks() {
		works[w.Key] = true
	}
	for _, b := range Briefs() {
		if !parties[b.Client] {
			t.Errorf("%s: no party %s", b.Key, b.Client)
		}
		for _, done := range b.Studies {
			if !works[done.Work] {
				t.Errorf("%s: no work %s", b.Key, done.Work)
			}
		}
		if b.Plate != "" && len(b.Studies) == 0 {
			t.Errorf("%s was delivered without a study", b.Key)
		}
		delivered = delivered || b.Plate != ""
		checked = checked || b.Plate == "" && len(b.Studies) >= 2 && len(b.Ticks) > 0
	}
	if !delivered || !checked {
		t.Errorf("a brief is delivered: %t; one open with studies and checks: %t", delivered, checked)
	}
}

// TestFormulaeAreRead makes sure that an archive reads every stated formula
// without a doubt.
func TestFormulaeAreRead(t *testing.T) {
	for _, w := range AllWorks() {
		f := w.Formula()
		if f == "" {
			continue
		}
		r, err := meristic.Parse(f, meristic.Options{})
		if err != nil || len(r.Warnings) > 0 {
			t.Errorf("%s: %q: %v %v", w.Key, f, err, r.Warnings)
		}
		if want := strings.Count(f, ";") + 1; w.Style != 1 && len(r.Statements) != want {
			t.Errorf("%s: %q read as %d statements, want %d", w.Key, f, len(r.Statements), want)
		}
	}
}
