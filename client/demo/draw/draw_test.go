package draw

import (
	"errors"
	"math"
	"testing"
)

// plainFish is a perch-like fish with the given dorsal and pectoral counts.
func plainFish(spines, rays, pectoral int) Fish {
	return Fish{
		SL:   200,
		Body: Body{Depth: 0.34, DepthAt: 0.37, Back: 0.55, Peduncle: 0.1, Blunt: 0.7},
		Face: Face{Head: 0.33, Eye: 0.08, EyeX: 0.13, EyeY: 0.6, Jaw: 0.12, Gape: 0.4},
		Fins: []FinSpec{
			{Name: "dorsal fin", Kind: DorsalFin, Spines: spines, Rays: rays, From: 0.33, To: 0.85, Height: 0.15, Incision: 0.7},
			{Name: "anal fin", Kind: AnalFin, Spines: 3, Rays: 8, From: 0.65, To: 0.8, Height: 0.15, Incision: 0.5},
			{Name: "caudal fin", Kind: CaudalFin, Rays: 17, Height: 0.22, Shape: Forked},
			{Name: "adipose fin", Kind: AdiposeFin, From: 0.87, To: 0.9, Height: 0.03},
			{Name: "pelvic fin", Kind: PelvicFin, Spines: 1, Rays: 5, From: 0.36, Height: 0.17},
			{Name: "pectoral fin", Kind: PectoralFin, Rays: pectoral, Height: 0.22, Y: 0.2, Lean: [2]float64{4, 0}},
		},
		Scales: Scales{LateralLine: 48, Rows: 22, Arch: 0.6, Ctenoid: true},
	}
}

