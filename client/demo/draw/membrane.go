package draw

// margin is the edge of the membrane: up the first element from the lead,
// along the tips, and down behind the last to the end.
func (s *finShape) margin() []Point {
	n := len(s.rays)
	if n == 0 {
		return nil
	}
	ps := []Point{s.lead}
	first := s.rays[0]
	if !first.gone {
		ps = append(ps, first.until(0.12, min(first.cut, 0.96))...)
	}
	for i, r := range s.rays {
		switch {
		case r.gone:
			// The tear runs down the last whole ray and up the next.
			if i > 0 && !s.rays[i-1].gone {
				ps = append(ps, s.rays[i-1].until(s.rays[i-1].cut, 0.14)...)
			}
			ps = append(ps, r.at(0.12))
			if i+1 < n && !s.rays[i+1].gone {
				ps = append(ps, s.rays[i+1].until(0.14, s.rays[i+1].cut)...)
			}
			continue
		case r.cut < 1:
			ps = append(ps, r.at(r.cut-0.06), r.at(r.cut))
		default:
			ps = append(ps, r.tip)
		}
		if i+1 == n {
			break
		}
		ps = append(ps, s.between(r, s.rays[i+1])...)
	}
	last := s.rays[n-1]
	if !last.gone && (s.spec.Kind == CaudalFin || s.spec.Kind == PectoralFin) {
		// The last ray is itself the edge.
		ps = append(ps, last.at(0.7), last.at(0.4), last.at(0.12))
	} else if !last.gone {
		ps = append(ps, quad(last.at(last.cut), last.at(0.62).lerp(s.end, 0.58), s.end, 10)[1:]...)
	}
	return append(ps, s.end)
}

// between is the edge from the tip of one element to its neighbour.
func (s *finShape) between(a, b ray) []Point {
	if b.gone || a.cut < 1 || b.cut < 1 {
		return nil
	}
	if a.kind == spine {
		cut := s.spec.Incision
		foot := b.at(1 - 0.38*cut)
		if b.kind != spine {
			foot = b.tip
		}
		mid := a.at(1-0.5*cut).lerp(b.at(1-0.5*cut), 0.5)
		return quad(a.tip, mid, foot, 8)[1:]
	}
	// A barely scalloped edge.
	mid := a.tip.lerp(b.tip, 0.5).lerp(a.at(0.9).lerp(b.at(0.9), 0.5), 0.22)
	return quad(a.tip, mid, b.tip, 4)[1:4]
}

// web is the closed membrane.
func (s *finShape) web() []Point {
	ps := s.margin()
	if s.spec.Kind == AdiposeFin {
		return ps
	}
	for i := len(s.rays) - 1; i >= 0; i-- {
		ps = append(ps, s.rays[i].base)
	}
	return ps
}

// adipose is the outline of a fin without rays.
func adipose(p *profile, spec FinSpec) []Point {
	a, b := p.cross(spec.From, -1), p.cross(spec.To, -1)
	h := spec.Height
	tip := Point{b.X + h*0.9, b.Y - h*0.95}
	ps := cubic(a, a.add(Point{h * 0.3, -h * 0.4}), tip.add(Point{-h * 0.9, -h * 0.5}), tip, 14)
	return append(ps, cubic(tip, tip.add(Point{h * 0.4, h * 0.3}), b.add(Point{h * 0.5, -h * 0.4}), b, 12)[1:]...)
}

// arc runs from the first element to the last at CountAt of their length, so
// that a walk along it meets each drawn stroke once.
func (s *finShape) arc() []Point {
	ps := make([]Point, 0, len(s.rays)+2)
	for _, r := range s.rays {
		ps = append(ps, r.at(CountAt))
	}
	return ps
}
