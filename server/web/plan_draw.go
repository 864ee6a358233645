package web

import (
	"fmt"
	"math"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// Drawings of a plan: crops, the composite at one scale and fin bases, as shapes that templates write as SVG. All numbers are in the drawing's own units; what is placed is in mm of animal.

// crop is a part of a picture, shown through a window.
type crop struct {
	Href       string
	Title      string
	X, Y, W, H float64 // of the window, pixels of the original
	FullW      float64 // of the original
	FullH      float64
	Mirror     bool
	id         string
}

// cropOf shows the region of a picture, or all of it; nil without a scan.
func cropOf(p *pb.Picture, r *pb.Region, mirror bool) *crop {
	o := p.GetOriginal()
	if o.GetWidth() == 0 || o.GetHeight() == 0 {
		return nil
	}
	_, id, _ := strings.Cut(p.GetName(), "/")
	c := &crop{Href: "/file/" + id + "/preview-1600", Title: p.GetTitle(), id: id, FullW: float64(o.GetWidth()), FullH: float64(o.GetHeight()), Mirror: mirror}
	c.W, c.H = c.FullW, c.FullH
	if r != nil {
		c.X, c.Y, c.W, c.H = r.GetX()*c.FullW, r.GetY()*c.FullH, r.GetWidth()*c.FullW, r.GetHeight()*c.FullH
	}
	return c
}

// Size in which candidates are shown, pixels: twice that of the page, for fine screens.
const (
	smallWidth  = 640
	smallHeight = 440
)

// Small is the address of the crop by itself (IIIF Image API 3.0). Nothing is enlarged.
func (c *crop) Small() string {
	turn, size := "0", fmt.Sprintf("!%d,%d", smallWidth, smallHeight)
	if c.Mirror {
		turn = "!0"
	}
	if c.W < smallWidth+2 && c.H < smallHeight+2 { // fractions of a pixel are rounded by the service
		size = "max"
	}
	return fmt.Sprintf("/iiif/3/%s/pct:%.3f,%.3f,%.3f,%.3f/%s/%s/default.jpg", c.id, 100*c.X/c.FullW, 100*c.Y/c.FullH, 100*c.W/c.FullW, 100*c.H/c.FullH, size, turn)
}

// Box is the window as an SVG viewBox.
func (c *crop) Box() string { return fmt.Sprintf("%.1f %.1f %.1f %.1f", c.X, c.Y, c.W, c.H) }

// Turn mirrors the window in itself, where the picture must be mirrored to give the view wanted.
func (c *crop) Turn() string {
	if !c.Mirror {
		return ""
	}
	return fmt.Sprintf("translate(%.1f 0) scale(-1 1)", 2*c.X+c.W)
}

// composite is the body and the parts chosen from other pictures, at one scale.
type composite struct {
	Width, Height float64 // mm
	Pieces        []piece
	Bar           float64 // length of the scale bar, mm
	BarX, BarY    float64
	Type          float64 // size of lettering, mm
	Without       []string
}

// piece is a crop in its place.
type piece struct {
	*crop
	Structure        string
	Left, Top        float64 // mm
	Across, Down     float64 // mm
	LetterX, LetterY float64
}

// compose lays the body out with the parts chosen from other pictures below it. Nil without a body of known scale.
func compose(p *pb.Plan) *composite {
	body := p.GetBody()
	c := cropOf(body.GetPicture(), body.GetRegion(), body.GetMirror())
	scale := scaleOf(body.GetScale())
	if c == nil || scale == 0 {
		return nil
	}
	out := &composite{Width: c.W * scale}
	gap, letter := out.Width*0.025, out.Width*0.017
	out.Type = letter
	out.Pieces = append(out.Pieces, piece{crop: c, Structure: "body", Across: c.W * scale, Down: c.H * scale, LetterX: 0, LetterY: c.H*scale + letter*1.4})
	x, y, row := 0.0, c.H*scale+letter*3, 0.0
	for _, part := range p.GetStructures() {
		for _, cand := range part.GetCandidates() {
			if !cand.GetChosen() || cand.GetPicture().GetName() == body.GetPicture().GetName() {
				continue
			}
			window, s := cropOf(cand.GetPicture(), cand.GetRegion(), cand.GetMirror()), scaleOf(cand.GetScale())
			if window == nil || s == 0 {
				out.Without = append(out.Without, part.GetStructure()+" of "+cand.GetPicture().GetTitle()+": "+firstOf(cand.GetScale().GetProblem(), "no scale is known"))
				continue
			}
			w, h := window.W*s, window.H*s
			room := math.Max(w, letter*0.55*float64(len(part.GetStructure())))
			if x > 0 && x+room > out.Width {
				x, y, row = 0, y+row+letter*3, 0
			}
			out.Pieces = append(out.Pieces, piece{crop: window, Structure: part.GetStructure(), Left: x, Top: y, Across: w, Down: h, LetterX: x, LetterY: y + h + letter*1.4})
			x, row = x+room+gap, math.Max(row, h)
			out.Width = math.Max(out.Width, x-gap)
		}
	}
	if row > 0 {
		y += row + letter*3
	}
	out.Bar, out.BarX, out.BarY = roundLength(out.Width/6), 0, y+letter
	out.Height = out.BarY + letter*2
	return out
}

// scaleOf is the scale at which a picture is laid beside others: the animals' standard lengths made equal, if that is known.
func scaleOf(s *pb.PictureScale) float64 {
	if x := s.GetToSizeMmPerPixel(); x > 0 {
		return x
	}
	return s.GetMmPerPixel()
}

func firstOf(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// roundLength is the longest of 1, 2 and 5 times a power of ten that is at most x.
func roundLength(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(x)))
	for _, n := range []float64{5, 2} {
		if n*unit <= x {
			return n * unit
		}
	}
	return unit
}

