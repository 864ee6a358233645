package sheet

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestCellsStandApart: whatever their sizes, cells don't touch, keep clear of the field's edge, and what fits a page stands whole on one, clear of the strips that two pages show.
func TestCellsStandApart(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 3000 {
		tile := extent{150 + 300*rng.Float64(), 100 + 200*rng.Float64()}
		cells := make([]extent, 1+rng.IntN(14))
		for i := range cells {
			grow := math.Exp(4 * rng.Float64() * rng.Float64()) // few are very large
			cells[i] = extent{1 + 60*rng.Float64()*grow, 1 + 40*rng.Float64()*grow}
		}
		places, g := arrange(cells, tile)
		field := g.size()
		for i, p := range places {
			c := cells[i]
			if p.x < edge-tiny || p.y < edge-tiny || p.x+c.w > field.w-edge+tiny || p.y+c.h > field.h-edge+tiny {
				t.Fatalf("cell %v at %v leaves the field of %v", c, p, field)
			}
			for k := range i {
				q, d := places[k], cells[k]
				if p.x < q.x+d.w+gap-tiny && q.x < p.x+c.w+gap-tiny && p.y < q.y+d.h+gap-tiny && q.y < p.y+c.h+gap-tiny {
					t.Fatalf("cells %v at %v and %v at %v are too near", c, p, d, q)
				}
			}
			if c.w <= tile.w-2*overlap && c.h <= tile.h-2*overlap && pagesOfCell(g, p, c) != 1 {
				t.Fatalf("cell %v at %v of tiles %v is parted", c, p, tile)
			}
		}
	}
}

// pagesOfCell is on how many pages a part of a cell appears.
func pagesOfCell(g grid, p point, c extent) (n int) {
	for col := range g.cols {
		for row := range g.rows {
			o := g.origin(col, row)
			if p.x < o.x+g.tile.w-tiny && p.x+c.w > o.x+tiny && p.y < o.y+g.tile.h-tiny && p.y+c.h > o.y+tiny {
				n++
			}
		}
	}
	return n
}

// TestTilesCoverTheField: each point of the field is on a page, and each pair of neighbors shares two marks at least.
func TestTilesCoverTheField(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 500 {
		tile := extent{150 + 300*rng.Float64(), 100 + 200*rng.Float64()}
		_, g := arrange([]extent{{1 + 2000*rng.Float64(), 1 + 900*rng.Float64()}}, tile)
		field := g.size()
		for range 50 {
			at := point{field.w * rng.Float64(), field.h * rng.Float64()}
			if pagesOfCell(g, at, extent{}) == 0 && pagesOfCell(g, point{at.x - 1e-6, at.y - 1e-6}, extent{2e-6, 2e-6}) == 0 {
				t.Fatalf("%v of %v is on no page", at, field)
			}
		}
		shared := func(tile float64, at []float64, k int) (count int) {
			for _, m := range at {
				if from := float64(k+1) * (tile - overlap); m > from && m < from+overlap {
					count++
				}
			}
			return count
		}
		for k := range g.cols - 1 {
			if shared(tile.w, g.marks(g.cols, tile.w), k) != 1 {
				t.Fatalf("columns %d and %d share no mark", k, k+1)
			}
		}
		for k := range g.rows - 1 {
			if shared(tile.h, g.marks(g.rows, tile.h), k) != 1 {
				t.Fatalf("rows %d and %d share no mark", k, k+1)
			}
		}
	}
}

func TestOnePageIfItFits(t *testing.T) {
	places, g := arrange([]extent{{250, 90}, {60, 40}, {60, 40}}, extent{273, 160})
	if g.cols != 1 || g.rows != 1 {
		t.Errorf("%d by %d pages", g.cols, g.rows)
	}
	if places[1].y != places[2].y || places[1].y <= 90 {
		t.Errorf("the small ones aren't in a row under the large one: %v", places)
	}
}

func TestTileNames(t *testing.T) {
	for name, at := range map[string][2]int{"A1": {0, 0}, "B3": {2, 1}, "Z1": {0, 25}, "AA2": {1, 26}, "AB1": {0, 27}} {
		if got := tileName(at[0], at[1]); got != name {
			t.Errorf("column %d, row %d is %s; want %s", at[0], at[1], got, name)
		}
	}
}

func TestBarsAreRoundAndNotTooLong(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 5000 {
		paper, longest := math.Exp(20*rng.Float64()-10), 10+100*rng.Float64()
		b := barFor(paper, longest)
		if b.paperMM > longest*(1+1e-9) || b.paperMM < longest/2.5*(1-1e-9) {
			t.Fatalf("a bar of %g mm where %g are free", b.paperMM, longest)
		}
		if math.Abs(b.trueMM*paper/b.paperMM-1) > 1e-12 {
			t.Fatalf("%v isn't at %g", b, paper)
		}
		first := b.trueMM / math.Pow(10, math.Floor(math.Log10(b.trueMM)+1e-9))
		if d := math.Round(first); math.Abs(first-d) > 1e-9 || d != 1 && d != 2 && d != 5 {
			t.Fatalf("a bar of %g mm isn't round", b.trueMM)
		}
	}
	if b := barFor(0, 50); b != (bar{}) {
		t.Errorf("a bar without a scale: %v", b)
	}
	for want, b := range map[string]bar{
		"20 mm of animal = 36.4 mm on paper": {20, 36.4}, "10 cm of animal = 76.92 mm on paper": {100, 76.923}, "50 µm of animal = 50 mm on paper": {0.05, 50}, "2 m of animal = 40 mm on paper": {2000, 40},
	} {
		if got := b.String(); got != want {
			t.Errorf("%q; want %q", got, want)
		}
	}
}

func TestReductionsAreRound(t *testing.T) {
	for f, want := range map[float64]float64{0.99: 0.75, 0.75: 0.75, 0.6: 0.5, 0.21: 0.2, 0.12: 0.1, 0.099: 0.075, 0.004: 0.004} {
		if got := reduction(f); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g is reduced to %g; want %g", f, got, want)
		}
	}
}
