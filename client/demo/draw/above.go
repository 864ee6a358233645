package draw

import "math"

// fromAbove draws the fish in dorsal view: both pectoral fins spread, the
// dorsal fins folded to a ridge with a tick for every element, the tail edge on.
func (g *figure) fromAbove() {
	flat := g.f
	flat.Body.Depth = or(g.f.Body.Width, 0.6*g.f.Body.Depth)
	flat.Body.Back, flat.Body.Nape = 0.5, 0
	flat.Body.DepthAt = min(g.f.Face.Head*1.05, 0.45)
	flat.Body.BellyAt = flat.Body.DepthAt
	flat.Body.Blunt, flat.Body.Chin = 0.52, 0.52
	flat.Body.Peduncle = g.f.Body.Peduncle * 0.55
	flat.Body.Aft = 1.05
	flat.Face.Jut = 0
	lateral := g.prof
	g.prof = newProfile(flat, g.o.Damage.Bend)
	g.f.Body = flat.Body
	g.d.prof = g.prof
	for _, s := range g.fins {
		switch s.spec.Kind {
		case PectoralFin:
			g.spreadPectorals(s)
		case CaudalFin:
			g.tailEdge(s)
		default:
		}
	}
	out := g.prof.outline()
	g.note("body", out)
	if g.o.Stage.Color() {
		g.shade(out, g.backPaint())
	} else {
		g.fill(out, g.st.paper)
		if g.o.Stage == Stipple || g.o.Stage == FinalInk {
			g.stipple()
		}
	}
	g.contour(0, 1)
	g.headAbove()
	for _, s := range g.fins {
		if s.spec.Kind == DorsalFin && !g.hidden(s.spec.Name) {
			g.ridge(s, lateral)
		}
	}
	g.mark(SnoutTip, Point{})
	g.mark(HypuralEnd, Point{1, 0})
}

// backPaint is the color from above: the back, with its marks.
func (g *figure) backPaint() func(Point) ink {
	p := g.f.Palette
	back, flank, mark, dark := g.pigmented(p.Back), g.pigmented(p.Flank), g.pigmented(p.Mark), rgb(0x1d1712)
	return func(q Point) ink {
		v := g.prof.across(q)
		k := back.toward(flank, 0.8*ramp(0.35, 1, math.Abs(v)))
		k = k.toward(mark, 0.8*g.pigment(q, -0.6))
		k = k.toward(dark, 0.4*ramp(0.5, 1, math.Abs(v)))
		return k.toward(g.st.paper, 0.2*gauss(v+0.35, 0.2)+0.4*g.o.Damage.Faded)
	}
}

// spreadPectorals draws the pectoral fin on both sides; each is recorded with
// its side, since both carry the stated rays.
func (g *figure) spreadPectorals(s finShape) {
	x := g.f.Face.Head * 1.02
	for _, side := range []float64{-1, 1} {
		t := s
		t.rays = append([]ray(nil), s.rays...)
		t.free = nil
		t.spec.Name = "left " + s.spec.Name
		if side < 0 {
			// With the snout to the left and the back towards us, the fish's
			// right side is the upper one.
			t.spec.Name = "right " + s.spec.Name
		}
		root := g.prof.cross(x, side*0.9)
		wide := s.spec.Height * 0.2
		n := len(t.rays)
		for i := range t.rays {
			r := &t.rays[i]
			k := float64(i) / float64(max(n-1, 1))
			long := r.tip.sub(r.base).len()
			r.base = root.add(Point{wide * (k - 0.5), side * 0.003})
			dir := Point{1, 0}.turn(side * (76 - 58*k))
			r.ctrl = r.base.add(dir.turn(side * 6).mul(long * 0.5))
			r.tip = r.base.add(dir.turn(-side * 3).mul(long))
		}
		t.lead, t.end = root.add(Point{-wide * 0.6, 0}), root.add(Point{wide * 0.7, 0})
		t.gaps()
		t.spec.Kind = PelvicFin // no root line
		g.fin(t)
	}
}

