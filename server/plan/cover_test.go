package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// invented makes needs with losses that share pictures.
func invented(r *rand.Rand, needs, pictures, each int) []Need {
	out := make([]Need, needs)
	for i := range out {
		for _, p := range r.Perm(pictures)[:r.IntN(each+1)] {
			out[i].Candidates = append(out[i].Candidates, Candidate{fmt.Sprintf("p%d", p), math.Round(r.Float64()*-80) / 8})
		}
		if r.IntN(8) == 0 {
			out[i].Fixed = []string{fmt.Sprintf("p%d", r.IntN(pictures))}
		}
	}
	return out
}

// tried is the cost of the best choice, by trying them all.
func tried(w Weights, needs []Need, free []string) float64 {
	best := math.Inf(1)
	var try func(i int, used []string, loss float64)
	try = func(i int, used []string, loss float64) {
		if i == len(needs) {
			n := 0
			for _, p := range used {
				if !slices.Contains(free, p) {
					n++
				}
			}
			best = min(best, loss+float64(n)*w.Picture)
			return
		}
		with := func(p string, loss float64) {
			next := slices.Clone(used)
			if !slices.Contains(next, p) {
				next = append(next, p)
			}
			try(i+1, next, loss)
		}
		if len(needs[i].Fixed) > 0 {
			with(needs[i].Fixed[0], loss)
			return
		}
		for _, c := range needs[i].Candidates {
			with(c.Picture, loss+c.Loss)
		}
		try(i+1, used, loss+w.Missing)
	}
	try(0, nil, 0)
	return best
}

// costOf reckons a choice from its pictures.
func costOf(t *testing.T, w Weights, needs []Need, c Cover, free []string) float64 {
	t.Helper()
	cost := 0.0
	used := map[string]bool{}
	for i, n := range needs {
		for _, p := range c.Chosen[i] {
			used[p] = true
		}
		switch {
		case len(n.Fixed) > 0:
			if !slices.Equal(c.Chosen[i], n.Fixed) {
				t.Errorf("need %d: chosen %v, fixed %v", i, c.Chosen[i], n.Fixed)
			}
		case len(c.Chosen[i]) == 0:
			cost += w.Missing
		default:
			k := slices.IndexFunc(n.Candidates, func(x Candidate) bool { return x.Picture == c.Chosen[i][0] })
			if k < 0 {
				t.Fatalf("need %d: %s is no candidate", i, c.Chosen[i][0])
			}
			cost += n.Candidates[k].Loss
		}
	}
	for p := range used {
		if !slices.Contains(free, p) {
			cost += w.Picture
		}
	}
	return cost
}

func TestChooseIsCheapest(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(5, 6))
	for range 400 {
		w := Default()
		w.Picture = []float64{0, 0.5, 3, 20}[r.IntN(4)]
		w.Missing = []float64{1, 5, 50}[r.IntN(3)]
		needs := invented(r, 1+r.IntN(5), 5, 4)
		var free []string
		if r.IntN(2) == 0 {
			free = []string{"p0"}
		}
		got, want := w.Choose(needs, free...), tried(w, needs, free)
		if math.Abs(got.Cost-want) > 1e-6 || !got.Exact || got.Bound != got.Cost {
			t.Fatalf("%+v\ncost %v, want %v for %+v", w, got, want, needs)
		}
		if again := costOf(t, w, needs, got, free); math.Abs(again-got.Cost) > 1e-6 {
			t.Fatalf("cost %v, reckoned anew %v", got.Cost, again)
		}
	}
}

// TestChooseWithBound cuts the search short: the bound holds, and the choice is sound.
func TestChooseWithBound(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(7, 8))
	cut := 0
	for range 50 {
		needs := invented(r, 12, 10, 8)
		w := Default()
		w.Picture = 4
		full := w.Choose(needs)
		w.Nodes = 5
		short := w.Choose(needs)
		if !full.Exact || short.Bound > full.Cost+1e-6 || short.Cost < full.Cost-1e-6 {
			t.Fatalf("short %+v, full %+v", short, full)
		}
		if again := costOf(t, w, needs, short, nil); math.Abs(again-short.Cost) > 1e-6 {
			t.Fatalf("cost %v, reckoned anew %v", short.Cost, again)
		}
		if !short.Exact {
			cut++
		}
	}
	if cut == 0 {
		t.Error("no search was cut short")
	}
}

// TestFewerPictures takes one that serves two well before two that serve a little better.
func TestFewerPictures(t *testing.T) {
	t.Parallel()
	needs := []Need{
		{Candidates: []Candidate{{"both", -9}, {"fin", -9.2}}},
		{Candidates: []Candidate{{"both", -8}, {"head", -8.2}}},
		{},
	}
	c := Default().Choose(needs)
	if !slices.EqualFunc(c.Chosen, [][]string{{"both"}, {"both"}, nil}, slices.Equal) {
		t.Errorf("chosen %v", c.Chosen)
	}
	needs[0].Fixed = []string{"fin", "both"}
	if c := Default().Choose(needs); !slices.EqualFunc(c.Chosen, [][]string{{"fin", "both"}, {"both"}, nil}, slices.Equal) {
		t.Errorf("chosen %v", c.Chosen)
	}
	if c := Default().Choose(nil); len(c.Chosen) != 0 || c.Cost != 0 || !c.Exact {
		t.Errorf("nothing asked: %+v", c)
	}
}

func BenchmarkChoose(b *testing.B) {
	r := rand.New(rand.NewPCG(9, 10))
	var all [][]Need
	for range 20 {
		all = append(all, invented(r, 20, 60, 8))
	}
	exact := 0
	for i := 0; b.Loop(); i++ {
		if Default().Choose(all[i%len(all)]).Exact {
			exact++
		}
	}
	b.ReportMetric(float64(exact)/float64(b.N), "exact")
}
