package sheet

import (
	"math"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

func TestPartsInPixels(t *testing.T) {
	o := &pb.Original{Width: 1000, Height: 500}
	for _, c := range []struct {
		region *pb.Region
		want   box
	}{
		{nil, box{0, 0, 1000, 500}},
		{&pb.Region{X: 0.1, Y: 0.2, Width: 0.5, Height: 0.5}, box{100, 100, 500, 250}},
		{&pb.Region{X: 0.1001, Y: 0.2, Width: 0.5, Height: 0.5}, box{100, 100, 501, 250}}, // outward
		{&pb.Region{X: 0.9, Y: 0, Width: 0.5, Height: 1}, box{900, 0, 100, 500}},          // beyond the edge
		{&pb.Region{X: 0.3, Y: 0.3}, box{0, 0, 1000, 500}},                                // empty
		{&pb.Region{X: math.NaN(), Y: 0, Width: 1, Height: 1}, box{0, 0, 1000, 500}},
	} {
		if got := partOf(o, c.region); got != c.want {
			t.Errorf("%v: %v; want %v", c.region, got, c.want)
		}
	}
	if got := partOf(nil, nil); got != (box{}) {
		t.Errorf("a record without a file has the part %v", got)
	}
}

func FuzzPartOf(f *testing.F) {
	f.Add(100, 50, 0.1, 0.2, 0.3, 0.4)
	f.Add(1, 1, -1.0, 2.0, 1e300, math.Inf(1))
	f.Add(70000, 3, 0.999999, 0.0, 0.000001, 1.0)
	f.Fuzz(func(t *testing.T, w, h int, x, y, dx, dy float64) {
		o := &pb.Original{Width: int32(w), Height: int32(h)}
		b := partOf(o, &pb.Region{X: x, Y: y, Width: dx, Height: dy})
		if o.GetWidth() <= 0 || o.GetHeight() <= 0 {
			if b != (box{}) {
				t.Fatalf("%v of a picture without pixels", b)
			}
			return
		}
		if b.x < 0 || b.y < 0 || b.width <= 0 || b.height <= 0 || b.x+b.width > int(o.GetWidth()) || b.y+b.height > int(o.GetHeight()) {
			t.Fatalf("%v isn't within %d by %d pixels", b, o.GetWidth(), o.GetHeight())
		}
	})
}

func TestPrintedSize(t *testing.T) {
	pic := &pb.Picture{Name: "pictures/a", Original: &pb.Original{Width: 1000, Height: 600, PpiX: 300, PpiY: 150}}
	p := newPiece(1, "head", &pb.PlanCandidate{Picture: pic, Scale: &pb.PictureScale{ToSizeMmPerPixel: 0.1}}, 0.5)
	w, h := p.size()
	if w != 50 || h != 60 || p.lack != "" { // pixels twice as high as wide
		t.Errorf("%g by %g mm, %q; want 50 by 60", w, h, p.lack)
	}
	for _, c := range []struct {
		scale *pb.PictureScale
		lack  string
	}{
		{nil, "no scale"},
		{&pb.PictureScale{Problem: "bars contradict"}, "no scale: bars contradict"},
		{&pb.PictureScale{MmPerPixel: 0.2, Problem: "length unknown"}, "it can't be brought to the animal's size: length unknown"},
		{&pb.PictureScale{ToSizeMmPerPixel: 300}, "it would be 1.5e+05 by 1.8e+05 mm in print: is its scale right?"},
		{&pb.PictureScale{ToSizeMmPerPixel: math.Inf(1)}, "no scale"},
	} {
		if p := newPiece(1, "head", &pb.PlanCandidate{Picture: pic, Scale: c.scale}, 0.5); p.lack != c.lack || p.print != 0 {
			t.Errorf("%v: %q at %g mm a pixel; want %q", c.scale, p.lack, p.print, c.lack)
		}
	}
}

func TestFileNames(t *testing.T) {
	at := func(n int, structure, picture string) *piece {
		return &piece{number: n, structure: structure, candidate: &pb.PlanCandidate{Picture: &pb.Picture{Name: "pictures/" + picture}}}
	}
	got := cropNames([]*piece{at(0, "body", "a"), at(1, "Flösse Nº 1 / ../x", "b"), at(1, "Flosse no 1 x", "b"), at(12, "謎", strings.Repeat("q", 90))}, ".tif")
	want := []string{"00-body-a.tif", "01-flosse-no-1-x-b.tif", "01-flosse-no-1-x-b-2.tif", "12-x-" + strings.Repeat("q", 60) + ".tif"}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%q; want %q", got[i], want[i])
		}
	}
}

func TestNamesAboveTheGenusAreUpright(t *testing.T) {
	for name, want := range map[string]string{"Serranus scriba": "I", "Serranus": "I", "Serranidae": "", "Perciformes": "", "": "I"} {
		if got := italic("", name); got != want {
			t.Errorf("%q is set in %q; want %q", name, got, want)
		}
	}
}

func TestRomanNumerals(t *testing.T) {
	for n, want := range map[int]string{1: "I", 4: "IV", 9: "IX", 14: "XIV", 40: "XL", 99: "XCIX", 0: "0"} {
		if got := roman(n); got != want {
			t.Errorf("%d is %q; want %q", n, got, want)
		}
	}
}
