package sheet

import "math"

// extent is a width and a height, mm.
type extent struct{ w, h float64 }

// point is a place in the field, mm from its upper left corner.
type point struct{ x, y float64 }

// grid parts a field into tiles of one page each. Neighbors share a strip, so that the pages can be laid over each other.
type grid struct {
	tile       extent // what a page shows of the field
	overlap    float64
	pad        float64 // kept free along the edge of the field
	cols, rows int
}

// Measures of the composite, mm.
const (
	overlap  = 14.0 // shared by neighboring pages
	edge     = 8.0  // free along the field's edge, for the marks
	gap      = 6.0  // between pieces
	mostTile = 60   // pages: a composite beyond that is no sheet but a mistake in a size
)

// step is how far a tile begins after the one before.
func (g grid) step() extent { return extent{g.tile.w - g.overlap, g.tile.h - g.overlap} }

// origin is the upper left corner of a tile in the field.
func (g grid) origin(col, row int) point {
	s := g.step()
	return point{float64(col) * s.w, float64(row) * s.h}
}

// size is the field's.
func (g grid) size() extent {
	last := g.origin(g.cols-1, g.rows-1)
	return extent{last.x + g.tile.w, last.y + g.tile.h}
}

// marks are where registration marks stand along one axis: near both ends, and in the middle of each shared strip.
func (g grid) marks(n int, tile float64) []float64 {
	at := []float64{g.pad / 2}
	for k := 1; k < n; k++ {
		at = append(at, float64(k)*(tile-g.overlap)+g.overlap/2)
	}
	return append(at, float64(n-1)*(tile-g.overlap)+tile-g.pad/2)
}

// arrange places cells in rows, in their order, on as few pages as it can: on one if they all fit. A cell that fits a page is never parted; the strips that pages share stay free of it. The
// answer's places are in the order of the cells.
func arrange(cells []extent, tile extent) (places []point, g grid) {
	g = grid{tile: tile, overlap: overlap, pad: edge, cols: 1, rows: 1}
	whole := axis{tile: tile.w, overlap: overlap, pad: edge, single: true}
	down := axis{tile: tile.h, overlap: overlap, pad: edge, single: true}
	if places, end, ok := shelve(cells, whole, down); ok && end <= tile.h-edge {
		return places, g
	}
	across := axis{tile: tile.w, overlap: overlap, pad: edge}
	for _, c := range cells {
		g.cols = max(g.cols, across.needed(across.next(edge, c.w)+c.w))
	}
	across.count = g.cols
	if g.cols == 1 {
		across.single = true
	}
	places, end, _ := shelve(cells, across, axis{tile: tile.h, overlap: overlap, pad: edge})
	g.rows = down.needed(end)
	return places, g
}

// shelve fills rows from the left. ok is false if a cell is wider than all the room there is.
func shelve(cells []extent, across, down axis) (places []point, end float64, ok bool) {
	places = make([]point, len(cells))
	right := across.end()
	ok = true
	y := across.pad
	for i := 0; i < len(cells); {
		x, height, first := across.pad, 0.0, i
		for ; i < len(cells); i++ {
			at := across.next(x, cells[i].w)
			if at+cells[i].w > right+tiny {
				if i > first {
					break
				}
				ok = false
			}
			places[i].x = at
			x = at + cells[i].w + gap
			height = max(height, cells[i].h)
		}
		y = down.next(y, height)
		for k := first; k < i; k++ {
			places[k].y = y
		}
		end = y + height
		y = end + gap
	}
	return places, end, ok
}

// tiny is a difference that is rounding, mm.
const tiny = 1e-9

// axis is one direction of a grid.
type axis struct {
	tile, overlap, pad float64
	count              int  // tiles; 0 for as many as it takes
	single             bool // one tile, of which only the padding is kept free
}

// end is where the room of the last tile ends.
func (a axis) end() float64 {
	if a.single {
		return a.tile - a.pad
	}
	return float64(a.count-1)*(a.tile-a.overlap) + a.tile - a.pad
}

// next is the first place from x on where a length stands whole on one tile, clear of the shared strips; one too long for that begins where a tile does.
func (a axis) next(x, length float64) float64 {
	if a.single {
		return x
	}
	step := a.tile - a.overlap
	for k := max(0, math.Floor((x-a.tile)/step)); ; k++ {
		from, to := k*step+a.overlap, k*step+a.tile-a.overlap
		if k == 0 {
			from = a.pad
		}
		switch {
		case x > to:
		case max(x, from)+length <= to+tiny:
			return max(x, from)
		case x <= from+tiny && length > a.tile-2*a.overlap: // first tile's room is somewhat larger, but no later one's
			return max(x, from)
		}
	}
}

// needed is how many tiles reach as far as end.
func (a axis) needed(end float64) int {
	if end <= a.tile-a.pad+tiny {
		return 1
	}
	return int(math.Ceil((end+a.pad-a.tile)/(a.tile-a.overlap)-tiny)) + 1
}
