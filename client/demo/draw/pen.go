package draw

import "math"

// shape is one step of painting, in paper millimetres.
type shape struct {
	paths [][]Point
	ink   ink
	dots  []dot
	paint func(fish Point) ink // if set, the color of every pixel by its place on the fish
	box   box
}

// measure sets the shape's bounding box.
func (s *shape) measure() {
	s.box = emptyBox()
	for _, p := range s.paths {
		s.box = s.box.with(p...)
	}
	for _, d := range s.dots {
		s.box = s.box.with(Point{d.p.X - d.r, d.p.Y - d.r}, Point{d.p.X + d.r, d.p.Y + d.r})
	}
}

type dot struct {
	p Point
	r float64
}

// frame maps fish space to paper.
type frame struct {
	k      float64 // mm of paper per standard length
	mirror bool
	dx, dy float64
}

func (f frame) to(p Point) Point {
	if f.mirror {
		p.X = -p.X
	}
	return Point{p.X*f.k + f.dx, p.Y*f.k + f.dy}
}

func (f frame) from(p Point) Point {
	q := Point{(p.X - f.dx) / f.k, (p.Y - f.dy) / f.k}
	if f.mirror {
		q.X = -q.X
	}
	return q
}

// pen collects shapes. Its methods take points of straight fish space; bend
// and frame are applied here and nowhere else.
type pen struct {
	frame  frame
	prof   *profile
	shapes []shape
	weight float64 // factor on all line widths
}

func (p *pen) map1(q Point) Point { return p.frame.to(p.prof.place(q)) }

func (p *pen) mapAll(ps []Point) []Point {
	out := make([]Point, len(ps))
	for i, q := range ps {
		out[i] = p.map1(q)
	}
	return out
}

func (p *pen) add(s shape) { p.shapes = append(p.shapes, s) }

// fill paints a closed outline.
func (p *pen) fill(ps []Point, k ink) {
	p.add(shape{paths: [][]Point{p.mapAll(ps)}, ink: k})
}

// shade paints a closed outline pixel by pixel.
func (p *pen) shade(ps []Point, paint func(Point) ink) {
	p.add(shape{paths: [][]Point{p.mapAll(ps)}, paint: paint})
}

// line draws a stroke whose width (mm) runs from w0 to w1.
func (p *pen) line(ps []Point, w0, w1 float64, k ink) {
	p.stroke(ps, k, func(t float64) float64 { return w0 + (w1-w0)*t })
}

// swell draws a stroke that is thin at both ends, as a flexible nib does.
func (p *pen) swell(ps []Point, w float64, k ink) {
	p.stroke(ps, k, func(t float64) float64 { return w * (0.28 + 0.72*math.Pow(math.Sin(math.Pi*t), 0.7)) })
}

// stroke draws a line with a width that depends on the way along it.
func (p *pen) stroke(ps []Point, k ink, width func(t float64) float64) {
	m := p.mapAll(ps)
	if len(m) < 2 {
		return
	}
	p.add(shape{paths: [][]Point{ribbon(m, func(t float64) float64 { return width(t) * p.weight })}, ink: k})
}

// ribbon is the outline of a stroke along ps (mm).
func ribbon(ps []Point, width func(t float64) float64) []Point {
	n := len(ps)
	total := 0.0
	for i := 1; i < n; i++ {
		total += ps[i].sub(ps[i-1]).len()
	}
	left, right := make([]Point, 0, 2*n), make([]Point, 0, n)
	run := 0.0
	for i, q := range ps {
		if i > 0 {
			run += q.sub(ps[i-1]).len()
		}
		d := ps[min(i+1, n-1)].sub(ps[max(i-1, 0)]).unit()
		h := width(run/max(total, 1e-9)) / 2
		o := Point{-d.Y * h, d.X * h}
		left, right = append(left, q.add(o)), append(right, q.sub(o))
	}
	for i := n - 1; i >= 0; i-- {
		left = append(left, right[i])
	}
	return left
}

// ellipse is a closed outline, tilted by degrees.
func ellipse(c Point, rx, ry, tilt float64) []Point {
	const n = 48
	ps := make([]Point, n)
	for i := range n {
		s, co := math.Sincos(2 * math.Pi * float64(i) / n)
		ps[i] = c.add(Point{rx * co, ry * s}.turn(tilt))
	}
	return ps
}

// dots draws dots of the given radii in mm.
func (p *pen) dots(ps []Point, r []float64, k ink) {
	ds := make([]dot, len(ps))
	for i, q := range ps {
		ds[i] = dot{p.map1(q), r[i]}
	}
	p.add(shape{dots: ds, ink: k})
}
