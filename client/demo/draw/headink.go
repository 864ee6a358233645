package draw

import "math"

// eyeCentre is the middle of the eye in straight fish space.
func (g *figure) eyeCentre() Point {
	f := g.f.Face
	y := -f.EyeY * g.prof.upper(f.EyeX)
	// Keep the eye inside the profile.
	y = max(y, -g.prof.upper(f.EyeX)+f.Eye*0.52)
	return Point{f.EyeX, y}
}

// mouthTip is where the jaws meet at the front.
func (g *figure) mouthTip() Point {
	y := g.f.Face.MouthY
	if y == 0 {
		return Point{}
	}
	for i := range 400 {
		x := float64(i) / 1000
		switch {
		case y > 0 && g.prof.lower(x) >= y:
			return Point{x, y}
		case y < 0 && g.prof.upper(x) >= -y:
			return Point{x, y}
		}
	}
	return Point{}
}

// head draws eye, nostril, jaws, preopercle, opercle and what hangs on them.
func (g *figure) head() {
	h := g.f.Face.Head
	u, l := g.prof.upper, g.prof.lower
	g.note("head", append(g.prof.back(0, h), g.prof.belly(0, h)...))
	g.opercle()
	pre := smooth([]Point{
		{0.66 * h, -0.42 * u(0.66*h)}, {0.705 * h, -0.1 * u(h)}, {0.71 * h, 0.28 * l(0.7*h)},
		{0.66 * h, 0.52 * l(0.66*h)}, {0.52 * h, 0.64 * l(0.52*h)}, {0.4 * h, 0.66 * l(0.4*h)},
	}, 8)
	g.swell(pre, 0.24, g.st.fine)
	if g.f.Face.Cheek {
		g.cheek()
	}
	g.jaws()
	g.eye()
	e := g.eyeCentre()
	f := g.f.Face
	// Two nostrils between eye and snout.
	nx := max(f.EyeX-f.Eye*0.8, f.EyeX*0.4)
	n := Point{nx, max(e.Y*0.92, -0.62*u(nx))}
	for i, dx := range []float64{0, -0.2} {
		q := n.add(Point{dx * f.Eye, -0.03 * f.Eye * float64(i)})
		g.line(append(ellipse(q, 0.055*f.Eye, 0.085*f.Eye, 20), q.add(Point{0.055 * f.Eye, 0}.turn(20))), 0.14, 0.14, g.st.fine)
	}
	if f.Cirrus {
		g.cirrus(e)
	}
}

// opercleEdge is where the gill cover ends at v of the way across, behind the
// eye's level; it follows the curve that opercle draws.
func (g *figure) opercleEdge(v float64) float64 {
	h := g.f.Face.Head
	if v < 0 {
		return h * (1 - 0.52*v*v)
	}
	return h * (1 - 0.34*v*v - 0.2*math.Pow(v, 8))
}

// preopercleEdge is the same for the preopercle's rear edge.
func (g *figure) preopercleEdge(v float64) float64 {
	low := max(v-0.3, 0)
	return g.f.Face.Head * (0.715 - 0.2*(v-0.1)*(v-0.1) - 1.3*low*low)
}

// opercle draws the gill cover's edge, its spines and the branchiostegals.
func (g *figure) opercle() {
	h := g.f.Face.Head
	u, l := g.prof.upper, g.prof.lower
	edge := []Point{
		{0.80 * h, -0.62 * u(0.8*h)}, {0.9 * h, -0.44 * u(0.9*h)}, {0.975 * h, -0.14 * u(h)}, {h, 0.05 * l(h)},
		{0.955 * h, 0.36 * l(h)}, {0.84 * h, 0.66 * l(0.84*h)}, {0.68 * h, 0.86 * l(0.68*h)}, {0.5 * h, 0.95 * l(0.5*h)},
	}
	ps := smooth(edge, 10)
	g.note("opercle", ps)
	g.swell(ps, 0.42*g.st.heavy, g.st.line)
	// The subopercle's upper edge and two branchiostegals.
	g.swell(smooth([]Point{{0.955 * h, 0.3 * l(h)}, {0.86 * h, 0.42 * l(h)}, {0.74 * h, 0.6 * l(0.74*h)}}, 8), 0.16, g.st.fine)
	for _, k := range []float64{0.04, 0.08} {
		g.swell(smooth([]Point{{(0.82 - k) * h, (0.66 + k) * l(0.8*h)}, {(0.66 - k) * h, (0.84 + 0.8*k) * l((0.66-k)*h)}, {(0.5 - k) * h, (0.92 + 0.4*k) * l((0.5-k)*h)}}, 8), 0.13, g.st.fine)
	}
	for i := range g.f.Face.Spine {
		v := -0.26 + 0.17*float64(i)
		q := Point{g.opercleEdge(v) * 1.012, v * u(h)}
		long := 0.085 * h * (1 - 0.3*math.Abs(float64(i)-1))
		// A flat spine: a leaf-shaped stroke that ends just behind the edge.
		leaf := quad(q.sub(Point{long, 0.012 * h}), q.sub(Point{0.4 * long, 0.002 * h}), q.add(Point{0.18 * long, 0}), 12)
		g.stroke(leaf, g.st.line, func(t float64) float64 { return 0.1 + 0.42*math.Pow(t, 0.8)*(1-math.Pow(t, 5)) })
	}
}

