package scale

import (
	"errors"
	"math"
	"strings"
	"testing"
)

const dorsal = "dorsal fin"

// finned adds bases to a body: 10 spines from 36 to 58 along the back, 12 rays on to 80.
func finned(b body) body {
	out := body{}
	for k, v := range b {
		out[k] = v
	}
	back := func(x float64) vec { return vec{x, 17 - 0.004*(x-40)*(x-40)} }
	for n := 1; n <= 10; n++ {
		out[BaseName(dorsal, true, n)] = back(36 + 22*float64(n-1)/9)
	}
	for n := 1; n <= 12; n++ {
		out[BaseName(dorsal, false, n)] = back(60 + 20*float64(n-1)/11)
	}
	out[DorsalOrigin] = back(36)
	return out
}

func finOf(t *testing.T, p Picture) Fin {
	t.Helper()
	f, err := FinOf(p, dorsal, DefaultTolerances())
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestFinOf(t *testing.T) {
	for name, l := range looks() {
		f := finOf(t, l.show(finned(perchlike())))
		spines, rays := f.Count()
		if spines != 10 || rays != 12 {
			t.Fatalf("%s: %d spines, %d rays", name, spines, rays)
		}
		first, last := f.Bases[0], f.Bases[21]
		if !first.Spine || first.Number != 1 || first.OfBase != 0 || last.Spine || last.Number != 12 || last.OfBase != 1 {
			t.Errorf("%s: ends %+v, %+v", name, first, last)
		}
		near(t, name+" first along", first.Along, 0.36, 1e-9)
		near(t, name+" last along", last.Along, 0.8, 1e-9)
		near(t, name+" last above", last.Above, (17-0.004*1600)/100, 1e-9)
		increasing(t, name, f)
	}
}

func increasing(t *testing.T, what string, f Fin) {
	t.Helper()
	for i := 1; i < len(f.Bases); i++ {
		a, b := f.Bases[i-1], f.Bases[i]
		if !(a.OfBase < b.OfBase && a.Along < b.Along) || (b.Spine && !a.Spine) || (a.Spine == b.Spine && b.Number != a.Number+1) {
			t.Errorf("%s: %+v before %+v", what, a, b)
		}
	}
}

func TestFinOfErrors(t *testing.T) {
	tol := DefaultTolerances()
	p := plain().show(finned(perchlike()))
	gap := BaseName(dorsal, false, 5)
	delete(p.Landmarks, gap)
	var missing *MissingError
	if _, err := FinOf(p, dorsal, tol); !errors.As(err, &missing) || missing.Landmarks[0] != gap {
		t.Errorf("gap: %v", err)
	}
	if _, err := FinOf(p, "anal fin", tol); !errors.Is(err, ErrMissing) || !strings.Contains(err.Error(), "anal fin ray base 1") {
		t.Errorf("no bases: %v", err)
	}
	p.Landmarks["anal fin ray base 1"], p.Landmarks["anal fin ray base 2"] = Point{0.5, 0.6}, Point{0.5, 0.6}
	if _, err := FinOf(p, "anal fin", tol); !errors.Is(err, ErrBases) {
		t.Errorf("in one place: %v", err)
	}
}

func sameFin(t *testing.T, what string, got, want Fin, within float64) {
	t.Helper()
	if len(got.Bases) != len(want.Bases) {
		t.Fatalf("%s: %d bases, want %d", what, len(got.Bases), len(want.Bases))
	}
	for i, g := range got.Bases {
		w := want.Bases[i]
		if g.Number != w.Number || g.Spine != w.Spine ||
			math.Abs(g.Along-w.Along) > within || math.Abs(g.Above-w.Above) > within || math.Abs(g.OfBase-w.OfBase) > within {
			t.Errorf("%s: %+v, want %+v", what, g, w)
		}
	}
}

// Carried onto itself, a fin stays as it is, by whichever ends it is fitted.
func TestCarryOntoItself(t *testing.T) {
	tol := DefaultTolerances()
	p := plain().show(finned(bentBody()))
	f := finOf(t, p)
	front, rear, err := EndsOn(p, dorsal, 10, 12, tol)
	if err != nil || front == nil || rear == nil {
		t.Fatalf("%v %v %v", front, rear, err)
	}
	for name, w := range map[string]Wanted{
		"no ends": {}, "front": {Front: front}, "rear": {Rear: rear}, "both": {Front: front, Rear: rear},
		"counts given": {Spines: 10, Rays: 12, Front: front, Rear: rear},
	} {
		got, remarks, err := Carry(f, w)
		if err != nil || len(remarks) != 1 {
			t.Fatalf("%s: %v, remarks %q", name, err, remarks)
		}
		sameFin(t, name, got, f, 1e-12)
	}
}

// Onto a similar body of another picture, bases fall where that body has them.
func TestCarryOntoSimilar(t *testing.T) {
	tol := DefaultTolerances()
	f := finOf(t, plain().show(finned(perchlike())))
	for name, l := range looks() {
		target := l.show(finned(perchlike()))
		front, rear, err := EndsOn(target, dorsal, 10, 12, tol)
		if err != nil {
			t.Fatal(err)
		}
		got, _, err := Carry(f, Wanted{Front: front, Rear: rear})
		if err != nil {
			t.Fatal(err)
		}
		m := midline(t, target)
		for _, b := range got.Bases {
			at, want := m.At(b.Position), target.Landmarks[BaseName(dorsal, b.Spine, b.Number)]
			near(t, name+" x", at.X, want.X, 1e-9)
			near(t, name+" y", at.Y, want.Y, 1e-9)
		}
	}
}

// Onto a body whose fin begins elsewhere and is longer, the ends fall on its ends.
func TestCarryToEnds(t *testing.T) {
	f := finOf(t, plain().show(finned(perchlike())))
	front, rear := Position{0.30, 0.12}, Position{0.86, 0.10}
	got, remarks, err := Carry(f, Wanted{Front: &front, Rear: &rear})
	if err != nil {
		t.Fatal(err)
	}
	first, last := got.Bases[0], got.Bases[len(got.Bases)-1]
	near(t, "front along", first.Along, front.Along, 1e-12)
	near(t, "front above", first.Above, front.Above, 1e-12)
	near(t, "rear along", last.Along, rear.Along, 1e-12)
	near(t, "rear above", last.Above, rear.Above, 1e-12)
	increasing(t, "carried", got)
	if len(remarks) != 1 || !strings.Contains(remarks[0], "both ends") {
		t.Errorf("remarks %q", remarks)
	}
	got, _, err = Carry(f, Wanted{Front: &front})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "length kept", got.Bases[21].Along-got.Bases[0].Along, f.Bases[21].Along-f.Bases[0].Along, 1e-12)
}