// Box is the drawing as an SVG viewBox.
func (c *composite) Box() string {
	return fmt.Sprintf("%.2f %.2f %.2f %.2f", -0.01*c.Width, -0.01*c.Width, 1.02*c.Width, c.Height+0.02*c.Width)
}

// Stroke is the width of the bar's line, mm.
func (c *composite) Stroke() float64 { return c.Width / 300 }

// BarEnd is where the bar ends.
func (c *composite) BarEnd() float64 { return c.BarX + c.Bar }

// BarLetter is where the bar's lettering begins.
func (c *composite) BarLetter() float64 { return c.BarX + c.Bar + c.Type/2 }

// rayDrawing is a fin base with its spines and rays along the body's midline, which is 1000 units long.
type rayDrawing struct {
	*pb.RayMap
	Marks         []rayMark
	Top, Height   float64
	Spines, Rays  int
	First, Behind string // where the base begins and ends, percent of standard length
}

type rayMark struct {
	X, Y, EndX, EndY float64
	Spine            bool
}

const midline = 1000

// drawRays places each base over the midline; spines are drawn longer than rays, so that they are told apart without color.
func drawRays(m *pb.RayMap) rayDrawing {
	out := rayDrawing{RayMap: m}
	low, high := 0.0, 0.0
	for i, b := range m.GetBases() {
		x, y := b.GetOfStandardLength()*midline, -b.GetAboveMidline()*midline
		length := 35.0
		if b.GetSpine() {
			length = 60
			out.Spines++
		} else {
			out.Rays++
		}
		if b.GetAboveMidline() < 0 {
			length = -length
		}
		out.Marks = append(out.Marks, rayMark{x, y, x + math.Abs(length)/3, y - length, b.GetSpine()})
		low, high = math.Min(low, y-length), math.Max(high, y-length)
		percent := fmt.Sprintf("%.1f", 100*b.GetOfStandardLength())
		if i == 0 {
			out.First = percent
		}
		out.Behind = percent
	}
	out.Top, out.Height = low-20, high-low+40
	return out
}
