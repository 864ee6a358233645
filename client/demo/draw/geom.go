package draw

import "math"

// Point is a place on paper (mm) or in fish space (SL).
type Point struct{ X, Y float64 }

func (p Point) add(q Point) Point             { return Point{p.X + q.X, p.Y + q.Y} }
func (p Point) sub(q Point) Point             { return Point{p.X - q.X, p.Y - q.Y} }
func (p Point) mul(k float64) Point           { return Point{p.X * k, p.Y * k} }
func (p Point) len() float64                  { return math.Hypot(p.X, p.Y) }
func (p Point) lerp(q Point, t float64) Point { return Point{p.X + (q.X-p.X)*t, p.Y + (q.Y-p.Y)*t} }

func (p Point) unit() Point {
	l := p.len()
	if l == 0 {
		return Point{1, 0}
	}
	return p.mul(1 / l)
}

// turn rotates by degrees, clockwise on paper.
func (p Point) turn(deg float64) Point {
	s, c := math.Sincos(deg * math.Pi / 180)
	return Point{p.X*c - p.Y*s, p.X*s + p.Y*c}
}

// Rect is a rectangle as fractions of a drawing's width and height.
type Rect struct{ X, Y, W, H float64 }

// box is a growing bounding box.
type box struct{ x0, y0, x1, y1 float64 }

func emptyBox() box { return box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)} }

func (b box) with(ps ...Point) box {
	for _, p := range ps {
		b.x0, b.y0 = min(b.x0, p.X), min(b.y0, p.Y)
		b.x1, b.y1 = max(b.x1, p.X), max(b.y1, p.Y)
	}
	return b
}

func (b box) empty() bool { return b.x0 > b.x1 }

func (b box) meets(o box) bool { return b.x0 <= o.x1 && o.x0 <= b.x1 && b.y0 <= o.y1 && o.y0 <= b.y1 }

// quad samples a quadratic Bézier curve.
func quad(a, c, b Point, n int) []Point {
	ps := make([]Point, 0, n+1)
	for i := range n + 1 {
		t := float64(i) / float64(n)
		ps = append(ps, a.lerp(c, t).lerp(c.lerp(b, t), t))
	}
	return ps
}

// cubic samples a cubic Bézier curve.
func cubic(a, c, d, b Point, n int) []Point {
	ps := make([]Point, 0, n+1)
	for i := range n + 1 {
		t := float64(i) / float64(n)
		m := c.lerp(d, t)
		ps = append(ps, a.lerp(c, t).lerp(m, t).lerp(m.lerp(d.lerp(b, t), t), t))
	}
	return ps
}

// smooth runs a centripetal Catmull-Rom curve through ps, n steps a span.
func smooth(ps []Point, n int) []Point {
	if len(ps) < 3 {
		return ps
	}
	out := make([]Point, 0, len(ps)*n)
	at := func(i int) Point {
		switch {
		case i < 0:
			return ps[0].mul(2).sub(ps[1])
		case i >= len(ps):
			return ps[len(ps)-1].mul(2).sub(ps[len(ps)-2])
		}
		return ps[i]
	}
	for i := range len(ps) - 1 {
		p0, p1, p2, p3 := at(i-1), at(i), at(i+1), at(i+2)
		d1, d2, d3 := knot(p0, p1), knot(p1, p2), knot(p2, p3)
		// Hermite tangents of the centripetal curve, as Bézier handles.
		m1 := p2.sub(p1).mul(1 / d2).add(p1.sub(p0).mul(1 / d1)).sub(p2.sub(p0).mul(1 / (d1 + d2))).mul(d2)
		m2 := p2.sub(p1).mul(1 / d2).add(p3.sub(p2).mul(1 / d3)).sub(p3.sub(p1).mul(1 / (d2 + d3))).mul(d2)
		seg := cubic(p1, p1.add(m1.mul(1.0/3)), p2.sub(m2.mul(1.0/3)), p2, n)
		out = append(out, seg[:n]...)
	}
	return append(out, ps[len(ps)-1])
}

func knot(a, b Point) float64 { return max(math.Sqrt(b.sub(a).len()), 1e-6) }

// lookup interpolates a table of equally spaced values, t from 0 to 1, smoothly.
func lookup(tab []float64, t float64) float64 {
	if len(tab) == 1 {
		return tab[0]
	}
	t = min(max(t, 0), 1) * float64(len(tab)-1)
	i := min(int(t), len(tab)-2)
	f := t - float64(i)
	at := func(k int) float64 { return tab[min(max(k, 0), len(tab)-1)] }
	a, b, c, d := at(i-1), at(i), at(i+1), at(i+2)
	return b + 0.5*f*(c-a+f*(2*a-5*b+4*c-d+f*(3*(b-c)+d-a)))
}

// mix hashes integers to a number in [0,1): the only source of chance here.
func mix(seed uint64, ks ...int) float64 {
	h := seed*0x9E3779B97F4A7C15 + 0x1234567
	for _, k := range ks {
		h ^= uint64(int64(k)) * 0xBF58476D1CE4E5B9
		h = (h ^ h>>29) * 0x94D049BB133111EB
		h ^= h >> 32
	}
	return float64(h>>11) / (1 << 53)
}

// noise is smooth value noise in [0,1] over the plane.
func noise(seed uint64, x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int(fx), int(fy)
	u, v := x-fx, y-fy
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	a, b := mix(seed, i, j), mix(seed, i+1, j)
	c, d := mix(seed, i, j+1), mix(seed, i+1, j+1)
	return (a+(b-a)*u)*(1-v) + (c+(d-c)*u)*v
}

// cloud is noise of two octaves on turned and warped axes, so that the grid
// underneath doesn't show.
func cloud(seed uint64, x, y float64) float64 {
	wx, wy := noise(seed+101, x*0.7, y*0.7), noise(seed+102, x*0.7+9, y*0.7)
	u, v := 0.8*x-0.6*y+1.3*wx, 0.6*x+0.8*y+1.3*wy
	return 0.64*noise(seed, u, v) + 0.36*noise(seed+103, 1.87*v+3, 2.11*u)
}

// ramp is a smooth step from 0 at a to 1 at b.
func ramp(a, b, x float64) float64 {
	t := min(max((x-a)/(b-a), 0), 1)
	return t * t * (3 - 2*t)
}