func TestCarryCounts(t *testing.T) {
	f := finOf(t, plain().show(finned(perchlike())))
	for _, c := range []struct{ spines, rays, remarks int }{{11, 12, 2}, {9, 14, 3}, {10, 1, 2}, {1, 12, 2}, {25, 60, 3}} {
		got, remarks, err := Carry(f, Wanted{Spines: c.spines, Rays: c.rays})
		if err != nil {
			t.Fatal(err)
		}
		if s, r := got.Count(); s != c.spines || r != c.rays || len(remarks) != c.remarks {
			t.Errorf("%d, %d: found %d, %d; %q", c.spines, c.rays, s, r, remarks)
		}
		increasing(t, "spread", got)
		if c.spines > 1 && (got.Bases[0].Position != f.Bases[0].Position || got.Bases[c.spines-1].Position != f.Bases[9].Position) {
			t.Errorf("%d spines don't keep their stretch", c.spines)
		}
		if c.rays > 1 && got.Bases[c.spines].Position != f.Bases[10].Position {
			t.Errorf("%d rays don't begin where the source's do", c.rays)
		}
		if got.Bases[0].OfBase != 0 || got.Bases[len(got.Bases)-1].OfBase != 1 {
			t.Errorf("%d, %d: ways along the base end at %g and %g", c.spines, c.rays, got.Bases[0].OfBase, got.Bases[len(got.Bases)-1].OfBase)
		}
	}
	// Spread out and back again by a whole factor, the bases return.
	wide, _, err := Carry(f, Wanted{Spines: 19, Rays: 23})
	if err != nil {
		t.Fatal(err)
	}
	back, _, err := Carry(wide, Wanted{Spines: 10, Rays: 12})
	if err != nil {
		t.Fatal(err)
	}
	sameFin(t, "there and back", back, f, 1e-12)

	soft := Fin{Name: dorsal, Bases: f.Bases[10:]}
	one := Fin{Name: dorsal, Bases: f.Bases[:1]}
	for name, err := range map[string]error{
		"spines from none": second(Carry(soft, Wanted{Spines: 2, Rays: 12})),
		"two from one":     second(Carry(one, Wanted{Spines: 2})),
		"no bases":         second(Carry(Fin{Name: dorsal}, Wanted{})),
		"below zero":       second(Carry(f, Wanted{Spines: -1, Rays: 3})),
		"beyond all fins":  second(Carry(f, Wanted{Rays: 100000})),
	} {
		if !errors.Is(err, ErrBases) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if got, _, err := Carry(f, Wanted{Rays: 12}); err != nil || got.Bases[0].Spine || got.Bases[0].OfBase != 0 {
		t.Errorf("without spines: %+v, %v", got, err)
	}
}

func second(_ Fin, _ []string, err error) error { return err }

// What isn't marked on the other body is nil, what is marked wrongly an error.
func TestEndsOn(t *testing.T) {
	tol := DefaultTolerances()
	p := plain().show(perchlike())
	for _, c := range []struct {
		fin   string
		front *float64
	}{{dorsal, ptr(0.36)}, {"first dorsal fin", ptr(0.36)}, {"anal fin", ptr(0.64)}, {"second dorsal fin", nil}} {
		front, rear, err := EndsOn(p, c.fin, 10, 12, tol)
		if err != nil || rear != nil || (front == nil) != (c.front == nil) {
			t.Errorf("%s: %v %v %v", c.fin, front, rear, err)
			continue
		}
		if front != nil {
			near(t, c.fin, front.Along, *c.front, 1e-9)
		}
	}
	p.Landmarks[BaseName(dorsal, false, 12)] = Point{3, 3}
	if _, _, err := EndsOn(p, dorsal, 10, 12, tol); !errors.Is(err, ErrOutside) {
		t.Errorf("rear end outside: %v", err)
	}
	p.Landmarks[BaseName(dorsal, true, 10)] = p.Landmarks[Back]
	if _, rear, err := EndsOn(p, dorsal, 10, 0, tol); err != nil || rear == nil {
		t.Errorf("spines only: %v %v", rear, err)
	}
}

func ptr(f float64) *float64 { return &f }
