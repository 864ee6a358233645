package draw

import "math"

// profile tabulates the outline of a body, so that shading can ask for it at
// every pixel.
type profile struct {
	up, low []float64 // distance from the axis at x = i/(profileSteps-1)
	bend    float64
	jut     float64
}

const profileSteps = 2049

// tailBulge rounds the end of the body: the bulge's handle over the depth there.
const tailBulge = 0.12

func newProfile(f Fish, bend float64) *profile {
	p := &profile{up: make([]float64, profileSteps), low: make([]float64, profileSteps), bend: bend, jut: f.Face.Jut}
	b := f.Body
	up, low := b.Depth*b.Back, b.Depth*(1-b.Back)
	chin, bellyAt := or(b.Chin, b.Blunt), or(b.BellyAt, b.DepthAt)
	aft := or(b.Aft, 1.3)
	for i := range p.up {
		x := float64(i) / (profileSteps - 1)
		p.up[i] = arc(x, b.DepthAt, up, b.Peduncle/2, b.Blunt, aft)
		p.low[i] = arc(x, bellyAt, low, b.Peduncle/2, chin, aft)
		if b.Nape != 0 {
			n := (x - f.Face.Head*0.78) / (f.Face.Head * 0.42)
			p.up[i] += b.Nape * b.Depth * math.Exp(-n*n) * ramp(0, f.Face.Head*0.4, x)
		}
		// The peduncle widens a little where the caudal rays begin.
		flare := ramp(0.9, 1.0, x) * b.Peduncle * 0.05
		p.up[i] += flare
		p.low[i] += flare
	}
	return p
}

// arc rises from the snout to its height at peak and falls to the peduncle.
func arc(x, peak, height, ped, blunt, aft float64) float64 {
	if x <= peak {
		t := x / peak
		return height * math.Pow(1-math.Pow(1-t, 2), blunt)
	}
	t := (x - peak) / (0.95 - peak)
	t = min(t, 1)
	// A cosine fall, held back by aft.
	s := 0.5 + 0.5*math.Cos(math.Pi*math.Pow(t, aft))
	return ped + (height-ped)*s
}

func or(v, fallback float64) float64 {
	if v == 0 {
		return fallback
	}
	return v
}

func (p *profile) at(tab []float64, x float64) float64 {
	t := min(max(x, 0), 1) * (profileSteps - 1)
	i := min(int(t), profileSteps-2)
	f := t - float64(i)
	return tab[i] + (tab[i+1]-tab[i])*f
}

// upper and lower are distances from the straight axis.
func (p *profile) upper(x float64) float64 { return p.at(p.up, x) }
func (p *profile) lower(x float64) float64 { return p.at(p.low, x) }

// deepest is the place where the body is deepest.
func (p *profile) deepest() float64 {
	best := 0
	for i := range p.up {
		if p.up[i]+p.low[i] > p.up[best]+p.low[best] {
			best = i
		}
	}
	return float64(best) / (profileSteps - 1)
}

// sag is the deflection of a bent specimen at x.
func (p *profile) sag(x float64) float64 {
	d := x - 0.3
	return p.bend * d * math.Abs(d) * 1.2
}

// place turns straight fish space into the bent one. It is a shear, so that
// straight(x, y) undoes it exactly.
func (p *profile) place(q Point) Point { return Point{q.X, q.Y + p.sag(q.X)} }

// at v of the way across: -1 is the back, 0 the axis, 1 the belly.
func (p *profile) cross(x, v float64) Point {
	if v < 0 {
		return Point{x, v * p.upper(x)}
	}
	return Point{x, v * p.lower(x)}
}

// across is the inverse of cross for a straight point.
func (p *profile) across(q Point) float64 {
	if q.Y < 0 {
		return q.Y / max(p.upper(q.X), 1e-4)
	}
	return q.Y / max(p.lower(q.X), 1e-4)
}

// back samples the upper profile between two places, belly the lower one.
// Steps are closer at the snout, where the curve is tight.
func (p *profile) back(x0, x1 float64) []Point  { return p.run(x0, x1, -1) }
func (p *profile) belly(x0, x1 float64) []Point { return p.run(x0, x1, 1) }

func (p *profile) run(x0, x1, v float64) []Point {
	const n = 120
	ps := make([]Point, 0, n+1)
	for i := range n + 1 {
		t := float64(i) / n
		ps = append(ps, p.cross(x0+(x1-x0)*t*t*(1.6-0.6*t), v))
	}
	return ps
}

// outline is the closed body without fins; the tail end is slightly rounded.
func (p *profile) outline() []Point {
	ps := p.back(0, 1)
	u, l := p.upper(1), p.lower(1)
	ps = append(ps, quad(Point{1, -u}, Point{1 + (u+l)*tailBulge, 0}, Point{1, l}, 10)[1:]...)
	low := p.belly(0, 1)
	for i := len(low) - 2; i > 0; i-- {
		ps = append(ps, low[i])
	}
	return ps
}
