package draw

import (
	"fmt"
	"math"
)

// Tally counts the strokes of a fin on the raster alone: it walks along the
// fin's arc and counts how often the paper or membrane turns darker and lighter
// again. It knows nothing of the shapes, and so checks that what was stated can
// be counted on the picture. The drawing is rendered around the fin at ppi.
func (d *Drawing) Tally(fin string, ppi float64) (int, error) {
	f, ok := d.Fin(fin)
	if !ok || len(f.Arc) == 0 {
		return 0, fmt.Errorf("%w: no fin %q with rays in the drawing", ErrFish, fin)
	}
	b := emptyBox().with(f.Arc...)
	const rim = 0.01
	part := Rect{b.x0 - rim, b.y0 - rim, b.x1 - b.x0 + 2*rim, b.y1 - b.y0 + 2*rim}
	r, err := d.RenderPart(ppi, part)
	if err != nil {
		return 0, err
	}
	path := make([]Point, len(f.Arc))
	for i, q := range f.Arc {
		path[i] = Point{(q.X - part.X) / part.W * float64(r.W), (q.Y - part.Y) / part.H * float64(r.H)}
	}
	const step = 0.25 // pixels
	return dips(r.walk(path, step)), nil
}

// walk samples the darkness of the raster along a path.
func (r *Raster) walk(path []Point, step float64) []float64 {
	out := []float64{r.sample(path[0])}
	for i := 1; i < len(path); i++ {
		n := max(int(path[i].sub(path[i-1]).len()/step), 1)
		for j := 1; j <= n; j++ {
			out = append(out, r.sample(path[i-1].lerp(path[i], float64(j)/float64(n))))
		}
	}
	return out
}

// sample is the bilinear lightness at p, 0 black to 1 white.
func (r *Raster) sample(p Point) float64 {
	x, y := p.X-0.5, p.Y-0.5
	fx, fy := math.Floor(x), math.Floor(y)
	at := func(i, j int) float64 {
		i, j = min(max(i, 0), r.W-1), min(max(j, 0), r.H-1)
		k := (j*r.W + i) * r.Channels
		if r.Channels == 1 {
			return float64(r.Pix[k]) / 65535
		}
		return float64(luma([3]uint16(r.Pix[k:k+3]))) / 65535
	}
	i, j := int(fx), int(fy)
	u, v := x-fx, y-fy
	return (at(i, j)*(1-u)+at(i+1, j)*u)*(1-v) + (at(i, j+1)*(1-u)+at(i+1, j+1)*u)*v
}

// dips counts the minima of v that stand out by contrast from the maxima on
// both sides. The walk begins and ends on a stroke.
func dips(v []float64) int {
	const contrast = 0.1
	n := 0
	falling, low, high := true, 1.0, 0.0
	for _, x := range v {
		if falling {
			low = min(low, x)
			if x > low+contrast {
				n++
				falling, high = false, x
			}
			continue
		}
		high = max(high, x)
		if x < high-contrast {
			falling, low = true, x
		}
	}
	if falling {
		n++
	}
	return n
}
