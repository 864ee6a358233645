package web

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

func TestCounted(t *testing.T) {
	for _, tt := range []struct {
		formula string
		counted []tally
		want    string
	}{
		{"D X,12; A III,7", nil, "D X,12; A III,7"},
		{"", []tally{{"anal fin", 3, 7}}, "A III,7"},
		{"D X,12; A III,7; LL 43", []tally{{"dorsal fin", 11, 0}}, "D XI,12; A III,7; LL 43"},
		{"D X,12; A III,7; LL 43", []tally{{"dorsal fin", 0, 13}}, "D X,13; A III,7; LL 43"},
		{"A iii,6; LL 33", []tally{{"anal fin", 0, 9}}, "A 9; LL 33"},
		{"P 16", []tally{{"pectoral fin", 0, 15}, {"caudal fin", 0, 17}}, "P 15; C 17"},
		{"D X,12", []tally{{"first dorsal fin", 10, 0}, {"second dorsal fin", 1, 12}}, "D1 X; D2 I,12"},
		{"D1 X; D2 I,12; A III,7", []tally{{"dorsal fin", 11, 12}}, "D XI,12; A III,7"},
		{"GR 8+16; D X,12", []tally{{"pelvic fin", 1, 5}}, "D X,12; V I,5; GR 8+16"},
	} {
		got, err := counted(tt.formula, tt.counted)
		if err != nil || got != tt.want {
			t.Errorf("%q with %v: %q, %v; want %q", tt.formula, tt.counted, got, err, tt.want)
		}
		if again, err := counted(got, tt.counted); err != nil || again != got {
			t.Errorf("counting the same once more made %q of %q (%v)", again, got, err)
		}
	}
	for _, bad := range [][]tally{{{"dorsal fin", 0, 0}}, {{"left whisker", 3, 0}}} {
		if got, err := counted("D X,12", bad); err == nil {
			t.Errorf("%v gave %q", bad, got)
		}
	}
}

func TestTallied(t *testing.T) {
	marks := []*pb.Landmark{{Landmark: "first dorsal fin spine base 1"}, {Landmark: "first dorsal fin spine base 2"}, {Landmark: "first dorsal fin ray base 1"}, {Landmark: "dorsal fin spine base 1"}, {Landmark: "snout tip"}}
	for fin, want := range map[string]string{
		"first dorsal fin": "first dorsal fin: 2 spines, 1 ray", "dorsal fin": "dorsal fin: 1 spine", "anal fin": "anal fin: nothing marked",
	} {
		if got := tallied(fin, marks).Text(); got != want {
			t.Errorf("%q; want %q", got, want)
		}
	}
}

// TestMarksAsText makes sure that what is read again is what was written, to the last bit.
func TestMarksAsText(t *testing.T) {
	s := paper{3727, 2401}
	marks := []*pb.Landmark{{Landmark: "snout tip", X: 0.0614237, Y: 1.0 / 3}, {Landmark: "mark: with a colon", X: 0, Y: 1}}
	parts := []*pb.Structure{
		{Structure: "opercle", Completeness: pb.Completeness_COMPLETENESS_DAMAGED, Region: &pb.Region{X: 0.1 / 3, Y: 0.2, Width: 0.3, Height: 0.4 / 7}, Note: "torn; mended"},
		{Structure: "body"}, {Structure: "anal fin", Completeness: pb.Completeness_COMPLETENESS_COMPLETE},
	}
	gotMarks, err := s.readLandmarks(s.landmarkText(marks[:1]), marks)
	if err != nil || !proto.Equal(gotMarks[0], marks[0]) {
		t.Errorf("%v, %v; want %v", gotMarks, err, marks[:1])
	}
	gotParts, err := s.readStructures(s.structureText(parts), parts)
	if err != nil || !slices.EqualFunc(gotParts, parts, func(a, b *pb.Structure) bool { return proto.Equal(a, b) }) {
		t.Errorf("%v, %v; want %v", gotParts, err, parts)
	}
	for _, bad := range []string{"snout tip", "snout tip: 1", "snout tip: 1, 2, 3", ": 1, 2", "snout tip: 3728, 1", "snout tip: -1, 1", "snout tip: NaN, 1", "snout tip: a, b"} {
		if got, err := s.readLandmarks("\n"+bad, nil); err == nil || err.Error()[:7] != "line 2:" {
			t.Errorf("%q gave %v, %v", bad, got, err)
		}
	}
	for _, bad := range []string{"; complete", "opercle; whole", "opercle; complete; 1, 2, 3", "opercle; complete; 1, 2, 0, 5", "opercle; complete; 1, 2, 5000, 5"} {
		if got, err := s.readStructures(bad, nil); err == nil {
			t.Errorf("%q gave %v", bad, got)
		}
	}
}

// FuzzMarks: whatever is typed is refused, or is read into marks within the picture that are written and read again as they were.
func FuzzMarks(f *testing.F) {
	f.Add("snout tip: 12, 13.5\nfork: 1,1", "opercle; complete; 1, 2, 3, 4; note")
	f.Add("a:b: 1e2, 3", "x;;;;;\n;")
	f.Add("n: 0x1p4, 1_0", "caf\u00e9; hidden; 0,0,1e-3,0.0004")
	f.Fuzz(func(t *testing.T, marks, parts string) {
		s := paper{1200, 900}
		if list, err := s.readLandmarks(marks, nil); err == nil {
			for _, m := range list {
				if !(m.GetX() >= 0 && m.GetX() <= 1 && m.GetY() >= 0 && m.GetY() <= 1) {
					t.Fatalf("%v lies outside", m)
				}
			}
			text := s.landmarkText(list)
			again, err := s.readLandmarks(text, list)
			if err != nil && !slices.ContainsFunc(list, func(m *pb.Landmark) bool { return slices.Contains([]rune(m.GetLandmark()), ':') }) || err == nil && s.landmarkText(again) != text {
				t.Fatalf("%q was read again as %v, %v", text, again, err)
			}
		}
		if list, err := s.readStructures(parts, nil); err == nil {
			for _, p := range list {
				if r := p.GetRegion(); r != nil && !(r.GetX()+r.GetWidth() <= 1+1e-9 && r.GetY()+r.GetHeight() <= 1+1e-9) {
					t.Fatalf("%v lies outside", p)
				}
			}
		}
	})
}

