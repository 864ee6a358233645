package draw

import (
	"fmt"
	"math"
)

// figure is a lateral drawing in the making.
type figure struct {
	pen
	f       Fish
	o       Options
	st      style
	fins    []finShape
	d       *Drawing
	regions map[string]box
	order   []string // of structures, as first drawn
}

// style is the set of inks and weights of a stage.
type style struct {
	paper, line, fine, web ink
	tone                   bool    // shade the body
	heavy                  float64 // factor on contour lines
}

func styleOf(s Stage, p Palette) style {
	black, pencil := rgb(0x1a1816), rgb(0x4c463f)
	switch s {
	case ColorStudy:
		return style{paper: rgb(0xf5efe2), line: pencil.alpha(0.85), fine: pencil.alpha(0.6), web: rgb(p.Fin).alpha(0.35), tone: true, heavy: 0.7}
	case FinalColor:
		return style{paper: rgb(0xfcfaf5), line: rgb(0x2a2420), fine: rgb(0x2e2823).alpha(0.72), web: rgb(p.Fin).alpha(0.6), tone: true, heavy: 0.62}
	case Photograph:
		return style{paper: rgb(0x8d8478), line: rgb(0x2c261f).alpha(0.6), fine: rgb(0x2c261f).alpha(0.55), web: rgb(0xc4b79c).alpha(0.6), tone: true, heavy: 0.6}
	case Stipple, Hatching, FinalInk:
		return style{paper: rgb(0xfefefe), line: black, fine: black, web: rgb(0xfefefe), tone: true, heavy: 1}
	default:
		return style{paper: rgb(0xffffff), line: black, fine: black, web: rgb(0xffffff), heavy: 1}
	}
}

// Draw makes the drawing of a fish that the options ask for.
func Draw(f Fish, o Options) (*Drawing, error) {
	if err := f.Validate(); err != nil {
		return nil, err
	}
	if o.Length <= 0 || o.Length > 1000 {
		return nil, fmt.Errorf("%w: drawn length %g mm, want up to 1000", ErrFish, o.Length)
	}
	g := newFigure(f, o)
	switch o.View {
	case Left, Right:
		g.lateral()
	case Head:
		g.headOnly()
	case Fin:
		if err := g.finOnly(); err != nil {
			return nil, err
		}
	case Scale:
		g.scalesOnly()
	case Dorsal:
		g.fromAbove()
	default:
		return nil, fmt.Errorf("%w: unknown view %d", ErrFish, o.View)
	}
	return g.finish(), nil
}

func newFigure(f Fish, o Options) *figure {
	prof := newProfile(f, o.Damage.Bend)
	g := &figure{f: f, o: o, st: styleOf(o.Stage, f.Palette), regions: map[string]box{}}
	g.pen = pen{prof: prof, weight: min(max(math.Sqrt(o.Length/130), 0.7), 1.4),
		frame: frame{k: o.Length, mirror: o.View == Right}}
	g.d = &Drawing{stage: o.Stage, prof: prof, paper: g.st.paper, seed: o.Seed}
	for _, spec := range f.Fins {
		s := layout(f, prof, spec)
		for _, t := range o.Damage.Torn {
			if t.Fin == spec.Name {
				s.tear(t, o.Seed)
			}
		}
		g.fins = append(g.fins, s)
	}
	return g
}

// lateral draws the whole fish from one side.
func (g *figure) lateral() {
	if g.o.Stage == Photograph {
		g.shadow()
	}
	for _, s := range g.fins {
		switch s.spec.Kind {
		case DorsalFin, AnalFin, CaudalFin, AdiposeFin, PelvicFin:
			g.fin(s)
		case PectoralFin:
		}
	}
	g.trunk()
	g.contour(0, 1)
	g.head()
	for _, s := range g.fins {
		if s.spec.Kind == PectoralFin {
			g.fin(s)
		}
	}
	g.marks()
}

// trunk paints the body: ground, tone, scales and lateral line.
func (g *figure) trunk() {
	out := g.prof.outline()
	g.note("body", out)
	switch {
	case g.o.Stage.Color():
		g.shade(out, g.bodyPaint())
	default:
		g.fill(out, g.st.paper)
	}
	switch g.o.Stage {
	case Stipple, FinalInk:
		g.stipple()
	case Hatching:
		g.hatch()
	default:
	}
	g.squamation()
	g.lateralLine()
}

// contour inks the profiles between two places; the belly line is heavier, as
// if the light came from above.
func (g *figure) contour(x0, x1 float64) {
	k := g.st.line
	back, low := g.prof.back(x0, x1), g.prof.belly(x0, x1)
	g.stroke(back, k, func(t float64) float64 { return g.st.heavy * (0.26 + 0.1*math.Sin(math.Pi*t)) })
	if x1 == 1 {
		u, l := g.prof.upper(1), g.prof.lower(1)
		g.swell(quad(Point{1, -u}, Point{1 + (u+l)*tailBulge, 0}, Point{1, l}, 10), 0.2*g.st.heavy, g.st.fine)
	}
	g.stroke(low, k, func(t float64) float64 { return g.st.heavy * (0.3 + 0.2*math.Sin(math.Pi*t)) })
}

// note remembers what region a structure covers.
func (g *figure) note(name string, ps []Point) {
	b, ok := g.regions[name]
	if !ok {
		b = emptyBox()
		g.order = append(g.order, name)
	}
	g.regions[name] = b.with(g.mapAll(ps)...)
}

// mark adds a landmark, in paper mm until the figure is finished.
func (g *figure) mark(name string, q Point) {
	m := g.map1(q)
	g.d.Landmarks = append(g.d.Landmarks, Landmark{name, m.X, m.Y})
}

// midlinePoints is the number of points that follow the midline of a bent body.
const midlinePoints = 7

// marks adds the landmarks of a whole fish.
func (g *figure) marks() {
	f := g.f.Face
	g.mark(SnoutTip, Point{})
	g.mark(HypuralEnd, Point{1, 0})
	g.mark(OpercleEdge, Point{f.Head, 0.05 * g.prof.lower(f.Head)})
	eye := g.eyeCentre()
	g.mark(EyeFront, eye.sub(Point{f.Eye / 2, 0}))
	g.mark(EyeRear, eye.add(Point{f.Eye / 2, 0}))
	deep := g.prof.deepest()
	g.mark(BackDeepest, g.prof.cross(deep, -1))
	g.mark(BellyDeepest, g.prof.cross(deep, 1))
	if g.o.Damage.Bend != 0 {
		for i := range midlinePoints {
			g.mark(MidlinePoint(i+1), Point{float64(i) / (midlinePoints - 1), 0})
		}
	}
	dorsal, anal := false, false
	for _, s := range g.fins {
		if len(s.rays) == 0 {
			continue
		}
		switch {
		case s.spec.Kind == DorsalFin && !dorsal:
			dorsal = true
			g.mark(DorsalOrigin, s.rays[0].base)
		case s.spec.Kind == AnalFin && !anal:
			anal = true
			g.mark(AnalOrigin, s.rays[0].base)
		case s.spec.Kind == CaudalFin && !g.hidden(s.spec.Name):
			g.mark(ForkPoint, s.rays[len(s.rays)/2].tip)
			far := s.rays[0].tip
			for _, r := range s.rays {
				if r.tip.X > far.X {
					far = r.tip
				}
			}
			g.mark(TailTip, far)
		}
	}
}

func (g *figure) hidden(name string) bool { return contains(g.o.Damage.Hidden, name) }

func contains(list []string, name string) bool {
	for _, s := range list {
		if s == name {
			return true
		}
	}
	return false
}
