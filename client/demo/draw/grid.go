package draw

// grid evaluates a paint at every second pixel of every second row and
// interpolates between: paints are smooth and cost far more than a blend.
// Rows must be asked for from top to bottom.
type grid struct {
	paint    func(x, y int) ink
	x0, top  int
	upper    []node
	lower    []node
	prepared bool
}

// node is one evaluated place; it is computed when first asked for.
type node struct {
	ink
	known bool
}

const gridStep = 2

// row prepares for pixels x0 to x0+n of row y.
func (g *grid) row(y, x0, n int) {
	top := y - y%gridStep
	if g.prepared && top == g.top {
		return
	}
	if !g.prepared {
		g.x0 = x0 - x0%gridStep
		g.upper, g.lower = make([]node, n/gridStep+3), make([]node, n/gridStep+3)
	} else {
		// The lower row of the last pair is the upper of this one.
		g.upper, g.lower = g.lower, g.upper
		clear(g.lower)
	}
	g.top, g.prepared = top, true
}

// at is the interpolated paint of one pixel of the prepared row.
func (g *grid) at(x, y int) ink {
	i := (x - g.x0) / gridStep
	fx, fy := (x-g.x0)%gridStep, y-g.top
	a := g.node(g.upper, i, g.top)
	switch {
	case fx == 0 && fy == 0:
		return a
	case fy == 0:
		return a.mid(g.node(g.upper, i+1, g.top))
	case fx == 0:
		return a.mid(g.node(g.lower, i, g.top+gridStep))
	}
	// The middle of a cell: one diagonal is enough.
	return g.node(g.upper, i+1, g.top).mid(g.node(g.lower, i, g.top+gridStep))
}

func (g *grid) node(row []node, i, y int) ink {
	if !row[i].known {
		row[i] = node{g.paint(g.x0+i*gridStep, y), true}
	}
	return row[i].ink
}