func TestMerge(t *testing.T) {
	at := func(marks ...any) *pb.Picture {
		p := &pb.Picture{}
		for i := 0; i < len(marks); i += 2 {
			p.Landmarks = append(p.Landmarks, &pb.Landmark{Landmark: marks[i].(string), X: marks[i+1].(float64)})
		}
		return p
	}
	base := at("a", 0.1, "b", 0.2, "c", 0.3)
	for _, tt := range []struct {
		name               string
		mine, theirs, want *pb.Picture
	}{
		{"nobody", base, base, base},
		{"each something else", at("a", 0.1, "b", 0.25, "c", 0.3), at("a", 0.15, "b", 0.2, "c", 0.3), at("a", 0.15, "b", 0.25, "c", 0.3)},
		{"both the same mark", at("a", 0.11, "b", 0.2, "c", 0.3), at("a", 0.12, "b", 0.2, "c", 0.3), at("a", 0.11, "b", 0.2, "c", 0.3)},
		{"each adds", at("a", 0.1, "b", 0.2, "c", 0.3, "m", 0.4), at("a", 0.1, "b", 0.2, "c", 0.3, "t", 0.5), at("a", 0.1, "b", 0.2, "c", 0.3, "m", 0.4, "t", 0.5)},
		{"each takes away", at("b", 0.2, "c", 0.3), at("a", 0.1, "b", 0.2), at("b", 0.2)},
		{"I take away what they move", at("b", 0.2, "c", 0.3), at("a", 0.9, "b", 0.2, "c", 0.3), at("b", 0.2, "c", 0.3, "a", 0.9)},
	} {
		if got := merge(base, tt.mine, tt.theirs); !slices.EqualFunc(got.GetLandmarks(), tt.want.GetLandmarks(), func(a, b *pb.Landmark) bool { return proto.Equal(a, b) }) {
			t.Errorf("%s: %v; want %v", tt.name, got.GetLandmarks(), tt.want.GetLandmarks())
		}
	}
	scale, other := &pb.Calibration{X2: 1, LengthMm: 10}, &pb.Calibration{X2: 1, LengthMm: 20}
	if got := merge(&pb.Picture{Calibration: scale}, &pb.Picture{Calibration: scale}, &pb.Picture{Calibration: other}); !proto.Equal(got.GetCalibration(), other) {
		t.Errorf("the scale is %v; theirs was the only change", got.GetCalibration())
	}
	if got := merge(&pb.Picture{}, &pb.Picture{Counts: &pb.Counts{Formula: "D X"}}, &pb.Picture{Counts: &pb.Counts{Formula: "D IX"}}); got.GetCounts().GetFormula() != "D X" {
		t.Errorf("the formula is %v; mine was typed", got.GetCounts())
	}
}

func TestTimeline(t *testing.T) {
	now := time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
	if got := drawTimeline(&pb.History{}, now); got != nil {
		t.Errorf("an empty history is drawn as %v", got)
	}
	book, world := []string{"print.book"}, []string{"WORLD"}
	d := drawTimeline(&pb.History{Entries: []*pb.HistoryEntry{
		{Kind: "grant", Terms: "exclusive grant", Media: book, Territories: world, From: "2014", To: "2021-06", State: "expired"},
		{Kind: "grant", Terms: "non-exclusive grant", Media: book, Territories: world, From: "2022-01-01", State: "in force"},
		{Kind: "use", Media: book, Territories: world, From: "2018-03-01", Verdict: "not licensed"},
		{Kind: "grant", Terms: "sole", Media: []string{"display"}, Territories: world, From: "2024-01-01", To: "2099-01-01", State: "in force"},
	}}, now)
	if len(d.Rows) != 2 || len(d.Rows[0].Bars) != 2 || len(d.Rows[0].Uses) != 1 || len(d.Rows[1].Bars) != 1 {
		t.Fatalf("the rows are %+v", d.Rows)
	}
	old, open, use, sole := d.Rows[0].Bars[0], d.Rows[0].Bars[1], d.Rows[0].Uses[0], d.Rows[1].Bars[0]
	if !old.Exclusive || !old.Over || open.Exclusive || open.Over || !open.Open || !sole.Exclusive || use.Licensed {
		t.Errorf("the marks are %+v", d.Rows)
	}
	if !(old.X < use.X && use.X < old.X+old.Width && old.X+old.Width < open.X && open.X < d.Today && d.Today < open.X+open.Width) {
		t.Errorf("the marks don't stand in the order of their days: %+v, today %d", d.Rows, d.Today)
	}
	for _, b := range []timeBar{old, open, sole} {
		if b.X < d.Left || b.X+b.Width > d.Width || b.Y+barHeight > d.Height {
			t.Errorf("%+v leaves the drawing %s", b, fmt.Sprint(d.Width, d.Height))
		}
	}
	if old.Y == open.Y || use.Y <= open.Y {
		t.Error("marks of one row lie upon each other")
	}
}
