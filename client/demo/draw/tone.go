package draw

import "math"

// markAt is the strength of a mark at a straight point; v is the place across
// the body.
func (g *figure) markAt(m Mark, q Point, v float64) float64 {
	x := q.X
	switch m.Pattern {
	case Bars:
		if x < m.From || x > m.To {
			return 0
		}
		step := (m.To - m.From) / float64(max(m.N, 1))
		i := math.Floor((x - m.From) / step)
		wob := (noise(g.o.Seed+1, q.Y*13, i*7) - 0.5) * m.Size * 0.55
		d := math.Abs(x - m.From - (i+0.5)*step + wob)
		return m.Strength * (1 - ramp(m.Size*0.3, m.Size*0.62, d)) * ramp(m.Top-0.15, m.Top+0.1, v) * (1 - ramp(m.Low-0.25, m.Low+0.1, v))
	case Stripes:
		if v < m.Top || v > m.Low || x < m.From || x > m.To {
			return 0
		}
		step := (m.Low - m.Top) / float64(max(m.N, 1))
		t := math.Mod(v-m.Top, step) / step
		return m.Strength * (1 - ramp(m.Size*0.5, m.Size*0.9, math.Abs(t-0.5))) * ramp(m.From, m.From+0.06, x) * (1 - ramp(m.To-0.06, m.To, x))
	case Spots:
		if v < m.Top || v > m.Low {
			return 0
		}
		return m.Strength * spotAt(g.o.Seed+2, q, m)
	case Blotch:
		c := g.prof.cross((m.From+m.To)/2, (m.Top+m.Low)/2)
		d := q.sub(c)
		wob := 1 + 0.25*(noise(g.o.Seed+3, q.X*40, q.Y*40)-0.5)
		return m.Strength * (1 - ramp(0.75, 1.05, math.Hypot(d.X, d.Y)/m.Size*wob))
	case Mottle:
		if v < m.Top || v > m.Low || x < m.From || x > m.To {
			return 0
		}
		s := 1 / max(m.Size, 0.005)
		n := cloud(g.o.Seed+4, x*s, q.Y*s)
		return m.Strength * ramp(0.5, 0.62, n) * ramp(m.From, m.From+0.08, x) * (1 - ramp(m.To-0.06, m.To, x)) * (1 - ramp(m.Low-0.3, m.Low, v))
	case Band:
		if x < m.From || x > m.To {
			return 0
		}
		return m.Strength * (1 - ramp(m.Size*0.35, m.Size*0.6, math.Abs(q.Y-g.lineY(x))))
	case Mask:
		e := g.eyeCentre()
		return m.Strength * (1 - ramp(m.Size*0.3, m.Size*0.6, math.Abs(x-e.X-0.25*(q.Y-e.Y)))) * ramp(m.Top, m.Top+0.1, v) * (1 - ramp(m.Low-0.1, m.Low, v))
	default:
		return 0
	}
}

// spotAt scatters round spots, N to a standard length, on a jittered grid; a spot
// is there whole or not at all, by its middle.
func spotAt(seed uint64, q Point, m Mark) float64 {
	best, per := 0.0, float64(m.N)
	ci, cj := int(math.Floor(q.X*per)), int(math.Floor(q.Y*per))
	for i := ci - 1; i <= ci+1; i++ {
		for j := cj - 1; j <= cj+1; j++ {
			c := Point{(float64(i) + 0.2 + 0.6*mix(seed, i, j, 1)) / per, (float64(j) + 0.2 + 0.6*mix(seed, i, j, 2)) / per}
			if c.X < m.From || c.X > m.To {
				continue
			}
			r := m.Size * (0.6 + 0.5*mix(seed, i, j, 3))
			best = max(best, 1-ramp(0.7*r, r, q.sub(c).len()))
		}
	}
	return best
}

// pigment is the strongest mark at a place.
func (g *figure) pigment(q Point, v float64) float64 {
	s := 0.0
	for _, m := range g.f.Marks {
		s = max(s, g.markAt(m, q, v))
	}
	return s * (1 - 0.7*g.o.Damage.Faded)
}

