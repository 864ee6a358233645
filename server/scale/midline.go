package scale

import (
	"errors"
	"fmt"
	"math"
)

// Position is a place on a body, in standard lengths.
type Position struct {
	Along float64 // way along the midline, 0 at the snout tip and 1 at the hypural end
	Above float64 // distance above the midline (toward the back), below it negative
}

// Midline is the line of a body from snout tip to hypural end. It carries
// places from one body to another: Place and At undo each other as far from it
// as the body reaches. Measured on a straight midline, Above is the plain
// distance; along a bent one it is measured on lines that turn evenly from one
// stretch to the next, as the distance to a bare polyline would fold places
// together on the outer side of each bend.
type Midline struct {
	frame   Frame
	at      []vec
	normals []vec     // toward the back, unit length, at each point
	along   []float64 // pixels from the snout
}

// MidlineOf gives a picture's midline: through the points named midline 1 to N
// where they are set, else straight. The back's side is told by landmarks of
// the back and of the belly; without any, the picture's upper side is the back.
// Errors as for Measure.
func MidlineOf(p Picture, t Tolerances) (Midline, error) {
	if err := p.check(); err != nil {
		return Midline{}, err
	}
	nodes, err := p.midlineNodes("", t)
	if err != nil {
		return Midline{}, err
	}
	m := Midline{frame: p.Frame}
	for _, n := range nodes {
		if k := len(m.at); k > 0 {
			step := m.at[k-1].toward(n.at).length()
			if step == 0 {
				continue // two landmarks in one place bend nothing
			}
			m.along = append(m.along, m.along[k-1]+step)
		} else {
			m.along = append(m.along, 0)
		}
		m.at = append(m.at, n.at)
	}
	if len(m.at) < 2 {
		return Midline{}, fmt.Errorf("midline from %q to %q is %w; set one of them again", nodes[0].name, nodes[len(nodes)-1].name, ErrTooShort)
	}
	m.normals = normals(m.at, p.side(m.at))
	return m, nil
}

// midlineNodes gives snout tip, points of the midline in order, and hypural
// end. From two points on, the first and last of them may stand for the ends,
// which then needn't be set; a point within the landmark error of an end is
// that end.
func (p Picture) midlineNodes(m Measurement, t Tolerances) ([]node, error) {
	var path []node
	for n := 1; ; n++ {
		v, ok, err := p.landmark(MidlineName(n))
		if err != nil {
			return nil, err
		}
		if !ok {
			if _, gap := p.Landmarks[MidlineName(n+1)]; gap {
				return nil, &MissingError{m, []string{MidlineName(n)}}
			}
			break
		}
		path = append(path, node{MidlineName(n), v})
	}
	snout, errSnout := p.first(m, []string{SnoutTip})
	tail, errTail := p.first(m, []string{HypuralEnd})
	err := joinMissing(m, errSnout, errTail)
	if err != nil && (len(path) < 2 || !errors.Is(err, ErrMissing)) {
		return nil, err
	}
	near := func(a, b node) bool { return a.at.toward(b.at).length() <= 3*t.landmarkError(p.Frame) }
	if errSnout == nil {
		if len(path) > 0 && near(path[0], snout) {
			path = path[1:]
		}
		path = append([]node{snout}, path...)
	}
	if errTail == nil {
		if k := len(path) - 1; k > 0 && near(path[k], tail) {
			path = path[:k]
		}
		path = append(path, tail)
	}
	return path, nil
}

// side is 1 if the back lies to the left when one looks from snout to tail on
// screen (as in a right lateral view), else -1.
func (p Picture) side(at []vec) float64 {
	head, tail := at[0], at[len(at)-1]
	axis := head.toward(tail)
	var vote float64
	for i, names := range [][]string{{Back}, origin(DorsalOrigin, "first dorsal fin", "dorsal fin"), {Belly}, origin(AnalOrigin, "anal fin")} {
		if n, err := p.first("", names); err == nil {
			away := axis.cross(head.toward(n.at))
			if i >= 2 {
				away = -away
			}
			vote += away
		}
	}
	switch {
	case vote != 0:
		return math.Copysign(1, vote)
	case axis.x != 0:
		return -math.Copysign(1, axis.x)
	default:
		return -1
	}
}

