package draw

import "math"

// bodyPaint is the color of the body at each place.
func (g *figure) bodyPaint() func(Point) ink {
	p := g.f.Palette
	back, flank, belly, mark := g.pigmented(p.Back), g.pigmented(p.Flank), g.pigmented(p.Belly), g.pigmented(p.Mark)
	gray := rgb(0x9d9588)
	dark, light := rgb(0x1d1712), rgb(0xfff3df)
	return func(q Point) ink {
		v := g.prof.across(q)
		wob := 0.22 * (cloud(g.o.Seed+9, q.X*12, q.Y*20) - 0.5)
		k := flank.toward(back, ramp(-0.18, -0.78, v+wob)).toward(belly, ramp(0.12, 0.72, v+wob))
		k = k.toward(mark, 0.9*g.pigment(q, v))
		if g.o.Damage.Faded > 0 {
			k = k.toward(gray, 0.6*g.o.Damage.Faded)
		}
		if g.bare(q) {
			k = k.toward(gray, 0.45)
		}
		if g.o.Stage == ColorStudy {
			return g.wash(q, v, k)
		}
		shadeBy := 0.5*g.form(q, v) + 0.06*(noise(g.o.Seed+8, q.X*160, q.Y*160)-0.5)
		k = k.toward(dark, min(shadeBy, 0.75))
		shine := 0.3 * gauss(v+0.4, 0.16) * (0.35 + 0.65*cloud(g.o.Seed+6, q.X*34, q.Y*16)) * (1 - 0.5*ramp(0.8, 1, q.X))
		if g.o.Stage == Photograph {
			shine *= 0.75
		}
		return k.toward(light, shine)
	}
}

// pigmented is a color of the palette as the stage shows it: in a photograph of
// a preserved fish only browns and grays remain.
func (g *figure) pigmented(hex uint32) ink {
	k := rgb(hex)
	if g.o.Stage != Photograph {
		return k
	}
	y := luma(k.c)
	return ink{[3]uint16{y, uint16(float64(y) * 0.93), uint16(float64(y) * 0.8)}, 1}.toward(rgb(0x8a7c63), 0.35)
}

// form is the shadow that makes the body round.
func (g *figure) form(q Point, v float64) float64 {
	t := 0.42*ramp(-0.55, -1, v) + 0.62*math.Pow(ramp(0.3, 1, v), 1.4) - 0.22*ramp(0.9, 1, v)
	h := g.f.Face.Head
	edge := g.opercleEdge(v)
	if q.X > edge {
		t += 0.55 * math.Exp(-(q.X-edge)/(0.014+0.02*h)) * (1 - ramp(0.6, 0.95, math.Abs(v)))
	}
	t += 0.4 * gauss(q.sub(g.eyeCentre()).len()/g.f.Face.Eye-0.58, 0.16)
	if pre := g.preopercleEdge(v); q.X > pre && q.X < edge {
		t += 0.22 * math.Exp(-(q.X-pre)/(0.05*h)) * (1 - ramp(0.4, 0.7, math.Abs(v)))
	}
	return t
}

// wash is a thin watercolor: paper shines through and pigment gathers at edges.
func (g *figure) wash(q Point, v float64, k ink) ink {
	n := cloud(g.o.Seed+31, q.X*24, q.Y*24)
	thin := 0.34 + 0.2*n - 0.22*ramp(0.86, 0.99, math.Abs(v)) - 0.2*g.form(q, v) + 0.3*gauss(v+0.4, 0.14)
	return k.toward(g.st.paper, thin)
}

// finPaint is the color of a fin at each place: fuller at the base, thinner
// outwards, with a dark margin or spot where the fin has one.
func (g *figure) finPaint(s finShape) func(Point) ink {
	base := s.rays
	col, root := rgb(g.f.Palette.Fin), rgb(g.f.Palette.Back)
	dark := rgb(g.f.Palette.Mark)
	if g.o.Stage == Photograph {
		col, root, dark = rgb(0xc9bc9f), rgb(0x6a5e4c), rgb(0x5d5242)
	}
	col = col.toward(rgb(0xa9a196), 0.6*g.o.Damage.Faded)
	if len(base) == 0 {
		return func(Point) ink { return col }
	}
	a, z := base[0].base, base[len(base)-1].base
	axis := z.sub(a)
	return func(q Point) ink {
		t := 0.5
		if l := axis.len(); l > 1e-9 {
			t = ((q.X-a.X)*axis.X + (q.Y-a.Y)*axis.Y) / (l * l)
		}
		i := int(min(max(t, 0), 1) * float64(len(base)-1))
		out := q.sub(base[i].base).len() / max(s.spec.Height, 1e-6)
		n := noise(g.o.Seed+41, q.X*70, q.Y*70)
		k := col.toward(g.st.paper, 0.12+0.35*ramp(0, 1, out)+0.12*n)
		k = k.toward(root, 0.35*(1-ramp(0, 0.3, out)))
		if s.spec.Edge {
			k = k.toward(dark, 0.75*ramp(0.62, 0.9, out))
		}
		if s.spec.Ocellus {
			k = k.toward(dark, 0.6*s.ocellus(q))
		}
		switch g.o.Stage {
		case ColorStudy:
			return k.toward(g.st.paper, 0.3).alpha(0.85)
		case Photograph:
			return k.alpha(0.7)
		default:
			return k.alpha(0.94)
		}
	}
}

// shadow is cast by the specimen on the tray.
func (g *figure) shadow() {
	for i := range 14 {
		d := Point{0.0016 * float64(i+1), 0.0028 * float64(i+1)}
		out := g.prof.outline()
		for j := range out {
			out[j] = out[j].add(d)
		}
		g.fill(out, rgb(0x2a241d).alpha(0.06))
	}
}

// develop gives a photograph its uneven light, vignette and grain.
func (c *canvas) develop(seed uint64) {
	cx, cy := float64(c.w)/2, float64(c.h)/2
	for y := range c.h {
		dy := (float64(y) - cy) / cy
		for x := range c.w {
			dx := (float64(x) - cx) / cx
			light := 1.1 - 0.3*(dx*dx+dy*dy)*0.8 - 0.06*dx
			grain := (mix(seed, x, y) + mix(seed+1, x, y) - 1) * 0.045
			for k := range c.ch {
				i := (y*c.w+x)*c.ch + k
				v := float64(c.pix[i]) * (light + grain)
				c.pix[i] = uint16(min(max(v, 0), 65535))
			}
		}
	}
}
