package imaging

import (
	"image"
	"image/color"
)

// rasterOf reads a decoded image as samples: gray stays one channel, everything else becomes RGB, transparency is laid on white. The common
// types are read from their bytes, since At would cost some 50 ns a pixel.
func rasterOf(m image.Image, opaque bool) raster {
	b := m.Bounds()
	r := raster{width: b.Dx(), height: b.Dy(), channels: 3}
	switch m := m.(type) {
	case *image.Gray:
		r.channels, r.row = 1, func(y int, dst []float32) {
			for x, v := range m.Pix[y*m.Stride:][:r.width] {
				dst[x] = float32(v)
			}
		}
	case *image.Gray16:
		r.channels, r.row = 1, func(y int, dst []float32) { wideRow(m.Pix[y*m.Stride:][:2*r.width], dst) }
	case *image.Paletted:
		r.channels, r.row = paletteRows(m, r.width)
	case *image.YCbCr:
		r.row = ycbcrRow(m, r.width)
	case *image.RGBA:
		r.row = func(y int, dst []float32) { byteRow(m.Pix[y*m.Stride:][:4*r.width], dst, opaque, true) }
	case *image.NRGBA:
		r.row = func(y int, dst []float32) { byteRow(m.Pix[y*m.Stride:][:4*r.width], dst, opaque, false) }
	case *image.RGBA64:
		r.row = wideRGBA(m.Pix, m.Stride, r.width, opaque, true)
	case *image.NRGBA64:
		r.row = wideRGBA(m.Pix, m.Stride, r.width, opaque, false)
	default:
		r.row = func(y int, dst []float32) {
			for x := range r.width {
				onWhite(m.At(b.Min.X+x, b.Min.Y+y), dst[3*x:])
			}
		}
	}
	return r
}

// onWhite lays one color on white paper.
func onWhite(c color.Color, dst []float32) {
	r, g, b, a := c.RGBA()
	rest := 0xffff - a
	dst[0], dst[1], dst[2] = float32(r+rest)/257, float32(g+rest)/257, float32(b+rest)/257
}

func wideRow(pix []byte, dst []float32) {
	for x := range len(pix) / 2 {
		dst[x] = float32(uint16(pix[2*x])<<8|uint16(pix[2*x+1])) / 257
	}
}

// byteRow reads RGBA bytes; premultiplied says whether color was multiplied by transparency already, opaque that the fourth byte means nothing.
func byteRow(pix []byte, dst []float32, opaque, premultiplied bool) {
	for x := range len(pix) / 4 {
		p, d := pix[4*x:4*x+4], dst[3*x:3*x+3]
		d[0], d[1], d[2] = float32(p[0]), float32(p[1]), float32(p[2])
		if !opaque && p[3] != 0xff {
			blend(d, float32(p[3])/255, premultiplied)
		}
	}
}

func wideRGBA(pix []byte, stride, width int, opaque, premultiplied bool) func(int, []float32) {
	wide := make([]float32, 4*width)
	return func(y int, dst []float32) {
		wideRow(pix[y*stride:][:8*width], wide)
		for x := range width {
			d := dst[3*x : 3*x+3]
			copy(d, wide[4*x:])
			if a := wide[4*x+3]; !opaque && a != 255 {
				blend(d, a/255, premultiplied)
			}
		}
	}
}

func blend(d []float32, alpha float32, premultiplied bool) {
	for i := range d {
		if !premultiplied {
			d[i] *= alpha
		}
		d[i] += 255 * (1 - alpha)
	}
}

func ycbcrRow(m *image.YCbCr, width int) func(int, []float32) {
	b := m.Bounds()
	return func(y int, dst []float32) {
		for x := range width {
			yo, co := m.YOffset(b.Min.X+x, b.Min.Y+y), m.COffset(b.Min.X+x, b.Min.Y+y)
			r, g, bl := color.YCbCrToRGB(m.Y[yo], m.Cb[co], m.Cr[co])
			dst[3*x], dst[3*x+1], dst[3*x+2] = float32(r), float32(g), float32(bl)
		}
	}
}

// paletteRows looks colors up; a palette of grays alone gives one channel.
func paletteRows(m *image.Paletted, width int) (channels int, row func(int, []float32)) {
	var table [256][3]float32
	channels = 1
	for i, c := range m.Palette[:min(len(m.Palette), 256)] {
		onWhite(c, table[i][:])
		if t := table[i]; t[0] != t[1] || t[1] != t[2] {
			channels = 3
		}
	}
	return channels, func(y int, dst []float32) {
		for x, v := range m.Pix[y*m.Stride:][:width] {
			copy(dst[channels*x:channels*x+channels], table[v][:])
		}
	}
}