// jaws draws lips, maxilla and barbels.
func (g *figure) jaws() {
	f := g.f.Face
	tip := g.mouthTip()
	corner := Point{tip.X + f.Jaw, tip.Y + f.Gape*f.Jaw}
	// The corner stays on the head.
	corner.Y = min(corner.Y, 0.86*g.prof.lower(corner.X))
	mid := tip.lerp(corner, 0.5).add(Point{0, -0.05 * f.Jaw})
	gape := quad(tip, mid, corner, 14)
	g.note("mouth", gape)
	g.line(gape, 0.34, 0.22, g.st.line)
	// Upper lip and maxilla above, lower lip below.
	lip := func(d float64) []Point {
		return quad(tip.add(Point{0.02 * f.Jaw, d * 0.5}), mid.add(Point{0, d}), corner.add(Point{0, d * 0.9}), 12)
	}
	g.swell(lip(-0.16*f.Jaw), 0.18, g.st.fine)
	if low := lip(0.15 * f.Jaw); low[0].Y < g.prof.lower(low[0].X) {
		g.swell(low[2:], 0.18, g.st.fine)
	}
	g.swell(quad(corner.add(Point{-0.04 * f.Jaw, -0.2 * f.Jaw}), corner.add(Point{0.16 * f.Jaw, -0.02 * f.Jaw}), corner.add(Point{-0.03 * f.Jaw, 0.14 * f.Jaw}), 10), 0.22, g.st.line)
	for i := range f.Barbels {
		at := g.prof.cross(tip.X+0.03+0.05*float64(i), 0.96)
		long := 0.16 * f.Head
		g.line(quad(at, at.add(Point{0.2 * long, 0.8 * long}), at.add(Point{0.75 * long, long}), 10), 0.34, 0.1, g.st.line)
	}
}

func (g *figure) eye() {
	c := g.eyeCentre()
	if g.f.Face.SecondEye {
		g.eyeAt(c.add(Point{-0.2 * g.f.Face.Eye, 1.35 * g.f.Face.Eye}))
	}
	g.eyeAt(c)
}

// eyeAt draws rim, iris, pupil and a highlight.
func (g *figure) eyeAt(c Point) {
	r := g.f.Face.Eye / 2
	rim := ellipse(c, r, r*0.96, 0)
	g.note("eye", rim)
	white := g.st.paper
	if g.o.Stage == Photograph {
		white = rgb(0xb8ab94)
	}
	iris := white
	if g.o.Stage.Color() {
		iris = g.pigmented(g.f.Palette.Iris).toward(white, 0.5*g.o.Damage.Faded)
	}
	if g.o.Stage.Color() {
		g.fill(ellipse(c, r*1.14, r*1.1, 0), g.st.line.alpha(0.13))
	}
	g.fill(rim, iris)
	g.line(append(rim, rim[0], rim[1]), 0.36, 0.36, g.st.line)
	switch {
	case g.o.Stage.Color():
		// The upper part of the iris lies in the shade of the brow.
		g.fill(append(ellipse(c, r*0.94, r*0.9, 0)[25:48], c.add(Point{r * 0.5, -r * 0.35}), c.add(Point{-r * 0.5, -r * 0.35})), g.st.line.alpha(0.22))
		g.line(ellipse(c, r*0.58, r*0.61, 0), 0.14, 0.14, rgb(0xf3e6b8).alpha(0.7))
	case g.st.tone:
		for i := range 40 {
			a := math.Pi * (0.95 + 1.1*float64(i)/39)
			d := Point{math.Cos(a), math.Sin(a)}
			g.line([]Point{c.add(d.mul(r * 0.96)), c.add(d.mul(r * (0.7 + 0.1*mix(g.o.Seed, i, 31))))}, 0.13, 0.05, g.st.line)
		}
	}
	pupil := rgb(0x141210)
	if g.o.Damage.Faded > 0.4 {
		pupil = rgb(0x8a857c) // clouded in fluid
	}
	g.fill(ellipse(c.add(Point{-0.04 * r, 0}), r*0.5, r*0.54, 0), pupil)
	g.fill(ellipse(c.add(Point{-0.2 * r, -0.22 * r}), r*0.13, r*0.1, -30), rgb(0xffffff))
	// The orbit's fold below and behind.
	g.swell(ellipse(c, r*1.28, r*1.22, 0)[2:20], 0.14, g.st.fine)
}

// cheek scatters small scales between eye and preopercle.
func (g *figure) cheek() {
	h := g.f.Face.Head
	e := g.eyeCentre()
	r := g.f.Face.Eye
	step := 0.05 * h
	for row := range 4 {
		for col := range 5 {
			q := Point{e.X - 0.1*r + float64(col)*step + float64(row%2)*step/2, e.Y + r*0.78 + float64(row)*step*0.8}
			if q.X < 0.64*h && q.Y < 0.5*g.prof.lower(q.X) {
				g.swell(quad(q.add(Point{0, -step * 0.4}), q.add(Point{step * 0.7, 0}), q.add(Point{0, step * 0.4}), 8), 0.12, g.st.fine)
			}
		}
	}
}

// cirrus is a branched flap over the eye, as many blennies have.
func (g *figure) cirrus(e Point) {
	r := g.f.Face.Eye
	at := e.add(Point{0.05 * r, -0.5 * r})
	for _, a := range []float64{-26, -4, 20} {
		tip := at.add(Point{0, -0.75 * r}.turn(a))
		g.line(quad(at, at.add(Point{0, -0.4 * r}), tip, 8), 0.26, 0.08, g.st.line)
	}
	g.note("cirrus", []Point{at, at.add(Point{0.3 * r, -0.8 * r}), at.add(Point{-0.3 * r, -0.8 * r})})
}
