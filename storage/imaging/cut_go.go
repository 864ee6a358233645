package imaging

import (
	"context"
	"image"
	"image/draw"
	"math"
	"os"
)

// goCutAll decodes once, in pure Go, and makes all cuts of it.
func goCutAll(ctx context.Context, f *os.File, h Header, parts []part, profile []byte, out func(int) string) ([]CutInfo, error) {
	m, err := goPicture(f, h)
	if err != nil {
		return nil, err
	}
	if h.MediaType == GIF {
		m = onCanvas(m, h)
	}
	src := rasterOf(m, !h.layout.alpha)
	infos := make([]CutInfo, len(parts))
	for i, p := range parts {
		p.gray = p.gray || src.channels == 1
		infos[i] = p.info(goDecoderName(h.MediaType), h.cutWarnings())
		made, err := p.make(ctx, src)
		if err != nil {
			return nil, err
		}
		own := profile
		if p.gray == h.Color() || h.Model == CMYK { // it speaks of other samples
			own = nil
		}
		if own != nil {
			infos[i].ICCProfile = h.ICCProfile
		}
		if err := writePicture(out(i), made, p, own); err != nil {
			return nil, err
		}
	}
	return infos, nil
}

// onCanvas lays a first frame that may be smaller than the picture on white.
func onCanvas(m image.Image, h Header) image.Image {
	out := image.NewRGBA(image.Rect(0, 0, int(h.Width), int(h.Height)))
	draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
	draw.Draw(out, m.Bounds(), m, m.Bounds().Min, draw.Over)
	return out
}

// make takes the part out of src, scales and turns it.
func (p part) make(ctx context.Context, src raster) (image.Image, error) {
	channels := src.channels
	if p.gray {
		channels = 1
	}
	out := newFlat(p.outWidth, p.outHeight, channels, p.depth)
	set := out.setRow
	if src.channels == 3 && p.gray {
		light := newLightness()
		set = func(y int, v []float32) { out.setRow(y, light.row(v)) }
	}
	err := resample(ctx, src.crop(p.x, p.y, p.width, p.height), weights(p.width, p.outWidth), weights(p.height, p.outHeight), set)
	return p.turn.apply(out.image()), err
}

// crop is a part of a raster, read a row at a time.
func (r raster) crop(x, y, width, height int) raster {
	if x == 0 && y == 0 && width == r.width && height == r.height {
		return r
	}
	full := make([]float32, r.width*r.channels)
	return raster{width: width, height: height, channels: r.channels, row: func(row int, dst []float32) {
		r.row(y+row, full)
		copy(dst[:width*r.channels], full[x*r.channels:])
	}}
}

// weights are those of a tent when reducing, of a Catmull-Rom spline when enlarging.
func weights(n, m int) []taps { return weightsWithin(n, 0, float64(n), m) }

func weightsWithin(n int, from, long float64, m int) []taps {
	if float64(m) <= long {
		return tentWithin(n, from, long, m)
	}
	return catmullRom(n, from, long, m)
}

// Sample scales the part of m that begins at x, y and is so wide and high, all in pixels and fractions of them, to exactly outWidth by outHeight: by a
// tent filter when reducing, by a Catmull-Rom spline when enlarging. The result is gray if m is, else opaque color, of 8 bits.
func Sample(ctx context.Context, m image.Image, x, y, width, height float64, outWidth, outHeight int) (image.Image, error) {
	b := m.Bounds()
	src := rasterOf(m, false)
	// Only rows and columns that the filters reach are read.
	x0, x1 := max(int(x)-reach(width, outWidth), 0), min(int(x+width)+reach(width, outWidth), b.Dx())
	y0, y1 := max(int(y)-reach(height, outHeight), 0), min(int(y+height)+reach(height, outHeight), b.Dy())
	src = src.crop(x0, y0, x1-x0, y1-y0)
	out := newFlat(outWidth, outHeight, src.channels, 8)
	err := resample(ctx, src, weightsWithin(src.width, x-float64(x0), width, outWidth), weightsWithin(src.height, y-float64(y0), height, outHeight), out.setRow)
	return out.image(), err
}

// reach is how many samples beyond a stretch its filter may weigh.
func reach(long float64, m int) int { return 2 + int(math.Ceil(long/float64(m))) }

// Turn mirrors a picture, left and right exchanged, if mirror is set, then turns it clockwise by 0, 90, 180 or 270 degrees.
func Turn(m image.Image, mirror bool, degrees int) image.Image {
	return turn{mirror, degrees / 90 % 4}.apply(m)
}

// Lightness drops the colors of a picture and keeps how light they are.
func Lightness(m image.Image) image.Image {
	if _, ok := m.(*image.Gray); ok {
		return m
	}
	src := rasterOf(m, false)
	if src.channels == 1 {
		return m
	}
	out, light, line := newFlat(src.width, src.height, 1, 8), newLightness(), make([]float32, 3*src.width)
	for y := range src.height {
		src.row(y, line)
		out.setRow(y, light.row(line))
	}
	return out.image()
}

// catmullRom gives the weights of a cubic through the four samples around each place (Catmull and Rom 1974: tangents are half the difference of the neighbors). Beyond the edge
// the last sample goes on.
func catmullRom(n int, from, long float64, m int) []taps {
	out := make([]taps, m)
	for i := range out {
		at := from + (float64(i)+0.5)*long/float64(m) - 0.5
		base := int(math.Floor(at))
		t := at - float64(base)
		cubic := [4]float64{
			((2-t)*t - 1) * t / 2,
			((3*t-5)*t*t + 2) / 2,
			((4-3*t)*t + 1) * t / 2,
			(t - 1) * t * t / 2,
		}
		first, last := min(max(base-1, 0), n-1), max(min(base+2, n-1), 0)
		w := make([]float32, last-first+1)
		for k, v := range cubic {
			w[min(max(base-1+k, first), last)-first] += float32(v)
		}
		out[i] = taps{first, w}
	}
	return out
}

// lightness turns sRGB samples into gray of the same luminance (IEC 61966-2-1: transfer curve and, for D65, the weights of the three colors).
type lightness struct {
	linear [1<<12 + 1]float32 // of samples 0 to 255, in equal steps
	gray   []float32
}

func newLightness() *lightness {
	l := &lightness{}
	for i := range l.linear {
		v := float64(i) / (1 << 12)
		if v <= 0.04045 {
			l.linear[i] = float32(v / 12.92)
		} else {
			l.linear[i] = float32(math.Pow((v+0.055)/1.055, 2.4))
		}
	}
	return l
}

func (l *lightness) of(v float32) float32 {
	at := min(max(v, 0), 255) * (1 << 12) / 255
	i := min(int(at), 1<<12-1)
	return l.linear[i] + (at-float32(i))*(l.linear[i+1]-l.linear[i])
}

// row gives gray samples that hold until the next call. Samples that are gray already stay exactly what they are.
func (l *lightness) row(v []float32) []float32 {
	if l.gray == nil {
		l.gray = make([]float32, len(v)/3)
	}
	for x := range l.gray {
		r, g, b := v[3*x], v[3*x+1], v[3*x+2]
		if r == g && g == b {
			l.gray[x] = r
			continue
		}
		y := float64(0.2126*l.of(r) + 0.7152*l.of(g) + 0.0722*l.of(b))
		if y <= 0.0031308 {
			y *= 12.92
		} else {
			y = 1.055*math.Pow(y, 1/2.4) - 0.055
		}
		l.gray[x] = float32(255 * y)
	}
	return l.gray
}