func drawn(t *testing.T, f Fish, o Options) *Drawing {
	t.Helper()
	if o.Length == 0 {
		o.Length = 100
	}
	d, err := Draw(f, o)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestRaysCanBeCountedOnTheRaster(t *testing.T) {
	for _, c := range []struct{ spines, rays, pectoral int }{{4, 5, 8}, {7, 12, 13}, {10, 12, 15}, {13, 16, 18}, {18, 11, 20}, {0, 30, 22}} {
		for _, v := range []View{Left, Right} {
			d := drawn(t, plainFish(c.spines, c.rays, c.pectoral), Options{View: v})
			for _, f := range d.Fins {
				n, err := d.Tally(f.Name, 600)
				if err != nil {
					t.Fatal(err)
				}
				if n != f.Spines+f.Soft {
					t.Errorf("%+v view %d %s: %d strokes on the raster, %d drawn", c, v, f.Name, n, f.Spines+f.Soft)
				}
			}
			if f, _ := d.Fin("dorsal fin"); f.Spines != c.spines || f.Soft != c.rays || len(f.Bases) != c.spines+c.rays {
				t.Errorf("dorsal fin drawn as %d,%d with %d bases, want %d,%d", f.Spines, f.Soft, len(f.Bases), c.spines, c.rays)
			}
		}
	}
}

// TestTallySeesOtherCounts makes sure that the count on the raster is not an
// echo of the statement: with a ray's stroke removed it is one less.
func TestTallySeesOtherCounts(t *testing.T) {
	whole := drawn(t, plainFish(10, 12, 15), Options{})
	torn := drawn(t, plainFish(10, 12, 15), Options{Damage: Damage{Torn: []Tear{{Fin: "dorsal fin", Missing: 3, Broken: 2}}}})
	a, err := whole.Tally("dorsal fin", 600)
	if err != nil {
		t.Fatal(err)
	}
	b, err := torn.Tally("dorsal fin", 600)
	if err != nil {
		t.Fatal(err)
	}
	if a != 22 || b != 19 {
		t.Errorf("whole fin counts %d, torn fin %d: want 22 and 19", a, b)
	}
	f, _ := torn.Fin("dorsal fin")
	if f.Spines+f.Soft != 19 || f.MissSpines+f.Missed != 3 {
		t.Errorf("torn fin states %+v", f)
	}
}

func TestCompleteness(t *testing.T) {
	d := drawn(t, plainFish(10, 12, 15), Options{Damage: Damage{
		Torn: []Tear{{Fin: "dorsal fin", Missing: 1}}, Hidden: []string{"pelvic fin", "adipose fin"}, Rebuilt: []string{"anal fin"}, Scales: 0.3}})
	want := map[string]string{"dorsal fin": Damaged, "pelvic fin": Hidden, "adipose fin": Hidden, "anal fin": Reconstructed, "pectoral fin": Complete,
		"scales": Partial, "eye": Complete, "head": Complete, "opercle": Complete, "lateral line": Complete, "body": Complete, "mouth": Complete, "caudal fin": Complete}
	for _, s := range d.Structures {
		if want[s.Name] != s.Completeness {
			t.Errorf("%s is %s, want %q", s.Name, s.Completeness, want[s.Name])
		}
		delete(want, s.Name)
		if r := s.Region; r.X < 0 || r.Y < 0 || r.W <= 0 || r.H <= 0 || r.X+r.W > 1.0001 || r.Y+r.H > 1.0001 {
			t.Errorf("%s: region %+v is not inside the drawing", s.Name, r)
		}
	}
	if len(want) > 0 {
		t.Errorf("structures not drawn: %v", want)
	}
}

func TestScaleAndLandmarks(t *testing.T) {
	for _, v := range []View{Left, Right} {
		d := drawn(t, plainFish(10, 12, 15), Options{View: v, Length: 120})
		mm := func(a, b string) float64 {
			p, ok1 := d.Landmark(a)
			q, ok2 := d.Landmark(b)
			if !ok1 || !ok2 {
				t.Fatalf("no landmark %s or %s", a, b)
			}
			return math.Hypot((p.X-q.X)*d.WidthMM, (p.Y-q.Y)*d.HeightMM)
		}
		if got := mm(SnoutTip, HypuralEnd); math.Abs(got-120) > 1e-6 {
			t.Errorf("standard length on paper %g mm, want 120", got)
		}
		if math.Abs(d.Enlargement-0.6) > 1e-9 {
			t.Errorf("enlargement %g, want 0.6", d.Enlargement)
		}
		bar := (d.Bar.To.X - d.Bar.From.X) * d.WidthMM / d.Bar.TrueMM
		if math.Abs(bar-d.Enlargement) > 1e-9 {
			t.Errorf("scale bar enlarges %g, drawing %g", bar, d.Enlargement)
		}
		if mm(SnoutTip, ForkPoint) >= mm(SnoutTip, TailTip) || mm(SnoutTip, DorsalOrigin) >= mm(SnoutTip, AnalOrigin) {
			t.Error("landmarks are out of order")
		}
		if got, want := mm(EyeFront, EyeRear), 0.08*120; math.Abs(got-want) > 1e-6 {
			t.Errorf("eye %g mm, want %g", got, want)
		}
		if got, want := mm(BackDeepest, BellyDeepest), 0.34*120; math.Abs(got-want) > 0.01 {
			t.Errorf("greatest depth %g mm, want %g", got, want)
		}
		if _, bent := d.Landmark(MidlinePoint(1)); bent {
			t.Error("a straight body has a bent midline")
		}
		s, _ := d.Landmark(SnoutTip)
		h, _ := d.Landmark(HypuralEnd)
		if (s.X < h.X) != (v == Left) {
			t.Errorf("view %d: snout at %g, tail at %g", v, s.X, h.X)
		}
	}
}

// TestBarOnRaster measures the scale bar on pixels.
func TestBarOnRaster(t *testing.T) {
	d := drawn(t, plainFish(10, 12, 15), Options{})
	r, err := d.Render(300)
	if err != nil {
		t.Fatal(err)
	}
	y := int(d.Bar.From.Y * float64(r.H))
	first, last := -1, -1
	for x := r.W / 2; x < r.W; x++ {
		if r.Pix[y*r.W+x] < 0x8000 {
			if first < 0 {
				first = x
			}
			last = x
		}
	}
	got := float64(last-first+1) / 300 * 25.4 / d.Enlargement
	if math.Abs(got-d.Bar.TrueMM) > 0.02*d.Bar.TrueMM {
		t.Errorf("bar of %g mm measures %g mm", d.Bar.TrueMM, got)
	}
}

func TestEveryStageAndView(t *testing.T) {
	f := plainFish(10, 12, 15)
	for st := Outline; st <= Photograph; st++ {
		for _, o := range []Options{{View: Left}, {View: Dorsal}, {View: Head}, {View: Fin, Fin: "anal fin"}, {View: Fin, Fin: "adipose fin"}, {View: Fin, Fin: "caudal fin"}, {View: Scale}} {
			o.Stage, o.Caption, o.Tag, o.Seed = st, "Perca", "No. 1", 7
			o.Length = 60
			a := drawn(t, f, o)
			x, err := a.Render(40)
			if err != nil {
				t.Fatal(err)
			}
			y, err := drawn(t, f, o).Render(40)
			if err != nil {
				t.Fatal(err)
			}
			low, high := uint16(0xffff), uint16(0)
			for i := range x.Pix {
				if x.Pix[i] != y.Pix[i] {
					t.Fatalf("stage %d view %d: two runs differ", st, o.View)
				}
				low, high = min(low, x.Pix[i]), max(high, x.Pix[i])
			}
			if high-low < 0x3000 {
				t.Errorf("stage %d view %d is blank", st, o.View)
			}
			if want := map[bool]int{true: 3, false: 1}[st.Color()]; x.Channels != want {
				t.Errorf("stage %d has %d channels, want %d", st, x.Channels, want)
			}
		}
	}
}

func TestFadedAndBareAreLighter(t *testing.T) {
	f := plainFish(10, 12, 15)
	mean := func(dm Damage) float64 {
		r, err := drawn(t, f, Options{Stage: Stipple, Damage: dm}).Render(80)
		if err != nil {
			t.Fatal(err)
		}
		s := 0.0
		for _, v := range r.Pix {
			s += float64(v)
		}
		return s / float64(len(r.Pix))
	}
	whole := mean(Damage{})
	if faded := mean(Damage{Faded: 0.8}); faded <= whole {
		t.Errorf("faded specimen is not lighter: %g against %g", faded, whole)
	}
	if bare := mean(Damage{Scales: 0.6}); bare <= whole {
		t.Errorf("specimen without scales is not lighter: %g against %g", bare, whole)
	}
	a, b := drawn(t, f, Options{}), drawn(t, f, Options{Damage: Damage{Bend: 0.1}})
	p, _ := a.Landmark(HypuralEnd)
	q, _ := b.Landmark(HypuralEnd)
	s, _ := b.Landmark(SnoutTip)
	if (q.Y-s.Y)*b.HeightMM < 1 || p.Y == q.Y {
		t.Error("bent specimen is straight")
	}
	for n, end := range map[int]Landmark{1: s, midlinePoints: q} {
		if m, ok := b.Landmark(MidlinePoint(n)); !ok || m.X != end.X || m.Y != end.Y {
			t.Errorf("point %d of the midline is %+v; want %+v", n, m, end)
		}
	}
}

func TestRefusals(t *testing.T) {
	good := plainFish(10, 12, 15)
	deep := good
	deep.Body.Depth = 2
	for name, c := range map[string]struct {
		f Fish
		o Options
	}{
		"too deep":     {deep, Options{Length: 100}},
		"no length":    {good, Options{}},
		"no such fin":  {good, Options{Length: 100, View: Fin, Fin: "wing"}},
		"unknown view": {good, Options{Length: 100, View: 99}},
	} {
		if _, err := Draw(c.f, c.o); !errors.Is(err, ErrFish) {
			t.Errorf("%s: %v, want ErrFish", name, err)
		}
	}
	if _, err := drawn(t, good, Options{}).Render(50000); err == nil {
		t.Error("a raster of gigapixels was rendered")
	}
}

func BenchmarkFinalColor(b *testing.B) {
	d, err := Draw(plainFish(10, 12, 15), Options{Stage: FinalColor, Length: 120})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := d.Render(300); err != nil {
			b.Fatal(err)
		}
	}
}
