package draw

import (
	"math"
	"strconv"
)

// finish fits the paper round the figure, adds caption and scale bar, and turns
// places on paper into fractions.
func (g *figure) finish() *Drawing {
	d := g.d
	b := g.extent()
	side := max(0.07*(b.x1-b.x0), 4)
	foot := max(0.085*(b.x1-b.x0), 9)
	if g.o.Stage == Photograph {
		foot = max(0.16*(b.x1-b.x0), 18)
	}
	d.WidthMM = b.x1 - b.x0 + 2*side
	d.HeightMM = b.y1 - b.y0 + side*1.5 + foot
	move := Point{side - b.x0, side*1.5 - b.y0}
	g.shift(move)
	d.frame = g.frame
	d.Enlargement = g.frame.k / g.f.SL
	if g.o.Stage == Photograph {
		g.ruler(d.HeightMM - 0.5*foot)
		g.tag()
	} else {
		g.scaleBar(Point{d.WidthMM - side, d.HeightMM - foot*0.6})
		g.caption(Point{side, d.HeightMM - foot*0.5})
	}
	d.shapes = g.shapes
	for i := range d.shapes {
		d.shapes[i].measure()
	}
	d.Structures = g.structures()
	for i := range d.Landmarks {
		d.Landmarks[i].X /= d.WidthMM
		d.Landmarks[i].Y /= d.HeightMM
	}
	fractions := func(ps []Point) {
		for i := range ps {
			ps[i] = Point{ps[i].X / d.WidthMM, ps[i].Y / d.HeightMM}
		}
	}
	for i := range d.Fins {
		fractions(d.Fins[i].Bases)
		fractions(d.Fins[i].Tips)
		fractions(d.Fins[i].Arc)
	}
	ends := []Point{d.Bar.From, d.Bar.To}
	fractions(ends)
	d.Bar.From, d.Bar.To = ends[0], ends[1]
	return d
}

// extent is the box of everything drawn; for a detail of its subject alone.
func (g *figure) extent() box {
	b := emptyBox()
	for _, name := range g.order {
		r := g.regions[name]
		b = b.with(Point{r.x0, r.y0}, Point{r.x1, r.y1})
	}
	return b
}

// shift moves everything on paper.
func (g *figure) shift(by Point) {
	g.frame.dx += by.X
	g.frame.dy += by.Y
	for i := range g.shapes {
		for _, p := range g.shapes[i].paths {
			for j := range p {
				p[j] = p[j].add(by)
			}
		}
		for j := range g.shapes[i].dots {
			g.shapes[i].dots[j].p = g.shapes[i].dots[j].p.add(by)
		}
	}
	for name, r := range g.regions {
		g.regions[name] = box{r.x0 + by.X, r.y0 + by.Y, r.x1 + by.X, r.y1 + by.Y}
	}
	d := g.d
	for i := range d.Landmarks {
		d.Landmarks[i].X += by.X
		d.Landmarks[i].Y += by.Y
	}
	for _, f := range d.Fins {
		for _, ps := range [][]Point{f.Bases, f.Tips, f.Arc} {
			for j := range ps {
				ps[j] = ps[j].add(by)
			}
		}
	}
}

// structures turns regions into fractions and says how complete each is.
func (g *figure) structures() []Structure {
	var out []Structure
	clamp := func(v float64) float64 { return min(max(v, 0), 1) }
	for _, name := range g.order {
		r := g.regions[name]
		// A line has no height of its own; half a millimetre makes a region of it.
		r = r.with(Point{r.x0 - 0.25, r.y0 - 0.25}, Point{r.x1 + 0.25, r.y1 + 0.25})
		x0, y0 := clamp(r.x0/g.d.WidthMM), clamp(r.y0/g.d.HeightMM)
		x1, y1 := clamp(r.x1/g.d.WidthMM), clamp(r.y1/g.d.HeightMM)
		out = append(out, Structure{name, g.completeness(name), Rect{x0, y0, x1 - x0, y1 - y0}})
	}
	return out
}

func (g *figure) completeness(name string) string {
	dm := g.o.Damage
	if contains(dm.Hidden, name) {
		return Hidden
	}
	if contains(dm.Rebuilt, name) {
		return Reconstructed
	}
	for _, t := range dm.Torn {
		if t.Fin == name {
			return Damaged
		}
	}
	if name == "scales" {
		if g.o.Stage == Outline && g.o.View != Scale {
			return Partial
		}
		if dm.Scales > 0 {
			return Damaged
		}
	}
	return Complete
}

