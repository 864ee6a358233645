package draw

import "fmt"

// headOnly draws the head from the left, with the beginning of the flank.
func (g *figure) headOnly() {
	h := g.f.Face.Head
	g.frame.k = g.o.Length / (1.18 * h)
	g.weight *= 1.15
	cut := 1.14 * h
	out := append(g.prof.back(0, cut), g.prof.cross(cut*0.97, -0.5), g.prof.cross(cut*1.01, 0), g.prof.cross(cut*0.96, 0.5))
	low := g.prof.belly(0, cut)
	for i := len(low) - 1; i > 0; i-- {
		out = append(out, low[i])
	}
	g.note("flank", out)
	if g.o.Stage.Color() {
		g.shade(out, g.bodyPaint())
	} else {
		g.fill(out, g.st.paper)
	}
	if g.o.Stage == Stipple || g.o.Stage == FinalInk {
		g.stippleIn(0, cut)
	}
	g.contour(0, cut)
	g.head()
	f := g.f.Face
	g.mark(SnoutTip, Point{})
	g.mark(OpercleEdge, Point{f.Head, 0.05 * g.prof.lower(f.Head)})
	eye := g.eyeCentre()
	g.mark(EyeFront, eye.sub(Point{f.Eye / 2, 0}))
	g.mark(EyeRear, eye.add(Point{f.Eye / 2, 0}))
	delete(g.regions, "flank")
	g.order = g.order[1:]
	g.note("head", out)
}

// finOnly draws one fin with the strip of body that it stands on.
func (g *figure) finOnly() error {
	for _, s := range g.fins {
		if s.spec.Name != g.o.Fin {
			continue
		}
		web := s.web()
		if s.spec.Kind == AdiposeFin {
			web = adipose(g.prof, s.spec)
		}
		b := emptyBox().with(web...)
		g.frame.k = g.o.Length / (b.x1 - b.x0)
		g.weight *= 1.15
		g.fin(s)
		x0, x1 := max(b.x0-0.03, 0), min(b.x1+0.01, 1)
		switch s.spec.Kind {
		case DorsalFin, AdiposeFin:
			g.baseStrip(g.prof.back(x0, min(s.spec.To+0.04, 1)), 1)
		case AnalFin:
			g.baseStrip(g.prof.belly(x0, min(s.spec.To+0.04, 1)), -1)
		case CaudalFin:
			g.swell(g.prof.back(0.93, 1), 0.4, g.st.line)
			g.swell(g.prof.belly(0.93, 1), 0.45, g.st.line)
			u, l := g.prof.upper(1), g.prof.lower(1)
			g.swell(quad(Point{1, -u}, Point{1 + (u+l)*tailBulge, 0}, Point{1, l}, 10), 0.3, g.st.line)
		case PelvicFin:
			g.swell(g.prof.belly(x0, x1), 0.42, g.st.line)
		case PectoralFin:
		}
		return nil
	}
	return fmt.Errorf("%w: no fin named %q", ErrFish, g.o.Fin)
}

// baseStrip covers the rays' bases with the edge of the body and a few scales.
func (g *figure) baseStrip(edge []Point, side float64) {
	deep := 0.03 * side
	strip := append([]Point{}, edge...)
	for i := len(edge) - 1; i >= 0; i-- {
		strip = append(strip, edge[i].add(Point{0, deep}))
	}
	g.fill(strip, g.st.paper)
	g.note(g.o.Fin, edge)
	g.note(g.o.Fin, []Point{edge[0].add(Point{0, deep})})
	g.swell(edge, 0.45, g.st.line)
	if g.f.Scales.Rows == 0 {
		return
	}
	for row := range 2 {
		for i := 2 + row*2; i < len(edge)-4; i += 4 {
			q := edge[i].add(Point{0, deep * (0.3 + 0.42*float64(row))})
			next := edge[i+3].add(Point{0, deep * (0.3 + 0.42*float64(row))})
			bow := q.lerp(next, 0.5).add(Point{0, deep * 0.3})
			g.swell(quad(q, bow, next, 8), 0.16, g.st.fine)
		}
	}
}

// scalesOnly draws a few scales of the flank, magnified: radii on the covered
// part, growth rings, and on a ctenoid scale a comb of ctenii.
func (g *figure) scalesOnly() {
	n := max(g.f.Scales.LateralLine, 20)
	cell := (1 - g.f.Face.Head) / float64(n) // true step of a scale
	g.frame.k = g.o.Length / (cell * 6)
	g.prof = newProfile(g.f, 0)
	for row := range 4 {
		for col := 4; col >= 0; col-- {
			q := Point{(float64(col) + 0.5*float64(row%2)) * cell, float64(row) * cell * 0.8}
			g.oneScale(q, cell, row == 1)
		}
	}
}

func (g *figure) oneScale(c Point, cell float64, pored bool) {
	out := smooth([]Point{
		c.add(Point{-0.55 * cell, -0.5 * cell}), c.add(Point{0.1 * cell, -0.72 * cell}), c.add(Point{0.62 * cell, -0.38 * cell}),
		c.add(Point{0.8 * cell, 0}), c.add(Point{0.62 * cell, 0.38 * cell}), c.add(Point{0.1 * cell, 0.72 * cell}), c.add(Point{-0.55 * cell, 0.5 * cell}),
	}, 10)
	g.note("scales", out)
	g.fill(out, g.st.paper)
	for i := range 7 {
		k := 0.25 + 0.1*float64(i)
		ring := make([]Point, len(out))
		for j, q := range out {
			ring[j] = c.lerp(q, k)
		}
		g.swell(ring, 0.11, g.st.fine)
	}
	if g.f.Scales.Ctenoid {
		for i := range 19 {
			j := 16 + i*(len(out)-34)/18
			q := out[j]
			d := q.sub(c).unit()
			g.line([]Point{q.sub(d.mul(0.14 * cell)), q.add(d.mul(0.07 * cell))}, 0.22, 0.06, g.st.line)
		}
	}
	g.line(out, 0.3, 0.3, g.st.line)
	if pored {
		tube := []Point{c.add(Point{-0.1 * cell, 0}), c.add(Point{0.3 * cell, -0.02 * cell}), c.add(Point{0.62 * cell, 0})}
		g.line(smooth(tube, 8), 1.0, 0.8, g.st.line)
		g.line(smooth(tube, 8), 0.55, 0.4, g.st.paper)
		g.note("lateral line", tube)
	}
}
