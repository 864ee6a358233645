package web

import (
	"math"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

func picture(id string, width, height int32) *pb.Picture {
	return &pb.Picture{Name: "pictures/" + id, Title: "Title of " + id, Original: &pb.Original{Width: width, Height: height}}
}

// TestComposite lays out a body and parts, each at the scale of the animal to be drawn.
func TestComposite(t *testing.T) {
	part := func(structure string, chosen bool, p *pb.Picture, mm float64) *pb.PlanStructure {
		return &pb.PlanStructure{Structure: structure, Candidates: []*pb.PlanCandidate{{Picture: p, Chosen: chosen, Region: &pb.Region{X: 0.5, Y: 0.25, Width: 0.5, Height: 0.5}, Scale: &pb.PictureScale{ToSizeMmPerPixel: mm, Problem: map[bool]string{true: "a scale bar would settle it"}[mm == 0]}}}}
	}
	body := picture("body", 2000, 1000)
	p := &pb.Plan{
		Body: &pb.PlanCandidate{Picture: body, Scale: &pb.PictureScale{MmPerPixel: 9, ToSizeMmPerPixel: 0.1}},
		Structures: []*pb.PlanStructure{
			part("anal fin", true, body, 0.1), part("opercle", true, picture("head", 800, 400), 0.05), part("scales", false, picture("other", 800, 400), 0.05), part("pelvic fin", true, picture("bare", 800, 400), 0),
		},
	}
	c := compose(p)
	if c == nil || len(c.Pieces) != 2 {
		t.Fatalf("composed %+v; want the body and the opercle", c)
	}
	if b, o := c.Pieces[0], c.Pieces[1]; b.Across != 200 || b.Down != 100 || o.Across != 20 || o.Down != 10 || o.Top <= b.Down || o.Box() != "400.0 100.0 400.0 200.0" {
		t.Errorf("body %v by %v mm, opercle %v by %v mm at %v, window %s", b.Across, b.Down, o.Across, o.Down, o.Top, o.Box())
	}
	if c.Bar != 20 || len(c.Without) != 1 || !strings.Contains(c.Without[0], "a scale bar would settle it") {
		t.Errorf("bar of %v mm; without %q", c.Bar, c.Without)
	}
	p.Body.Scale = nil
	if compose(p) != nil {
		t.Error("a body without a scale was composed on")
	}
}

func TestRoundLength(t *testing.T) {
	for x, want := range map[float64]float64{33.3: 20, 10: 10, 9.99: 5, 0.07: 0.05, 1.99: 1, 0: 0, -4: 0, math.NaN(): 0} {
		if got := roundLength(x); math.Abs(got-want) > 1e-12 {
			t.Errorf("a bar for %v is %v long; want %v", x, got, want)
		}
	}
}

// TestSmall asks for no more pixels than a region has.
func TestSmall(t *testing.T) {
	p := picture("head", 800, 1000)
	for _, tt := range []struct {
		region *pb.Region
		mirror bool
		want   string
	}{
		{nil, false, "/iiif/3/head/pct:0.000,0.000,100.000,100.000/!640,440/0/default.jpg"},
		{&pb.Region{X: 0.5, Y: 0.1, Width: 0.25, Height: 0.2}, true, "/iiif/3/head/pct:50.000,10.000,25.000,20.000/max/!0/default.jpg"},
		{&pb.Region{X: 0, Y: 0, Width: 0.25, Height: 0.9}, false, "/iiif/3/head/pct:0.000,0.000,25.000,90.000/!640,440/0/default.jpg"},
	} {
		if got := cropOf(p, tt.region, tt.mirror).Small(); got != tt.want {
			t.Errorf("found %s; want %s", got, tt.want)
		}
	}
	if c := cropOf(&pb.Picture{Name: "pictures/x"}, nil, false); c != nil {
		t.Errorf("a record without a scan is shown by %v", c)
	}
}

// FuzzDropPath: whatever a browser sends as a path, what is taken lies below the folder.
func FuzzDropPath(f *testing.F) {
	for _, s := range []string{"a.tif", "a/b.tif", "../a", `..\a`, "/a", "a//b", "a/./b", "C:a", "a\x00b", "", ".", "NUL", "ü/ß.png", "a/../../b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, name string) {
		got, err := dropPath(name)
		if err != nil {
			return
		}
		if got == "" || got == ".." || strings.HasPrefix(got, "/") || strings.HasPrefix(got, "../") || strings.Contains(got, "/../") || strings.ContainsAny(got, "\\:\x00\n") {
			t.Errorf("%q was taken as %q", name, got)
		}
	})
}
