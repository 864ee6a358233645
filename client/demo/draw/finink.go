package draw

import "math"

// fin draws one fin and records what was drawn of it.
func (g *figure) fin(s finShape) {
	name := s.spec.Name
	if g.hidden(name) {
		g.noteHidden(s)
		return
	}
	if s.spec.Kind == AdiposeFin {
		g.adiposeFin(s)
		return
	}
	web := s.web()
	g.note(name, web)
	g.web(s, web)
	drawn := DrawnFin{Name: name}
	for _, r := range s.rays {
		g.countRay(&drawn, r)
		if !r.gone {
			g.ray(s, r)
		}
	}
	for _, r := range s.free {
		g.line(r.until(0, 1), 0.6, 0.3, g.st.line)
		g.note("free pectoral rays", r.until(0, 1))
	}
	w := 0.13 * g.st.heavy
	g.line(s.margin(), w, w, g.st.fine)
	if s.spec.Kind == PectoralFin {
		g.swell([]Point{s.lead, s.lead.lerp(s.end, 0.5).add(Point{-0.006, 0}), s.end}, 0.3, g.st.line)
	}
	drawn.Arc = g.mapAll(s.arc())
	g.d.Fins = append(g.d.Fins, drawn)
}

func (g *figure) countRay(d *DrawnFin, r ray) {
	switch {
	case r.gone && r.kind == spine:
		d.MissSpines++
		return
	case r.gone:
		d.Missed++
		return
	case r.kind == spine:
		d.Spines++
	default:
		d.Soft++
	}
	d.Bases = append(d.Bases, g.map1(r.base))
	d.Tips = append(d.Tips, g.map1(r.at(r.cut)))
}

// noteHidden records an unseen fin with the region where it would be.
func (g *figure) noteHidden(s finShape) {
	ps := s.web()
	if s.spec.Kind == AdiposeFin {
		ps = adipose(g.prof, s.spec)
	}
	g.note(s.spec.Name, ps)
	d := DrawnFin{Name: s.spec.Name}
	for _, r := range s.rays {
		if r.kind == spine {
			d.MissSpines++
		} else {
			d.Missed++
		}
	}
	g.d.Fins = append(g.d.Fins, d)
}

// ray draws one element: a stiff spine, a plain soft ray, or one that forks
// beyond the middle and is jointed there.
func (g *figure) ray(s finShape, r ray) {
	k := g.st.fine
	thin := min(0.18, 0.26*r.gap*g.frame.k)
	switch r.kind {
	case spine:
		w := min(0.4, 0.34*r.gap*g.frame.k+0.08)
		g.line(r.until(0, r.cut), w, w*0.25, g.st.line)
	case unbranched:
		g.stroke(r.until(0, r.cut), k, func(t float64) float64 { return thin * (0.85 + 0.5*t - 0.75*t*t) })
	case branched:
		const fork = 0.54
		g.line(r.until(0, min(fork, r.cut)), thin*0.85, thin*0.95, k)
		if r.cut <= fork {
			return
		}
		end := min(r.cut, 0.985)
		for _, side := range r.sides {
			twig := r.until(fork, end)
			for i := range twig {
				t := float64(i) / float64(len(twig)-1) * (end - fork) / (1 - fork)
				twig[i] = twig[i].add(side.mul(t))
			}
			g.line(twig, thin*0.7, thin*0.45, k)
		}
		g.joints(r, thin)
	}
}

// joints are the fine segments of a branched ray.
func (g *figure) joints(r ray, thin float64) {
	if g.o.Stage != FinalColor && g.o.Stage != FinalInk && g.o.View != Fin {
		return
	}
	long := r.tip.sub(r.base).len() * g.frame.k
	n := int(min(max(long*0.4/1.1, 0), 9))
	for i := range n {
		t := 0.58 + 0.36*float64(i)/float64(max(n, 1))
		if t > r.cut {
			break
		}
		d := r.tip.sub(r.ctrl).unit()
		a := Point{-d.Y, d.X}.mul(thin * 0.8 / g.frame.k)
		for _, side := range r.sides {
			m := r.at(t).add(side.mul((t - 0.54) / 0.46))
			g.line([]Point{m.sub(a), m.add(a)}, thin*0.4, thin*0.4, g.st.fine.alpha(g.st.fine.a*0.8))
		}
	}
}

// web paints the membrane between the rays.
func (g *figure) web(s finShape, web []Point) {
	if !g.o.Stage.Color() {
		g.fill(web, g.st.web)
		if g.o.Stage == Stipple || g.o.Stage == FinalInk {
			g.webDots(s)
		}
		return
	}
	g.shade(web, g.finPaint(s))
}

// webDots stipples the membrane: dense at the base, on dark margins and on an
// ocellus, open elsewhere. Dots keep to the middle between two rays.
func (g *figure) webDots(s finShape) {
	var ps []Point
	var rs []float64
	for i := 0; i+1 < len(s.rays); i++ {
		a, b := s.rays[i], s.rays[i+1]
		if a.gone || b.gone {
			continue
		}
		long := a.tip.sub(a.base).len() * g.frame.k
		n := int(long / 0.2)
		for j := range n {
			t := (float64(j) + mix(g.o.Seed, i, j, 3)) / float64(n)
			dark := 0.55*(1-ramp(0, 0.45, t)) + 0.1
			if s.spec.Edge {
				dark += 0.8 * ramp(0.74, 0.84, t)
			}
			if s.spec.Ocellus {
				dark += 0.9 * s.ocellus(a.at(t))
			}
			if t > 0.93 || mix(g.o.Seed, i, j, 5) > dark*(1-0.6*g.o.Damage.Faded) || math.Abs(t-CountAt) < 0.04 {
				continue
			}
			w := 0.32 + 0.36*mix(g.o.Seed, i, j, 7)
			ps = append(ps, a.at(t).lerp(b.at(t), w))
			rs = append(rs, 0.05+0.03*mix(g.o.Seed, i, j, 9))
		}
	}
	g.dots(ps, rs, g.st.fine)
}

// ocellus is the strength of the fin's spot at q.
func (s *finShape) ocellus(q Point) float64 {
	r := s.rays[len(s.rays)*3/4]
	d := q.sub(r.at(0.5)).len() / max(s.spec.Height*0.2, 1e-6)
	return 1 - ramp(0.7, 1, d)
}

func (g *figure) adiposeFin(s finShape) {
	ps := adipose(g.prof, s.spec)
	g.note(s.spec.Name, ps)
	if g.o.Stage.Color() {
		k := rgb(g.f.Palette.Back).toward(g.st.paper, 0.3)
		g.fill(ps, k)
	} else {
		g.fill(ps, g.st.web)
	}
	g.swell(ps, 0.28, g.st.line)
}
