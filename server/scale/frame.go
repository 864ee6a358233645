package scale

import (
	"fmt"
	"math"
)

// Point is a place in a picture as fractions of its width from the left and of
// its height from the top.
type Point struct{ X, Y float64 }

// Frame is a picture's grid of pixels as shown (orientation applied).
type Frame struct {
	Width, Height int     // pixels
	PPIX, PPIY    float64 // pixels per inch across and down; 0 if the file doesn't say
}

// Picture is a frame with its landmarks by name; the names are those of this
// package's constants, of BaseName and of MidlineName.
type Picture struct {
	Frame
	Landmarks map[string]Point
}

// Landmarks in the trade's words.
const (
	SnoutTip     = "snout tip"
	HypuralEnd   = "hypural end"
	Fork         = "fork"
	TailTip      = "tail tip"
	DorsalOrigin = "dorsal origin"
	AnalOrigin   = "anal origin"
	OpercleEdge  = "opercle edge"
	EyeFront     = "eye front"
	EyeRear      = "eye rear"
	Back         = "back at greatest depth"
	Belly        = "belly at greatest depth"
)

// MidlineName is the landmark of point n of a bent midline, from 1 at the snout.
func MidlineName(n int) string { return fmt.Sprintf("midline %d", n) }

// BaseName is the landmark of the base of spine or ray n of a fin, from 1 at the front.
func BaseName(fin string, spine bool, n int) string {
	if spine {
		return fmt.Sprintf("%s spine base %d", fin, n)
	}
	return fmt.Sprintf("%s ray base %d", fin, n)
}

// vec is a place or direction in pixels across, x to the right and y downward.
type vec struct{ x, y float64 }

func (a vec) plus(b vec) vec          { return vec{a.x + b.x, a.y + b.y} }
func (a vec) minus(b vec) vec         { return vec{a.x - b.x, a.y - b.y} }
func (a vec) times(f float64) vec     { return vec{a.x * f, a.y * f} }
func (a vec) dot(b vec) float64       { return a.x*b.x + a.y*b.y }
func (a vec) cross(b vec) float64     { return a.x*b.y - a.y*b.x }
func (a vec) length() float64         { return math.Hypot(a.x, a.y) }
func (a vec) toward(b vec) vec        { return b.minus(a) }
func lerp(a, b, t float64) float64    { return a + t*(b-a) }
func between(a, b vec, f float64) vec { return vec{lerp(a.x, b.x, f), lerp(a.y, b.y, f)} }

// unit is the direction of a; zero stays zero.
func (a vec) unit() vec {
	if l := a.length(); l > 0 {
		return a.times(1 / l)
	}
	return vec{}
}

// aspect is the height of a pixel over its width: above 1 where a scan has
// fewer pixels to the inch down than across. A file that states only one
// resolution has square pixels.
func (f Frame) aspect() float64 {
	if positive(f.PPIX) && positive(f.PPIY) {
		return f.PPIX / f.PPIY
	}
	return 1
}

func (f Frame) check() error {
	if f.Width <= 0 || f.Height <= 0 {
		return ErrNoPixels
	}
	return nil
}

// place gives a point in pixels. what names it in errors.
func (f Frame) place(what string, p Point) (vec, error) {
	if err := f.check(); err != nil {
		return vec{}, err
	}
	if !(p.X >= 0 && p.X <= 1 && p.Y >= 0 && p.Y <= 1) {
		return vec{}, fmt.Errorf("%s at %g, %g is %w; want fractions of width and height from 0 to 1", what, p.X, p.Y, ErrOutside)
	}
	return vec{p.X * float64(f.Width), p.Y * float64(f.Height) * f.aspect()}, nil
}

// point is the way back from pixels; it may lie outside the picture.
func (f Frame) point(v vec) Point {
	return Point{v.x / float64(f.Width), v.y / (float64(f.Height) * f.aspect())}
}

// landmark gives a landmark in pixels; ok is false if there is none.
func (p Picture) landmark(name string) (v vec, ok bool, err error) {
	at, ok := p.Landmarks[name]
	if !ok {
		return vec{}, false, nil
	}
	v, err = p.place(name, at)
	return v, true, err
}

// landmarkError is the standard error of a landmark in each direction, pixels.
func (t Tolerances) landmarkError(f Frame) float64 {
	return max(t.LandmarkPX, t.LandmarkFraction*float64(max(f.Width, f.Height)))
}

// positive also refuses NaN and infinity.
func positive(f float64) bool { return f > 0 && !math.IsInf(f, 1) }
