package demo

import (
	"fmt"
	"strings"
	"testing"

	"platarium/client/demo/draw"
)

// TestBasesAreMarked makes sure that drawn work marks the base of every element of its whole fins, numbered as the specimen's counts are, and of no others.
func TestBasesAreMarked(t *testing.T) {
	for _, w := range AllWorks() {
		d, err := w.Draw()
		if err != nil {
			t.Fatal(err)
		}
		marked := map[string]bool{}
		for part := range strings.SplitSeq(landmarks(w, d), "; ") {
			name, _, _ := strings.Cut(part, "@")
			if marked[name] {
				t.Errorf("%s: %s is marked twice", w.Key, name)
			}
			marked[name] = true
		}
		whole := map[string]bool{}
		for _, e := range w.Shown() {
			whole[e.Fin] = true
		}
		sp, _ := findSpecimen(w.Specimen)
		for _, e := range sp.Counts {
			_, drawn := d.Fin(e.Fin)
			want := drawn && w.Kind != Reference && w.View != draw.Dorsal && whole[e.Fin]
			for _, end := range []struct {
				kind string
				n    int
			}{{"spine", e.Spines}, {"ray", e.Unbranched + e.Rays}} {
				if end.n == 0 {
					continue
				}
				base := func(n int) bool { return marked[fmt.Sprintf("%s %s base %d", e.Fin, end.kind, n)] }
				if base(1) != want || base(end.n) != want || base(end.n+1) {
					t.Errorf("%s: %d %s %ss; marked the first: %t, the last: %t, one more: %t; want %t", w.Key, end.n, e.Fin, end.kind, base(1), base(end.n), base(end.n+1), want)
				}
			}
		}
	}
}

// TestFlatSpecimen makes sure that the one that lay flat is drawn deeper and shorter in the head than its kind.
func TestFlatSpecimen(t *testing.T) {
	ratios := func(key string) (depth, head float64) {
		for _, w := range AllWorks() {
			if w.Key != key {
				continue
			}
			d, err := w.Draw()
			if err != nil {
				t.Fatal(err)
			}
			at := map[string]draw.Landmark{}
			for _, l := range d.Landmarks {
				at[l.Name] = l
			}
			sl := (at[draw.HypuralEnd].X - at[draw.SnoutTip].X) * d.WidthMM
			return (at[draw.BellyDeepest].Y - at[draw.BackDeepest].Y) * d.HeightMM / sl, (at[draw.OpercleEdge].X - at[draw.SnoutTip].X) * d.WidthMM / sl
		}
		t.Fatalf("no work %s", key)
		return 0, 0
	}
	depth, head := ratios("S-061")
	flatDepth, flatHead := ratios("S-060")
	if flatDepth < 1.15*depth || flatHead > 0.92*head {
		t.Errorf("drawn flat: depth %.3f, head %.3f; otherwise %.3f, %.3f", flatDepth, flatHead, depth, head)
	}
	for _, s := range AllSpecies() {
		for _, p := range s.Proportions() {
			if got := map[string]float64{"body depth": depth, "head length": head}[p.Length]; got < 0.97*p.Min || got > 1.03*p.Max {
				t.Errorf("%s over %s is drawn as %.3f; published %.3f to %.3f", p.Length, p.Over, got, p.Min, p.Max)
			}
		}
	}
}
