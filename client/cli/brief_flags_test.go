package cli

import (
	"testing"

	pb "platarium/proto/platarium/v1"
)

func TestPrintedSize(t *testing.T) {
	for text, want := range map[string]*pb.PrintedSize{
		"180 SL":     {Measurement: "SL", LengthMm: 180},
		"180":        {LengthMm: 180},
		"tl 92,5 mm": {Measurement: "TL", LengthMm: 92.5},
		"18cm FL":    {Measurement: "FL", LengthMm: 180},
		"":           nil,
	} {
		got, err := printedSize(text)
		if err != nil || got.GetMeasurement() != want.GetMeasurement() || got.GetLengthMm() != want.GetLengthMm() || (got == nil) != (want == nil) {
			t.Errorf("%q is read as %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"SL", "-3 SL", "0", "NaN", "180 HL", "1 2 SL", "big"} {
		if got, err := printedSize(text); err == nil {
			t.Errorf("%q is read as %v", text, got)
		}
	}
}

func FuzzPrintedSize(f *testing.F) {
	for _, seed := range []string{"180 SL", "tl 92,5 mm", "18cm FL", "", "MMMM", "1e999 SL"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := printedSize(text)
		if err == nil && got != nil && !(got.GetLengthMm() > 0) {
			t.Errorf("%q is read as %v", text, got)
		}
	})
}

func TestWantedStructures(t *testing.T) {
	got, err := wantedStructures([]string{"first dorsal fin", " head @ dorsal", "opercle@left-lateral"})
	if err != nil || len(got) != 3 {
		t.Fatal(got, err)
	}
	for i, want := range []*pb.WantedStructure{{Structure: "first dorsal fin"}, {Structure: "head", View: pb.View_VIEW_DORSAL}, {Structure: "opercle", View: pb.View_VIEW_LEFT_LATERAL}} {
		if got[i].GetStructure() != want.GetStructure() || got[i].GetView() != want.GetView() {
			t.Errorf("structure %d is read as %v; want %v", i, got[i], want)
		}
	}
	if _, err := wantedStructures([]string{"head@sideways"}); err == nil {
		t.Error("an unknown view is taken")
	}
}
