package draw

import "math"

// lineY is the height of the lateral line at x: it rises to Arch behind the
// head and meets the axis at Straight.
func (g *figure) lineY(x float64) float64 {
	s := g.f.Scales
	return -s.Arch * g.prof.upper(x) * (1 - ramp(g.f.Face.Head, or(s.Straight, 0.8), x))
}

// lateralLine draws every pored scale of the lateral line as one small tube, so
// that they can be counted, and scutes at its end.
func (g *figure) lateralLine() {
	n := g.f.Scales.LateralLine
	if n == 0 {
		return
	}
	x0 := g.f.Face.Head * 0.965
	step := (1 - x0) / float64(n)
	w := 0.26 * g.st.heavy
	var all []Point
	for i := range n {
		x := x0 + (float64(i)+0.5)*step
		a, b := Point{x - 0.33*step, g.lineY(x - 0.33*step)}, Point{x + 0.33*step, g.lineY(x + 0.33*step)}
		g.line([]Point{a, a.lerp(b, 0.5).add(Point{0, -0.0006}), b}, w, 0.6*w, g.st.line)
		all = append(all, a, b)
		if i >= n-g.f.Scales.Scutes {
			h := 0.012
			g.line([]Point{{x - step*0.4, a.Y - h}, {x + step*0.5, a.Y}, {x - step*0.4, a.Y + h}}, 0.2, 0.2, g.st.line)
		}
	}
	g.note("lateral line", all)
	g.d.LateralLine = n
}

// behindOpercle reports whether a place on the flank is clear of the gill cover.
func (g *figure) behindOpercle(x, v float64) bool {
	if v < -0.62 {
		return x > g.f.Face.Head*(0.8-0.4*(-v-0.62)) // the nape is scaled
	}
	return x > g.opercleEdge(v)+0.006
}

// bare reports whether scales are lost at a place.
func (g *figure) bare(q Point) bool {
	return g.o.Damage.Scales > 0 && cloud(g.o.Seed+77, q.X*11, q.Y*15) < 0.2+0.6*g.o.Damage.Scales
}

// squamation draws the scales: all of them on toned stages, a patch with a
// ragged edge on an outline.
func (g *figure) squamation() {
	s := g.f.Scales
	if s.Rows == 0 {
		return
	}
	k, w := g.scaleInk()
	n := int(min(max(float64(or2(s.LateralLine, 2*s.Rows)), 14), 130))
	sx := (1 - g.f.Face.Head*0.9) / float64(n)
	rows := s.Rows
	var patch []Point
	for row := range rows {
		v0 := -0.93 + 1.9*(float64(row)+0.5)/float64(rows)
		for col := -n / 3; col < n; col++ {
			x := g.f.Face.Head*0.9 + (float64(col)+0.5*float64(row%2))*sx
			if x < 0.1 || x > 0.995 || !g.behindOpercle(x, v0) {
				continue
			}
			c := g.prof.cross(x, v0)
			if g.bare(c) || (g.o.Stage == Outline && !g.inPatch(x, v0, row, col)) {
				continue
			}
			half := 0.95 * math.Abs(g.prof.cross(x, v0+1/float64(rows)).Y-c.Y)
			ps := quad(c.add(Point{-0.1 * sx, -half}), c.add(Point{1.05 * sx, 0}), c.add(Point{-0.1 * sx, half}), 6)
			g.stroke(ps, k, func(t float64) float64 { return w * (0.4 + 0.6*math.Sin(math.Pi*t)) })
			patch = append(patch, c)
		}
	}
	if len(patch) > 0 {
		g.note("scales", patch)
	}
}

func or2(a, b int) int {
	if a == 0 {
		return b
	}
	return a
}

// scaleInk is fainter and finer the smaller the scales are.
func (g *figure) scaleInk() (ink, float64) {
	fine := min(30/float64(max(g.f.Scales.Rows, 1)), 1.2)
	switch g.o.Stage {
	case FinalColor:
		return rgb(g.f.Palette.Back).toward(rgb(0x201a16), 0.5).alpha(0.34), 0.15 * max(fine, 0.7)
	case Photograph:
		return rgb(0x2e261d).alpha(0.3), 0.16 * max(fine, 0.7)
	case ColorStudy:
		return g.st.fine.alpha(0.22), 0.13
	case Stipple, Hatching:
		return g.st.fine.alpha(0.55), 0.1 * max(fine, 0.6)
	default:
		return g.st.fine.alpha(0.8), 0.12 * max(fine, 0.6)
	}
}

// inPatch is the part of the flank on which an outline shows scales.
func (g *figure) inPatch(x, v float64, row, col int) bool {
	h := g.f.Face.Head
	dx := (x - (h + 0.24*(1-h)*1.2)) / (0.25 * (1 - h) * 1.25)
	dv := (v + 0.08) / 0.5
	d := math.Pow(math.Abs(dx), 3) + math.Pow(math.Abs(dv), 3)
	return d < 0.75 || (d < 1 && mix(g.o.Seed, row, col, 21) < (1-d)*3)
}
