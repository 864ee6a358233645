package scale

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

func midline(t *testing.T, p Picture) Midline {
	t.Helper()
	m, err := MidlineOf(p, DefaultTolerances())
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func placed(t *testing.T, m Midline, p Point) Position {
	t.Helper()
	pos, err := m.Place(p)
	if err != nil {
		t.Fatal(err)
	}
	return pos
}

// On a straight body, a place is its plain projection, however the body lies.
func TestStraightMidline(t *testing.T) {
	for name, l := range looks() {
		m := midline(t, l.show(perchlike()))
		near(t, name+" length", m.Pixels(), 100*l.px, 1e-6)
		for _, v := range []vec{{0, 0}, {100, 0}, {50, 0}, {36, 16}, {64, -11}, {-5, 3}, {118, -7}, {40, 17}} {
			at := l.at(v)
			if at.X < 0 || at.X > 1 || at.Y < 0 || at.Y > 1 {
				t.Fatalf("%s: %v lies outside the picture", name, v)
			}
			pos := placed(t, m, at)
			near(t, name+" along", pos.Along, v.x/100, 1e-9)
			near(t, name+" above", pos.Above, v.y/100, 1e-9)
		}
	}
}

// A point set in the middle of a straight line changes nothing.
func TestStraightMidlineWithPoints(t *testing.T) {
	b := perchlike()
	b[MidlineName(1)], b[MidlineName(2)] = vec{20, 0}, vec{71, 0}
	m := midline(t, plain().show(b))
	pos := placed(t, m, plain().at(vec{36, 16}))
	near(t, "along", pos.Along, 0.36, 1e-9)
	near(t, "above", pos.Above, 0.16, 1e-9)
}

func bentBody() body {
	b := perchlike()
	b[MidlineName(1)], b[MidlineName(2)], b[MidlineName(3)] = vec{25, 4}, vec{50, 6}, vec{75, 4}
	return b
}

// Place and At undo each other on a bent body, as far from the midline as bodies reach.
func TestPlaceAndBack(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for name, l := range looks() {
		m := midline(t, l.show(bentBody()))
		for range 500 {
			want := Position{Along: -0.05 + 1.15*r.Float64(), Above: 0.4*r.Float64() - 0.2}
			at := m.At(want)
			if at.X < 0 || at.X > 1 || at.Y < 0 || at.Y > 1 {
				continue
			}
			got := placed(t, m, at)
			near(t, name+" along", got.Along, want.Along, 1e-9)
			near(t, name+" above", got.Above, want.Above, 1e-9)
		}
	}
}

// On a body bent evenly about its middle, what stands over the middle stays there.
func TestEvenBend(t *testing.T) {
	m := midline(t, plain().show(bentBody()))
	pos := placed(t, m, plain().at(vec{50, 20}))
	near(t, "along", pos.Along, 0.5, 1e-9)
	near(t, "above", pos.Above*m.Pixels(), 14*plain().px, 1e-6)
}

// Similar pictures give the same places, mirrored ones too.
func TestPlaceSimilarity(t *testing.T) {
	want := placed(t, midline(t, plain().show(bentBody())), plain().at(vec{36, 16}))
	for name, l := range looks() {
		got := placed(t, midline(t, l.show(bentBody())), l.at(vec{36, 16}))
		near(t, name+" along", got.Along, want.Along, 1e-9)
		near(t, name+" above", got.Above, want.Above, 1e-9)
	}
}

// The belly's side is below even if the fish swims on its back; without
// landmarks of back or belly the picture's upper side is the back.
func TestBackSide(t *testing.T) {
	over := plain()
	over.angle = math.Pi
	over.x = 0.8
	if pos := placed(t, midline(t, over.show(perchlike())), over.at(vec{50, 10})); pos.Above < 0 {
		t.Errorf("upside down: %+v", pos)
	}
	for _, only := range []string{Back, DorsalOrigin, Belly, AnalOrigin} {
		b := body{SnoutTip: {0, 0}, HypuralEnd: {100, 0}, only: perchlike()[only]}
		if pos := placed(t, midline(t, over.show(b)), over.at(vec{50, 10})); pos.Above < 0 {
			t.Errorf("upside down, told by %s alone: %+v", only, pos)
		}
	}
	for _, mirror := range []bool{false, true} {
		l := plain()
		l.mirror, l.x = mirror, 0.5
		bare := l.show(body{SnoutTip: {0, 0}, HypuralEnd: {60, 0}})
		if pos := placed(t, midline(t, bare), l.at(vec{30, 10})); pos.Above < 0 {
			t.Errorf("bare, mirrored %v: %+v", mirror, pos)
		}
	}
}

func TestMidlineErrors(t *testing.T) {
	tol := DefaultTolerances()
	p := plain().show(perchlike())
	p.Landmarks[HypuralEnd] = p.Landmarks[SnoutTip]
	if _, err := MidlineOf(p, tol); !errors.Is(err, ErrTooShort) {
		t.Errorf("in one place: %v", err)
	}
	delete(p.Landmarks, HypuralEnd)
	if _, err := MidlineOf(p, tol); !errors.Is(err, ErrMissing) {
		t.Errorf("no hypural end: %v", err)
	}
	if _, err := MidlineOf(Picture{Landmarks: p.Landmarks}, tol); !errors.Is(err, ErrNoPixels) {
		t.Errorf("no pixels: %v", err)
	}
	if _, err := midline(t, plain().show(perchlike())).Place(Point{2, 0}); !errors.Is(err, ErrOutside) {
		t.Errorf("outside: %v", err)
	}
}

// Any midline, however knotted, gives finite places and points.
func FuzzMidline(f *testing.F) {
	f.Add(0.1, 0.5, 0.5, 0.4, 0.9, 0.5, 0.5, 0.2)
	f.Add(0.1, 0.5, 0.1, 0.5, 0.9, 0.5, 0.1, 0.5)
	f.Add(0.1, 0.5, 0.9, 0.5, 0.2, 0.5, 0.95, 0.5)
	f.Add(0.0, 0.0, 1.0, 1.0, 0.0, 1e-9, 1.0, 0.0)
	f.Fuzz(func(t *testing.T, x1, y1, x2, y2, x3, y3, x, y float64) {
		p := Picture{Frame{Width: 1000, Height: 700}, map[string]Point{SnoutTip: {x1, y1}, MidlineName(1): {x2, y2}, HypuralEnd: {x3, y3}}}
		m, err := MidlineOf(p, DefaultTolerances())
		if err != nil {
			return
		}
		pos, err := m.Place(Point{x, y})
		if err != nil {
			return
		}
		back := m.At(pos)
		for _, v := range []float64{pos.Along, pos.Above, back.X, back.Y} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%+v, back %+v", pos, back)
			}
		}
	})
}

// Round a hairpin, where lines toward the back cross, places stay near the midline's own points.
func TestHairpin(t *testing.T) {
	l := plain()
	m := midline(t, l.show(body{SnoutTip: {0, 0}, MidlineName(1): {50, 1}, MidlineName(2): {50, -1}, HypuralEnd: {0, -2}}))
	for _, v := range []vec{{50, 1}, {25, 0.5}, {50, -1}, {10, -1.8}} {
		if pos := placed(t, m, l.at(v)); math.Abs(pos.Above) > 0.005 {
			t.Errorf("%v on the midline: %+v", v, pos)
		}
	}
	for i, at := range m.at {
		if pos := m.nearest(at); pos != (Position{Along: m.along[i]}) {
			t.Errorf("nearest to point %d: %+v", i, pos)
		}
	}
}
