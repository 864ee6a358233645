package taxon_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"platarium/indexer/taxon"
	"platarium/indexer/taxon/backbone"
)

var base = sync.OnceValues(backbone.Load)

func fishes(t testing.TB) *taxon.Classification {
	t.Helper()
	tree, err := base()
	if err != nil {
		t.Fatal(err)
	}
	return taxon.NewClassification(tree)
}

const letters = "abcdefghijklmnopqrstuvwxyz"

// edit makes one random insertion, deletion, substitution or transposition.
func edit(r *rand.Rand, s string) string {
	b := []byte(s)
	i := r.IntN(len(b))
	switch r.IntN(4) {
	case 0:
		i = r.IntN(len(b) + 1)
		b = slices.Insert(b, i, letters[r.IntN(26)])
	case 1:
		b = slices.Delete(b, i, i+1)
	case 2:
		b[i] = letters[r.IntN(26)]
	default:
		i = r.IntN(len(b) - 1)
		b[i], b[i+1] = b[i+1], b[i]
	}
	return string(b)
}

// misspell makes k edits that leave a string which is no name itself.
func misspell(r *rand.Rand, name string, k int, valid map[string]bool) string {
	for {
		s := name
		for range k {
			s = edit(r, s)
		}
		if s != name && !valid[s] && !valid[taxon.Fold(s)] {
			return s
		}
	}
}

// TestMisspellings measures how often the right name comes first for random
// misspellings of 5,000 names of the base. A tie with the best counts half.
func TestMisspellings(t *testing.T) {
	c := fishes(t)
	names, owner := baseNames(c)
	valid := map[string]bool{}
	for _, n := range names {
		valid[n], valid[taxon.Fold(n)] = true, true
	}
	for _, tc := range []struct {
		edits int
		want  float64
	}{{1, 0.97}, {2, 0.90}} {
		t.Run(fmt.Sprint(tc.edits, " edits"), func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(7, uint64(tc.edits)))
			const sample = 5000
			right := 0.0
			for _, i := range r.Perm(len(names))[:sample] {
				right += credit(c.Match(misspell(r, names[i], tc.edits, valid), 0), owner[i])
			}
			share := right / sample
			t.Logf("right name first: %.2f %% of %d", 100*share, sample)
			if share < tc.want {
				t.Errorf("right name first in %.4f, want %.2f", share, tc.want)
			}
		})
	}
}

// credit is 1 when the wanted taxon stands alone at the top, its share of the
// place when others have the same score.
func credit(got []taxon.Candidate, want string) float64 {
	if len(got) == 0 {
		return 0
	}
	ties, found := 0, false
	for _, g := range got {
		if g.Score == got[0].Score {
			ties++
			found = found || g.ID == want
		}
	}
	switch {
	case !found:
		return 0
	case ties == 1:
		return 1
	default:
		return 0.5
	}
}

// baseNames lists every scientific name of the base with its accepted taxon.
func baseNames(c *taxon.Classification) (names, owner []string) {
	for t := range c.Base().All() {
		a, ok := c.Accepted(t.ID)
		if ok {
			names, owner = append(names, t.Name), append(owner, a.ID)
		}
	}
	return names, owner
}

// BenchmarkMatchMisspelt reports the 95th percentile over misspelt names. Each
// query counts with the fastest of three runs, so that other programs on the
// machine don't count.
func BenchmarkMatchMisspelt(b *testing.B) {
	c := fishes(b)
	names, _ := baseNames(c)
	r := rand.New(rand.NewPCG(7, 3))
	queries := make([]string, 2000)
	for i := range queries {
		queries[i] = misspell(r, names[r.IntN(len(names))], 1+i%2, nil)
	}
	var took []time.Duration
	for i := 0; b.Loop(); i++ {
		best := time.Hour
		for range 3 {
			start := time.Now()
			c.Match(queries[i%len(queries)], 10)
			best = min(best, time.Since(start))
		}
		took = append(took, best)
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
}
