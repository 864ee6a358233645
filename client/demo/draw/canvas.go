package draw

import (
	"image"
	"image/color"
	"math"

	xdraw "image/draw"

	"golang.org/x/image/vector"
)

// ink is a paint: 16-bit channels and an opacity.
type ink struct {
	c [3]uint16
	a float64
}

func rgb(hex uint32) ink {
	return ink{[3]uint16{uint16(hex>>16&0xff) * 257, uint16(hex>>8&0xff) * 257, uint16(hex&0xff) * 257}, 1}
}

func (k ink) alpha(a float64) ink { return ink{k.c, a} }

// toward mixes two inks.
func (k ink) toward(o ink, t float64) ink {
	t = min(max(t, 0), 1)
	for i := range k.c {
		k.c[i] = uint16(float64(k.c[i])*(1-t) + float64(o.c[i])*t)
	}
	return k
}

// mid is halfway between two inks of one opacity.
func (k ink) mid(o ink) ink {
	for i := range k.c {
		k.c[i] = uint16((uint32(k.c[i]) + uint32(o.c[i])) / 2)
	}
	return k
}

// luma is the gray value of a color (Rec. 601 weights, as image/color has them).
func luma(c [3]uint16) uint16 {
	return uint16((19595*uint32(c[0]) + 38470*uint32(c[1]) + 7471*uint32(c[2]) + 1<<15) >> 16)
}

// canvas is a raster of 16-bit samples with one channel (gray) or three.
type canvas struct {
	w, h, ch int
	pix      []uint16
	ras      *vector.Rasterizer
	mask     image.Alpha
}

func newCanvas(w, h, ch int, paper ink) *canvas {
	c := &canvas{w: w, h: h, ch: ch, pix: make([]uint16, w*h*ch), ras: vector.NewRasterizer(1, 1)}
	c.ras.DrawOp = xdraw.Src
	if ch == 1 {
		paper.c[0] = luma(paper.c)
	}
	// Fill by doubling what is there.
	n := copy(c.pix, paper.c[:ch])
	for n < len(c.pix) {
		n += copy(c.pix[n:], c.pix[:n])
	}
	return c
}

// cover rasterises closed paths (pixels) and hands every row of coverage to f.
func (c *canvas) cover(paths [][]Point, f func(x, y int, row []uint8)) {
	b := emptyBox()
	for _, p := range paths {
		b = b.with(p...)
	}
	x0, y0 := max(int(math.Floor(b.x0)), 0), max(int(math.Floor(b.y0)), 0)
	x1, y1 := min(int(math.Ceil(b.x1)), c.w), min(int(math.Ceil(b.y1)), c.h)
	if b.empty() || x0 >= x1 || y0 >= y1 {
		return
	}
	w, h := x1-x0, y1-y0
	c.ras.Reset(w, h)
	c.ras.DrawOp = xdraw.Src
	for _, p := range paths {
		for i, q := range p {
			x, y := float32(q.X-float64(x0)), float32(q.Y-float64(y0))
			if i == 0 {
				c.ras.MoveTo(x, y)
			} else {
				c.ras.LineTo(x, y)
			}
		}
		c.ras.ClosePath()
	}
	if cap(c.mask.Pix) < w*h {
		c.mask.Pix = make([]uint8, w*h)
	}
	c.mask = image.Alpha{Pix: c.mask.Pix[:w*h], Stride: w, Rect: image.Rect(0, 0, w, h)}
	c.ras.Draw(&c.mask, c.mask.Rect, image.Opaque, image.Point{})
	for y := range h {
		f(x0, y0+y, c.mask.Pix[y*w:(y+1)*w])
	}
}

// blend lays a color over one pixel.
func (c *canvas) blend(i int, col [3]uint16, a float64) {
	k := uint32(a*65536 + 0.5)
	if c.ch == 1 {
		c.pix[i] = lay(c.pix[i], luma(col), k)
		return
	}
	p := c.pix[i*3 : i*3+3 : i*3+3]
	p[0], p[1], p[2] = lay(p[0], col[0], k), lay(p[1], col[1], k), lay(p[2], col[2], k)
}

func lay(under, over uint16, k uint32) uint16 {
	return uint16((uint64(under)*uint64(65536-k) + uint64(over)*uint64(k)) >> 16)
}

func (c *canvas) fill(paths [][]Point, k ink) {
	c.cover(paths, func(x, y int, row []uint8) {
		for i, m := range row {
			if m != 0 {
				c.blend(y*c.w+x+i, k.c, k.a*float64(m)/255)
			}
		}
	})
}

// disc draws a dot without going through the rasteriser: stippling has tens of
// thousands of them.
func (c *canvas) disc(p Point, r float64, k ink) {
	x0, x1 := max(int(p.X-r-1), 0), min(int(p.X+r+2), c.w)
	y0, y1 := max(int(p.Y-r-1), 0), min(int(p.Y+r+2), c.h)
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			d := r + 0.5 - math.Hypot(float64(x)+0.5-p.X, float64(y)+0.5-p.Y)
			if d > 0 {
				c.blend(y*c.w+x, k.c, k.a*min(d, 1)*min(2*r, 1))
			}
		}
	}
}

// Raster is a finished picture of 16-bit samples; it is an image.Image.
type Raster struct {
	W, H, Channels int
	Pix            []uint16 // row by row, channels interleaved
	PPI            float64
}

// ColorModel implements image.Image.
func (r *Raster) ColorModel() color.Model {
	if r.Channels == 1 {
		return color.Gray16Model
	}
	return color.RGBA64Model
}

// Bounds implements image.Image.
func (r *Raster) Bounds() image.Rectangle { return image.Rect(0, 0, r.W, r.H) }

// At implements image.Image.
func (r *Raster) At(x, y int) color.Color {
	if r.Channels == 1 {
		return color.Gray16{Y: r.Pix[y*r.W+x]}
	}
	p := r.Pix[(y*r.W+x)*3:]
	return color.RGBA64{R: p[0], G: p[1], B: p[2], A: 0xffff}
}

// Eight is the picture with 8-bit samples, as encoders want it.
func (r *Raster) Eight() image.Image {
	if r.Channels == 1 {
		g := image.NewGray(r.Bounds())
		for i, v := range r.Pix {
			g.Pix[i] = uint8(v >> 8)
		}
		return g
	}
	m := image.NewRGBA(r.Bounds())
	for i, j := 0, 0; i < len(r.Pix); i, j = i+3, j+4 {
		m.Pix[j], m.Pix[j+1], m.Pix[j+2], m.Pix[j+3] = uint8(r.Pix[i]>>8), uint8(r.Pix[i+1]>>8), uint8(r.Pix[i+2]>>8), 255
	}
	return m
}