// tone is the darkness of the body in a black-and-white study, 0 to 1: light
// from above, a dark back, reflected light along the belly, and the modelling
// of the head.
func (g *figure) tone(q Point) float64 {
	v := g.prof.across(q)
	t := 0.07 + 0.5*ramp(-0.35, -0.98, v) + 0.42*math.Pow(ramp(0.12, 0.98, v), 1.3)
	t -= 0.16 * gauss(v+0.42, 0.14) // highlight on the shoulder
	t -= 0.2 * ramp(0.88, 1, v)     // reflected light
	t += 0.1 * gauss(v-0.02, 0.08)  // the fold along the axis
	t += 0.13 * ramp(0.8, 1, q.X)   // the peduncle turns away
	t += 0.08 * (1 - ramp(0, 0.1, q.X))
	h := g.f.Face.Head
	edge := g.opercleEdge(v)
	if q.X > edge {
		t += 0.32 * math.Exp(-(q.X-edge)/(0.02+0.03*h)) * (1 - ramp(0.6, 0.95, math.Abs(v)))
	}
	e := q.sub(g.eyeCentre()).len() / g.f.Face.Eye
	t += 0.28 * gauss(e-0.55, 0.22)
	if pre := g.preopercleEdge(v); q.X > pre && q.X < edge {
		t += 0.12 * math.Exp(-(q.X-pre)/(0.05*h)) * (1 - ramp(0.4, 0.7, math.Abs(v)))
	}
	p := g.pigment(q, v)
	t = t + p*(0.85-t)*0.9
	if g.bare(q) {
		t *= 0.45
	}
	return min(max(t*(1-0.45*g.o.Damage.Faded), 0), 0.95)
}

func gauss(x, s float64) float64 { return math.Exp(-x * x / (2 * s * s)) }

// stipple lays dots over the body. Candidates come in a low-discrepancy order
// and one is set if its rank is below the tone: so each area carries an even
// spread of dots at its own density.
func (g *figure) stipple() { g.stippleIn(0.002, 1) }

// stippleIn does so between two places along the body.
func (g *figure) stippleIn(x0, x1 float64) {
	const a1, a2 = 0.7548776662466927, 0.5698402909980532 // after the plastic number
	const pitch = 0.215                                   // mm between dots at full tone
	k := g.frame.k
	b := emptyBox().with(g.prof.outline()...)
	b.x0, b.x1 = max(b.x0, x0), min(b.x1, x1+0.006)
	w, h := b.x1-b.x0, b.y1-b.y0
	n := int(w * h * k * k / (pitch * pitch))
	var ps []Point
	var rs []float64
	for i := range n {
		q := Point{b.x0 + w*frac(0.5+a1*float64(i)), b.y0 + h*frac(0.5+a2*float64(i))}
		q = q.add(Point{mix(g.o.Seed, i, 1) - 0.5, mix(g.o.Seed, i, 2) - 0.5}.mul(0.95 * pitch / k))
		if q.X < x0 || q.X > x1+0.006 || math.Abs(g.prof.across(q)) > 0.995 {
			continue
		}
		t := g.tone(q)
		if float64(i) < t*float64(n)*0.9 {
			ps = append(ps, q)
			rs = append(rs, 0.062+0.05*t+0.014*mix(g.o.Seed, i, 3))
		}
	}
	g.dots(ps, rs, g.st.line)
}

func frac(x float64) float64 { return x - math.Floor(x) }

// hatch lays contour lines round the body, swelling with the tone, as in an
// engraving; a second set follows the axis where it is darkest.
func (g *figure) hatch() {
	k := g.frame.k
	const pitch = 0.62 // mm
	n := int(k / pitch)
	for i := range n + n/25 {
		x0 := (float64(i) + 0.5) / float64(n)
		var ps []Point
		for j := range 81 {
			v := -0.98 + 1.96*float64(j)/80
			x := x0 - 0.035*(1-v*v) + 0.012*v
			if x < 0.002 || x > 1.003 {
				continue
			}
			ps = append(ps, g.prof.cross(x, v))
		}
		g.engrave(ps, 0.13, 0.5)
	}
	for j := range 46 {
		v := -0.96 + 1.92*float64(j)/45
		var ps []Point
		for i := range 121 {
			x := 0.01 + 0.98*float64(i)/120
			ps = append(ps, g.prof.cross(x, v))
		}
		g.engrave(ps, 0.44, 0.45)
	}
}

// engrave draws those parts of a line where the tone exceeds least.
func (g *figure) engrave(ps []Point, least, full float64) {
	var run []Point
	var ws []float64
	flush := func() {
		if len(run) > 3 {
			w := ws
			g.stroke(run, g.st.line, func(t float64) float64 { return lookup(w, t) })
		}
		run, ws = nil, nil
	}
	for _, q := range ps {
		t := g.tone(q)
		if t < least {
			flush()
			continue
		}
		run, ws = append(run, q), append(ws, 0.05+full*math.Pow(t-least, 0.9))
	}
	flush()
}
