package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"

	"platarium/client/cli"
	pb "platarium/proto/platarium/v1"
)

// shownBrief reads a brief as the command line shows it.
func shownBrief(t *testing.T, r *running, name string) *pb.Brief {
	t.Helper()
	out, _ := do(t, r, cli.OK, "show", name, "--json")
	b := &pb.Brief{}
	if err := protojson.Unmarshal([]byte(out), b); err != nil {
		t.Fatal(err)
	}
	return b
}

// TestLifeOfABrief takes a commission from its brief to the plate by the command line.
func TestLifeOfABrief(t *testing.T) {
	r := licensingDesk(t)
	for _, id := range []string{"outline-study", "color-study", "old-plate"} {
		do(t, r, cli.OK, "add", "picture", "--id", id, "kind=study", "title="+id)
	}
	do(t, r, cli.OK, "brief", "create", "--id", "perch-panel", "--title", "Perch wall panel", "--taxon", "Perca fluviatilis", "--structure", "First dorsal fin",
		"--structure", "head@dorsal", "--view", "left lateral", "--printed", "180 SL", "--rendering", "line", "--media", "print.book", "--territory", "DE,AT",
		"--from", "2027-01-01", "--exclusivity", "sole", "--due", "2026-12-01", "--client", "parties/reed-press")
	b := shownBrief(t, r, "briefs/perch-panel")
	switch {
	case b.GetIdentification().GetTaxon() == "", len(b.GetStructures()) != 2, b.GetStructures()[1].GetView() != pb.View_VIEW_DORSAL,
		b.GetPrinted().GetLengthMm() != 180, b.GetUse().GetTerritories()[1] != "AT", b.GetExclusivity() != pb.Exclusivity_EXCLUSIVITY_SOLE, b.GetClient() != "parties/reed-press":
		t.Errorf("created as %v", b)
	}
	do(t, r, cli.OK, "brief", "update", "briefs/perch-panel", "--printed", "24cm TL", "--body", "pictures/outline-study", "--structure", "first dorsal fin")
	do(t, r, cli.Usage, "brief", "update", "briefs/perch-panel")
	do(t, r, cli.OK, "brief", "choose", "briefs/perch-panel", "First  dorsal fin", "pictures/old-plate", "--note", "cleanest")
	do(t, r, cli.OK, "brief", "choose", "briefs/perch-panel", "first dorsal fin", "pictures/old-plate", "--leave-out")
	do(t, r, cli.OK, "brief", "study", "briefs/perch-panel", "pictures/color-study", "first dorsal fin", "opercle")
	do(t, r, cli.OK, "brief", "check", "briefs/perch-panel", "first dorsal fin", "D1 XIV", "--by", "Maren Oltedal", "--on", "2026-05-20", "--against", "pictures/old-plate")
	if _, said := do(t, r, cli.Refused, "brief", "check", "briefs/perch-panel", "first dorsal fin", "D1 ((", "--by", "Maren Oltedal", "--against", "pictures/old-plate"); !strings.Contains(said, "checked[1]") {
		t.Errorf("an unreadable count is refused with %q", said)
	}
	do(t, r, cli.Usage, "brief", "check", "briefs/perch-panel", "opercle")
	b = shownBrief(t, r, "briefs/perch-panel")
	switch {
	case b.GetPrinted().GetLengthMm() != 240, b.GetBody() != "pictures/outline-study", len(b.GetStructures()) != 1, b.GetDueOn() != "2026-12-01":
		t.Errorf("updated to %v", b)
	case len(b.GetChoices()) != 1 || !b.GetChoices()[0].GetLeftOut():
		t.Errorf("choices are %v; want the second word alone", b.GetChoices())
	case len(b.GetStudies()) != 1 || len(b.GetStudies()[0].GetStructures()) != 2 || b.GetChecked()[0].GetFormula() != "D1 XIV":
		t.Errorf("work logged as %v, %v", b.GetStudies(), b.GetChecked())
	}
	do(t, r, cli.OK, "brief", "choose", "briefs/perch-panel", "first dorsal fin", "pictures/old-plate", "--undo")

	if out, _ := do(t, r, cli.OK, "brief", "list", "--open"); out != "briefs/perch-panel  Perch wall panel: Perca fluviatilis; for parties/reed-press; due 2026-12-01\n" {
		t.Errorf("the list says %q", out)
	}
	out, _ := do(t, r, cli.OK, "brief", "deliver", "briefs/perch-panel", "pictures/perch-plate", "--copied", "pictures/color-study")
	if out != "briefs/perch-panel: delivered as pictures/perch-plate on 2026-06-01\n" {
		t.Errorf("delivery says %q", out)
	}
	plate, _ := do(t, r, cli.OK, "show", "pictures/perch-plate")
	for _, want := range []string{"picture pictures/outline-study, role fact source", "picture pictures/color-study, role copied"} {
		if !strings.Contains(plate, want) {
			t.Errorf("the plate is\n%s\nwant %q", plate, want)
		}
	}
	if out, _ := do(t, r, cli.OK, "brief", "list", "--open"); out != "" {
		t.Errorf("open briefs are %q", out)
	}
	do(t, r, cli.Refused, "brief", "deliver", "briefs/perch-panel", "pictures/perch-plate")
	do(t, r, cli.Refused, "delete", "briefs/perch-panel")
}

// A brief from a file can be changed field by field and deleted like every record.
func TestBriefFromFile(t *testing.T) {
	r := licensingDesk(t)
	file := filepath.Join(t.TempDir(), "brief.json")
	if err := os.WriteFile(file, []byte(`{"title": "Pike", "identification": {"scientificName": "Esox lucius"}, "counts": {"formula": "A 17"}}`), 0o644); err != nil {
		t.Fatal(err)
	}
	do(t, r, cli.OK, "brief", "create", "--id", "pike-sheet", "--file", file, "--title", "Pike sheet")
	do(t, r, cli.OK, "update", "briefs/pike-sheet", "job=J-77", "rendering=combination")
	b := shownBrief(t, r, "briefs/pike-sheet")
	if b.GetTitle() != "Pike sheet" || b.GetCounts().GetCanonical() == "" || b.GetJob() != "J-77" || b.GetRendering() != pb.Rendering_RENDERING_COMBINATION {
		t.Errorf("the brief is %v", b)
	}
	do(t, r, cli.Refused, "brief", "create", "--title", "Nobody's", "--taxon", "Nemo nusquam")
	do(t, r, cli.Usage, "brief", "create", "--title", "Pike", "--taxon", "Esox lucius", "--printed", "large")
	do(t, r, cli.OK, "delete", "briefs/pike-sheet")
	do(t, r, cli.Missing, "show", "briefs/pike-sheet")
}