// normals gives unit normals toward the back at each point: those of the
// stretch at the ends, halfway between two stretches elsewhere.
func normals(at []vec, side float64) []vec {
	of := func(i int) vec {
		d := at[i].toward(at[i+1]).unit()
		return vec{-d.y, d.x}.times(side)
	}
	n := make([]vec, len(at))
	for i := range at {
		switch i {
		case 0:
			n[i] = of(0)
		case len(at) - 1:
			n[i] = of(i - 1)
		default:
			n[i] = of(i - 1).plus(of(i)).unit()
		}
		if n[i] == (vec{}) { // the line turns back on itself
			n[i] = of(i - 1)
		}
	}
	return n
}

// Pixels is the midline's length: the standard length along it.
func (m Midline) Pixels() float64 { return m.along[len(m.along)-1] }

// Place says where on the body a point of the picture lies.
func (m Midline) Place(p Point) (Position, error) {
	v, err := m.frame.place("point", p)
	if err != nil {
		return Position{}, err
	}
	return m.place(v), nil
}

// place takes, of all lines toward the back that run through v, the one with the nearest foot.
func (m Midline) place(v vec) Position {
	best, found := Position{Above: math.Inf(1)}, false
	last := len(m.at) - 2
	for i := 0; i <= last; i++ {
		for _, t := range m.feet(i, v) {
			if (t < 0 && i > 0) || (t > 1 && i < last) {
				continue
			}
			at, n := m.foot(i, t)
			above := at.toward(v).dot(n)
			if math.Abs(above) < math.Abs(best.Above) {
				best, found = Position{m.along[i] + t*(m.along[i+1]-m.along[i]), above}, true
			}
		}
	}
	if !found { // some line always runs through v, but rounding may lose its foot where the midline folds back
		best = m.nearest(v)
	}
	return Position{best.Along / m.Pixels(), best.Above / m.Pixels()}
}

// feet gives the ways along stretch i, as fractions of it, whose line toward
// the back runs through v: the roots of cross(v - A - tE, N0 + t(N1-N0)).
// Beyond the ends of the midline the first and last normals hold.
func (m Midline) feet(i int, v vec) []float64 {
	a, e := m.at[i], m.at[i].toward(m.at[i+1])
	n0, turn := m.normals[i], m.normals[i+1].minus(m.normals[i])
	w := a.toward(v)
	var out []float64
	if t := w.cross(n0) / e.cross(n0); t < 0 {
		out = append(out, t)
	}
	n1 := m.normals[i+1]
	if t := w.cross(n1) / e.cross(n1); t > 1 {
		out = append(out, t)
	}
	c2, c1, c0 := -e.cross(turn), w.cross(turn)-e.cross(n0), w.cross(n0)
	for _, t := range roots(c2, c1, c0) {
		const slack = 1e-9 // so that a foot on a joint is found on one side at least
		if t >= -slack && t <= 1+slack {
			out = append(out, min(max(t, 0), 1))
		}
	}
	return out
}

// foot gives a place on stretch i and the unit normal there.
func (m Midline) foot(i int, t float64) (at, normal vec) {
	at = between(m.at[i], m.at[i+1], t)
	return at, between(m.normals[i], m.normals[i+1], min(max(t, 0), 1)).unit()
}

func (m Midline) nearest(v vec) Position {
	best := Position{Above: math.Inf(1)}
	for i, at := range m.at {
		if d := at.toward(v); d.length() < math.Abs(best.Above) {
			best = Position{m.along[i], math.Copysign(d.length(), d.dot(m.normals[i]))}
		}
	}
	return best
}

// At gives the point of the picture at a position; it may lie outside the picture.
func (m Midline) At(p Position) Point {
	px := p.Along * m.Pixels()
	i := 0
	for i < len(m.at)-2 && px > m.along[i+1] {
		i++
	}
	at, n := m.foot(i, (px-m.along[i])/(m.along[i+1]-m.along[i]))
	return m.frame.point(at.plus(n.times(p.Above * m.Pixels())))
}

// roots solves c2 t² + c1 t + c0 = 0 without loss of digits where c2 is small.
func roots(c2, c1, c0 float64) []float64 {
	d := c1*c1 - 4*c2*c0
	if d < 0 {
		return nil
	}
	q := -(c1 + math.Copysign(math.Sqrt(d), c1)) / 2
	var out []float64
	if q != 0 {
		out = append(out, c0/q)
	}
	if c2 != 0 {
		out = append(out, q/c2)
	}
	return out
}
