package draw

import "math"

// rayKind is the sort of one fin element.
type rayKind int

const (
	spine rayKind = iota
	unbranched
	branched
)

// ray is one element of a fin in straight fish space.
type ray struct {
	base, ctrl, tip Point
	kind            rayKind
	gone            bool     // torn out
	cut             float64  // drawn share of its length, 1 when whole
	gap             float64  // distance to its neighbour at the tip
	sides           [2]Point // where its two branches end, from the tip: towards the neighbours
}

func (r ray) at(t float64) Point {
	return r.base.lerp(r.ctrl, t).lerp(r.ctrl.lerp(r.tip, t), t)
}

// until samples the ray from t0 to t1.
func (r ray) until(t0, t1 float64) []Point {
	const n = 14
	ps := make([]Point, 0, n+1)
	for i := range n + 1 {
		ps = append(ps, r.at(t0+(t1-t0)*float64(i)/n))
	}
	return ps
}

// finShape is a laid-out fin.
type finShape struct {
	spec FinSpec
	rays []ray
	free []ray
	end  Point // where the membrane returns to the body behind the last ray
	lead Point // where it begins in front of the first
}

// layout places the elements of a fin on the body.
func layout(f Fish, p *profile, spec FinSpec) finShape {
	s := finShape{spec: spec}
	n := spec.Elements()
	for i := range n {
		k := branched
		switch {
		case i < spec.Spines:
			k = spine
		case i < spec.Spines+spec.Unbranched:
			k = unbranched
		}
		s.rays = append(s.rays, ray{kind: k, cut: 1})
	}
	switch spec.Kind {
	case DorsalFin, AnalFin:
		s.median(p)
	case CaudalFin:
		s.caudal(p)
	case PectoralFin:
		s.pectoral(f, p)
	case PelvicFin:
		s.pelvic(p)
	case AdiposeFin:
	}
	s.gaps()
	return s
}

// branchSpread is how far the branches of a ray part at the margin, as a share of
// the way to the neighbouring tip.
const branchSpread = 0.24

// gaps measures how far each tip is from its neighbours, square to the ray.
func (s *finShape) gaps() {
	n := len(s.rays)
	for i := range s.rays {
		r := &s.rays[i]
		d := r.tip.sub(r.ctrl).unit()
		w := s.rays[max(i-1, 0)].tip.sub(s.rays[min(i+1, n-1)].tip)
		r.gap = math.Abs(d.X*w.Y-d.Y*w.X) / float64(max(min(i+1, n-1)-max(i-1, 0), 1))
		if i > 0 {
			r.sides[0] = s.rays[i-1].tip.sub(r.tip).mul(branchSpread)
		}
		if i < n-1 {
			r.sides[1] = s.rays[i+1].tip.sub(r.tip).mul(branchSpread)
		}
	}
}

// median lays out a dorsal or anal fin along its profile.
func (s *finShape) median(p *profile) {
	side := -1.0
	if s.spec.Kind == AnalFin {
		side = 1
	}
	lean := s.spec.Lean
	if lean == [2]float64{} {
		lean = [2]float64{28, 52}
	}
	n := len(s.rays)
	// Spines stand a little wider than rays.
	const spineStep = 1.2
	total := 0.0
	for i := range n - 1 {
		total += step(s.rays[i].kind, spineStep)
	}
	run := 0.0
	for i := range n {
		t := run / max(total, 1)
		if n == 1 {
			t = 0
		}
		x := s.spec.From + (s.spec.To-s.spec.From)*t
		r := &s.rays[i]
		r.base = p.cross(x, side*0.985)
		long := s.spec.Height * s.relative(t, i)
		out := normal(p, x, side)
		back := lean[0] + (lean[1]-lean[0])*t
		dir := out.turn(-side * back)
		bow := 4.0
		if r.kind != spine {
			bow = 9
		}
		r.ctrl = r.base.add(dir.turn(side * bow * 0.5).mul(long * 0.5))
		r.tip = r.base.add(dir.turn(-side * bow * 0.5).mul(long))
		run += step(r.kind, spineStep)
	}
	stepLen := (s.spec.To - s.spec.From) / float64(max(n, 2))
	s.lead = p.cross(s.spec.From-stepLen*0.3, side)
	s.end = p.cross(min(s.spec.To+stepLen*1.1, 0.995), side)
}

func step(k rayKind, spineStep float64) float64 {
	if k == spine {
		return spineStep
	}
	return 1
}

// relative is the length of element i at t of the way along the fin.
func (s *finShape) relative(t float64, i int) float64 {
	tab := s.spec.Profile
	if len(tab) == 0 {
		tab = []float64{0.62, 0.92, 1, 0.96, 0.86, 0.7}
	}
	v := max(lookup(tab, t), 0.12)
	if s.spec.Filament > 0 && i < s.spec.Spines+s.spec.Unbranched+s.spec.Filament && i >= s.spec.Spines {
		v *= 1.9 - 0.3*float64(i-s.spec.Spines)
	}
	return v
}

// normal points away from the body at x of the upper (-1) or lower (1) profile.
func normal(p *profile, x, side float64) Point {
	const h = 0.03
	d := p.cross(x+h, side).sub(p.cross(x-h, side)).unit()
	return Point{-side * d.Y, side * d.X}
}