// tailEdge draws the caudal fin seen on edge.
func (g *figure) tailEdge(s finShape) {
	h := g.prof.upper(1)
	tip := Point{1 + s.spec.Height*0.85, 0}
	blade := append(quad(Point{0.98, -h}, Point{1.06, -h * 0.7}, tip, 16), quad(tip, Point{1.06, h * 0.7}, Point{0.98, h}, 16)...)
	g.note(s.spec.Name, blade)
	g.fill(blade, g.st.web)
	g.swell(blade, 0.3, g.st.line)
	for _, y := range []float64{-0.3, 0.1, 0.4} {
		g.line(quad(Point{0.99, y * h * 1.4}, Point{1.05, y * h}, Point{1 + s.spec.Height*0.6, y * h * 0.15}, 10), 0.15, 0.08, g.st.fine)
	}
	g.mark(TailTip, tip)
}

// headAbove draws both eyes, nostrils, the jaw's edge and the gill covers.
func (g *figure) headAbove() {
	f := g.f.Face
	g.note("head", append(g.prof.back(0, f.Head), g.prof.belly(0, f.Head)...))
	for _, side := range []float64{-1, 1} {
		c := g.prof.cross(f.EyeX, side*0.66)
		r := f.Eye / 2
		rim := ellipse(c, r, r*0.62, -side*12)
		g.note("eye", rim)
		iris := g.st.paper
		if g.o.Stage.Color() {
			iris = g.pigmented(g.f.Palette.Iris)
		}
		g.fill(rim, iris)
		g.line(append(rim, rim[0], rim[1]), 0.34, 0.34, g.st.line)
		g.fill(ellipse(c.add(Point{0, side * r * 0.14}), r*0.48, r*0.34, -side*12), rgb(0x141210))
		n := Point{f.EyeX * 0.5, side * g.prof.upper(f.EyeX*0.5) * 0.45}
		g.fill(ellipse(n, r*0.12, r*0.08, 0), g.st.line)
		edge := smooth([]Point{g.prof.cross(0.78*f.Head, side*0.3), g.prof.cross(0.94*f.Head, side*0.62), g.prof.cross(f.Head, side*0.98)}, 10)
		g.swell(edge, 0.36, g.st.line)
		ridge := smooth([]Point{g.prof.cross(f.EyeX+r, side*0.36), g.prof.cross(0.75*f.Head, side*0.34), g.prof.cross(0.92*f.Head, side*0.3)}, 10)
		g.swell(ridge, 0.18, g.st.fine)
	}
	jaw := smooth([]Point{g.prof.cross(0.16*f.Head, -0.86), {0.045 * f.Head, 0}, g.prof.cross(0.16*f.Head, 0.86)}, 12)
	g.swell(jaw, 0.22, g.st.fine)
}

// ridge draws a folded dorsal fin from above: its midline and its elements'
// bases as ticks.
func (g *figure) ridge(s finShape, lateral *profile) {
	d := DrawnFin{Name: s.spec.Name}
	var line []Point
	for _, r := range s.rays {
		g.countRay(&d, r)
		if r.gone {
			continue
		}
		c := Point{r.base.X, 0}
		long := 0.012
		w := 0.2
		if r.kind == spine {
			long, w = 0.016, 0.34
		}
		g.line([]Point{c, c.add(Point{long * 0.5, 0})}, w*1.6, w*0.6, g.st.line)
		line = append(line, c)
	}
	if len(line) > 1 {
		edge := append(append([]Point{}, line...), Point{line[len(line)-1].X + lateral.upper(0.9)*0.6, 0})
		up, low := make([]Point, len(edge)), make([]Point, len(edge))
		for i, q := range edge {
			t := float64(i) / float64(len(edge)-1)
			h := 0.011 * math.Sin(math.Pi*min(t*1.05, 1))
			up[i], low[i] = q.add(Point{0, -h}), q.add(Point{0, h})
		}
		g.swell(up, 0.2, g.st.fine)
		g.swell(low, 0.2, g.st.fine)
		g.note(s.spec.Name, append(up, low...))
	}
	g.d.Fins = append(g.d.Fins, d)
}