// scaleBar draws a bar of a round length that ends at the given corner.
func (g *figure) scaleBar(corner Point) {
	per := g.frame.k / g.f.SL // mm of paper per true mm
	long := niceLength(g.d.WidthMM * 0.17 / per)
	a := Point{corner.X - long*per, corner.Y}
	k := g.st.line.alpha(1)
	bar := func(a, b Point, w float64) {
		g.add(shape{paths: [][]Point{ribbon([]Point{a, b}, func(float64) float64 { return w })}, ink: k})
	}
	bar(a, corner, 0.35)
	const tick = 0.3 // inside the bar's length, so that its outer edges are true
	for _, q := range []Point{a.add(Point{tick / 2, 0}), corner.sub(Point{tick / 2, 0})} {
		bar(q.add(Point{0, -0.9}), q.add(Point{0, 0.9}), tick)
	}
	g.letter(trueLength(long), false, 2.6, Point{a.X, corner.Y + 3.6}, k)
	g.d.Bar = Bar{From: a, To: corner, TrueMM: long}
}

// trueLength writes a length as on a scale bar.
func trueLength(mm float64) string {
	if mm >= 10 && math.Mod(mm, 10) == 0 {
		return strconv.FormatFloat(mm/10, 'g', -1, 64) + " cm"
	}
	return strconv.FormatFloat(mm, 'g', -1, 64) + " mm"
}

// niceLength is the largest 1, 2 or 5 times a power of ten not above v.
func niceLength(v float64) float64 {
	e := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{5, 2} {
		if m*e <= v {
			return m * e
		}
	}
	return e
}

// letter sets text; a letter that the font lacks leaves the caption out.
func (g *figure) letter(text string, italic bool, size float64, at Point, k ink) float64 {
	paths, w, err := lettering(text, italic, size, at)
	if err != nil || len(paths) == 0 {
		return 0
	}
	g.add(shape{paths: paths, ink: k})
	return w
}

func (g *figure) caption(at Point) {
	if g.o.Caption != "" {
		g.letter(g.o.Caption, true, 3.2, at.add(Point{0, 2}), g.st.line.alpha(0.9))
	}
}

// ruler draws a steel rule with millimetres and centimetres at true scale.
func (g *figure) ruler(y float64) {
	per := g.frame.k / g.f.SL
	x0, x1 := g.d.WidthMM*0.1, g.d.WidthMM*0.9
	high := min(max(g.d.WidthMM*0.05, 5), 9)
	g.add(shape{paths: [][]Point{rectangle(x0+0.8, y+0.9, x1+0.8, y+high+0.9)}, ink: rgb(0x201b15).alpha(0.35)})
	g.add(shape{paths: [][]Point{rectangle(x0, y, x1, y+high)}, ink: rgb(0xcfc8ba)})
	k := rgb(0x1d1914)
	minor := niceLength(1.05 / per * 1.9) // ticks at least a millimetre of paper apart
	n := int((x1 - x0 - 4) / (minor * per))
	for i := range n + 1 {
		x := x0 + 2 + float64(i)*minor*per
		long, w := high*0.25, 0.12
		switch {
		case i%10 == 0:
			long, w = high*0.55, 0.24
			g.letter(strconv.FormatFloat(float64(i)*minor/10, 'g', 4, 64), false, 2.3, Point{x + 0.4, y + high*0.92}, k)
		case i%5 == 0:
			long = high * 0.4
		}
		g.add(shape{paths: [][]Point{rectangle(x-w/2, y, x+w/2, y+long)}, ink: k})
	}
	tens := n / 10 * 10
	if tens == 0 {
		tens = n
	}
	g.d.Bar = Bar{From: Point{x0 + 2, y}, To: Point{x0 + 2 + float64(tens)*minor*per, y}, TrueMM: float64(tens) * minor}
}

func rectangle(x0, y0, x1, y1 float64) []Point {
	return []Point{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}
}

// tag draws a paper label with the specimen's number, tied on with thread.
func (g *figure) tag() {
	if g.o.Tag == "" {
		return
	}
	w := 1.9*float64(len(g.o.Tag)) + 8
	x, y := g.d.WidthMM*0.06, 3.0
	g.add(shape{paths: [][]Point{rectangle(x+0.6, y+0.7, x+w+0.6, y+7.7)}, ink: rgb(0x201b15).alpha(0.3)})
	g.add(shape{paths: [][]Point{{{x, y + 2}, {x + 2, y}, {x + w, y}, {x + w, y + 7}, {x + 2, y + 7}, {x, y + 5}}}, ink: rgb(0xd9d0bb)})
	g.add(shape{paths: [][]Point{ellipse(Point{x + 2.2, y + 3.5}, 0.6, 0.6, 0)}, ink: rgb(0x4a4238)})
	g.letter(g.o.Tag, false, 3.1, Point{x + 4, y + 4.6}, rgb(0x2a241d))
}
