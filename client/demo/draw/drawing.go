package draw

import (
	"fmt"
	"math"
)

// Structure is an anatomical part of a drawing.
type Structure struct {
	Name         string
	Completeness string
	Region       Rect
}

// Landmark is a point with a name, in fractions of width and height.
type Landmark struct {
	Name string
	X, Y float64
}

// Names of landmarks.
const (
	SnoutTip     = "snout tip"
	HypuralEnd   = "hypural end"
	ForkPoint    = "fork"
	TailTip      = "tail tip"
	DorsalOrigin = "dorsal origin"
	AnalOrigin   = "anal origin"
	OpercleEdge  = "opercle edge"
	EyeFront     = "eye front"
	EyeRear      = "eye rear"
	BackDeepest  = "back at greatest depth"
	BellyDeepest = "belly at greatest depth"
)

// MidlinePoint is the name of point n of a bent midline, from 1 at the snout tip.
func MidlinePoint(n int) string { return fmt.Sprintf("midline %d", n) }

// DrawnFin is what was drawn of one fin. Points are fractions of the drawing.
type DrawnFin struct {
	Name               string
	Spines, Soft       int     // strokes drawn
	MissSpines, Missed int     // strokes left out: spines, soft rays
	Bases, Tips        []Point // of every stroke drawn
	Arc                []Point // crosses every stroke once, at CountAt of its length
}

// Bar is the scale bar: its ends in fractions and what it stands for.
type Bar struct {
	From, To Point
	TrueMM   float64
}

// Drawing is a figure on paper: shapes and the geometry of what they show.
type Drawing struct {
	WidthMM, HeightMM float64
	Enlargement       float64 // paper length over true length
	Structures        []Structure
	Landmarks         []Landmark
	Fins              []DrawnFin
	Bar               Bar
	LateralLine       int // scales or pores drawn in the lateral line

	stage  Stage
	frame  frame
	prof   *profile
	shapes []shape
	paper  ink
	seed   uint64
}

// Landmark returns the landmark of that name.
func (d *Drawing) Landmark(name string) (Landmark, bool) {
	for _, l := range d.Landmarks {
		if l.Name == name {
			return l, true
		}
	}
	return Landmark{}, false
}

// Fin returns what was drawn of the fin of that name.
func (d *Drawing) Fin(name string) (DrawnFin, bool) {
	for _, f := range d.Fins {
		if f.Name == name {
			return f, true
		}
	}
	return DrawnFin{}, false
}

// maxPixels bounds one raster: 100 megapixels of three 16-bit channels are 600 MB.
const maxPixels = 100e6

// Render rasterises the whole drawing.
func (d *Drawing) Render(ppi float64) (*Raster, error) {
	return d.RenderPart(ppi, Rect{0, 0, 1, 1})
}

// RenderPart rasterises a rectangle of the drawing.
func (d *Drawing) RenderPart(ppi float64, part Rect) (*Raster, error) {
	s := ppi / 25.4
	w := int(math.Round(part.W * d.WidthMM * s))
	h := int(math.Round(part.H * d.HeightMM * s))
	if w < 1 || h < 1 || float64(w)*float64(h) > maxPixels {
		return nil, fmt.Errorf("raster of %d by %d pixels at %g ppi: want 1 to %g pixels", w, h, ppi, float64(maxPixels))
	}
	ch := 1
	if d.stage.Color() {
		ch = 3
	}
	c := newCanvas(w, h, ch, d.paper)
	off := Point{part.X * d.WidthMM, part.Y * d.HeightMM}
	view := box{off.X - 1, off.Y - 1, off.X + float64(w)/s + 1, off.Y + float64(h)/s + 1}
	for _, sh := range d.shapes {
		if !sh.box.meets(view) {
			continue
		}
		d.paintShape(c, sh, s, off)
	}
	if d.stage == Photograph {
		c.develop(d.seed)
	}
	return &Raster{W: w, H: h, Channels: ch, Pix: c.pix, PPI: ppi}, nil
}

// paintShape draws one shape; s is pixels per mm.
func (d *Drawing) paintShape(c *canvas, sh shape, s float64, off Point) {
	px := func(p Point) Point { return p.sub(off).mul(s) }
	for _, dt := range sh.dots {
		c.disc(px(dt.p), dt.r*s, sh.ink)
	}
	if len(sh.paths) == 0 {
		return
	}
	paths := make([][]Point, len(sh.paths))
	for i, p := range sh.paths {
		q := make([]Point, len(p))
		for j, v := range p {
			q[j] = px(v)
		}
		paths[i] = q
	}
	if sh.paint == nil {
		c.fill(paths, sh.ink)
		return
	}
	g := grid{paint: func(x, y int) ink {
		q := d.frame.from(Point{(float64(x) + 0.5) / s, (float64(y) + 0.5) / s}.add(off))
		q.Y -= d.prof.sag(q.X)
		return sh.paint(q)
	}}
	c.cover(paths, func(x, y int, row []uint8) {
		g.row(y, x, len(row))
		for i, m := range row {
			if m == 0 {
				continue
			}
			k := g.at(x+i, y)
			c.blend(y*c.w+x+i, k.c, k.a*float64(m)/255)
		}
	})
}