// caudal fans the principal rays out from the hypural end.
func (s *finShape) caudal(p *profile) {
	n := len(s.rays)
	spread := or(s.spec.Spread, 62)
	up, low := p.upper(1)*0.94, p.lower(1)*0.94
	for i := range n {
		v := 2*float64(i)/float64(max(n-1, 1)) - 1 // -1 upper lobe, 1 lower lobe
		y := v * low
		if v < 0 {
			y = v * up
		}
		r := &s.rays[i]
		r.kind = branched
		if i == 0 || i == n-1 {
			r.kind = unbranched
		}
		r.base = Point{0.997 - 0.02*v*v, y}
		a := v * spread / 2
		long := s.spec.Height * caudalLength(s.spec.Shape, v, a)
		dir := Point{1, 0}.turn(a)
		// Lobes sweep back: the outer rays leave steeply and straighten.
		bow := a * 0.22
		if s.spec.Shape == Rounded || s.spec.Shape == Truncate {
			bow = a * 0.08
		}
		r.ctrl = r.base.add(dir.turn(bow).mul(long * 0.5))
		r.tip = r.base.add(dir.mul(long))
	}
	s.lead = Point{0.962, -p.upper(0.962)}
	s.end = Point{0.962, p.lower(0.962)}
}

// caudalLength is the relative length of the ray at v, which leaves at a degrees.
func caudalLength(c Caudal, v, a float64) float64 {
	m := math.Abs(v)
	straight := 1 / math.Cos(a*math.Pi/180)
	switch c {
	case Forked:
		return 0.46 + 0.54*math.Pow(m, 1.15)
	case Lunate:
		return 0.34 + 0.66*math.Pow(m, 1.7)
	case Emarginate:
		return (0.84 + 0.1*math.Pow(m, 1.6)) * math.Sqrt(straight)
	case Truncate:
		return 0.86 * straight
	default:
		return 1 - 0.24*math.Pow(m, 2.2)
	}
}

// pectoral fans out behind the opercle, upper ray first.
func (s *finShape) pectoral(f Fish, p *profile) {
	x := or(s.spec.From, f.Face.Head+0.012)
	y := or(s.spec.Y, 0.3) * p.lower(x)
	wide := s.spec.Height * 0.2
	lean := s.spec.Lean[0]
	spread := or(s.spec.Spread, 58)
	tab := s.spec.Profile
	if len(tab) == 0 {
		tab = []float64{0.72, 0.97, 1, 0.93, 0.8, 0.64, 0.46}
	}
	axis := Point{0.28, 1}.unit().turn(-lean * 0.6)
	n := len(s.rays)
	for i := range n {
		t := float64(i) / float64(max(n-1, 1))
		r := &s.rays[i]
		r.base = Point{x, y}.add(axis.mul((t - 0.5) * wide))
		dir := Point{1, 0}.turn(lean - spread*0.42 + spread*t)
		long := s.spec.Height * max(lookup(tab, t), 0.2)
		r.ctrl = r.base.add(dir.turn(-5).mul(long * 0.5))
		r.tip = r.base.add(dir.turn(2).mul(long))
	}
	s.lead = Point{x, y}.add(axis.mul(-0.62 * wide))
	s.end = Point{x, y}.add(axis.mul(0.8 * wide))
	for i := range s.spec.Free {
		t := float64(i)
		b := s.rays[n-1].base.add(Point{-0.004 - 0.01*t, 0.012 + 0.006*t})
		long := s.spec.Height * (0.62 - 0.1*t)
		dir := Point{1, 0}.turn(78 + 20*t)
		s.free = append(s.free, ray{base: b, ctrl: b.add(dir.turn(-26).mul(long * 0.55)), tip: b.add(dir.turn(12).mul(long)), kind: unbranched, cut: 1})
	}
}

// pelvic lies under the belly, the spine or outer ray in front.
func (s *finShape) pelvic(p *profile) {
	n := len(s.rays)
	lean := s.spec.Lean
	if lean == [2]float64{} {
		lean = [2]float64{68, 32}
	}
	wide := s.spec.Height * 0.2
	tab := s.spec.Profile
	if len(tab) == 0 {
		tab = []float64{0.74, 1, 0.96, 0.86, 0.74, 0.6}
	}
	for i := range n {
		t := float64(i) / float64(max(n-1, 1))
		r := &s.rays[i]
		r.base = p.cross(s.spec.From+t*wide, 0.975)
		dir := Point{1, 0}.turn(lean[0] + (lean[1]-lean[0])*t)
		long := s.spec.Height * max(lookup(tab, t), 0.2)
		r.ctrl = r.base.add(dir.turn(5).mul(long * 0.5))
		r.tip = r.base.add(dir.turn(-4).mul(long))
	}
	s.lead = p.cross(s.spec.From-wide*0.2, 0.97)
	s.end = p.cross(s.spec.From+wide*1.3, 0.97)
}

// tear applies damage: which rays are gone or broken depends on the seed alone.
func (s *finShape) tear(t Tear, seed uint64) {
	n := len(s.rays)
	if n == 0 {
		return
	}
	// Missing rays lie together: a bite, not moth holes.
	start := int(mix(seed, 11, n) * float64(max(n-t.Missing, 1)))
	for i := range min(t.Missing, n) {
		s.rays[start+i].gone = true
	}
	left := t.Broken
	for i := start - 1; i >= 0 && left > 0; i, left = i-1, left-1 {
		s.rays[i].cut = 0.6 + 0.2*mix(seed, i, 13)
	}
	for i := start + t.Missing; i < n && left > 0; i, left = i+1, left-1 {
		s.rays[i].cut = 0.6 + 0.2*mix(seed, i, 13)
	}
}
