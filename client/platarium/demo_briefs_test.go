package main

import (
	"archive/zip"
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"

	"platarium/client/cli"
	"platarium/client/demo"
	"platarium/client/manifest"
	pb "platarium/proto/platarium/v1"
)

// studioDesk is a server with some of the invented studio's works, drawn small, and all its briefs. It returns pictures by the works' keys.
func studioDesk(t *testing.T) (r *running, names map[string]string) {
	t.Helper()
	r = start(t, newConfig(t))
	ctx, dir := t.Context(), t.TempDir()
	keep := []string{"P-007", "S-015", "R-020", "S-060", "S-061", "S-062", "S-053", "P-034", "S-058"}
	if _, err := demo.WriteScans(ctx, dir, demo.ScanOptions{PPIFactor: 0.25, Keep: func(w demo.Work) bool { return slices.Contains(keep, w.Key) }}); err != nil {
		t.Fatal(err)
	}
	names, specimens := map[string]string{}, map[string]string{}
	sum, err := manifest.Import(ctx, r.owner, manifest.Options{
		Path: filepath.Join(dir, demo.ManifestName), Specimens: filepath.Join(dir, demo.SpecimensName), Jobs: 2,
		Report: func(row manifest.RowResult) {
			if row.Table == demo.SpecimensName {
				specimens[row.Key] = row.Name
			} else {
				names[row.Key] = row.Name
			}
		},
	})
	if err != nil || sum.Rejected() > 0 || len(names) != len(keep) {
		t.Fatalf("import: %v, %d rejected, %d names", err, sum.Rejected(), len(names))
	}
	if err := demo.FillDiagnoses(ctx, r.owner); err != nil {
		t.Fatal(err)
	}
	if err := demo.FillClients(ctx, r.owner); err != nil {
		t.Fatal(err)
	}
	for range 2 { // the second time changes nothing
		if err := demo.FillBriefs(ctx, r.owner, names, specimens); err != nil {
			t.Fatal(err)
		}
	}
	return r, names
}

// TestDemoBriefs makes sure that the studio's briefs are entered once and carry their work.
func TestDemoBriefs(t *testing.T) {
	r, names := studioDesk(t)
	res, err := r.owner.Commission.ListBriefs(t.Context(), &pb.ListBriefsRequest{})
	if err != nil || len(res.GetBriefs()) != len(demo.Briefs()) {
		t.Fatalf("%d briefs, %v; want %d", len(res.GetBriefs()), err, len(demo.Briefs()))
	}
	for i, want := range demo.Briefs() {
		got := res.GetBriefs()[i]
		plate := names[want.Plate]
		if got.GetTitle() != want.Title || got.GetPlate() != plate || (got.GetDeliveredOn() == "") != (plate == "") ||
			len(got.GetStudies()) != len(want.Studies) || len(got.GetChecked()) != len(want.Ticks) || got.GetIdentification().GetTaxon() == "" {
			t.Errorf("brief %s is %v", want.Key, got)
		}
	}
}

// TestPlanOfADemoBrief asks for a plan by the command line and has it written as sheets and as crops.
func TestPlanOfADemoBrief(t *testing.T) {
	r, names := studioDesk(t)
	dir := t.TempDir()
	pdf, crops := filepath.Join(dir, "plan.pdf"), filepath.Join(dir, "plan.zip")
	out, _ := do(t, r, cli.OK, "plan", "briefs/b-02", "--pdf", pdf, "--zip", crops, "--type", "png", "--depth", "8")
	for _, want := range []string{"Serranus wall panel (briefs/b-02): Serranus subligarius", "\ndorsal fin", "  use " + names["P-007"], "checked: D X,12", "\nPictures to use\n"} {
		if !strings.Contains(out, want) {
			t.Errorf("the plan says\n%s\nwant %q", out, want)
		}
	}
	if b, err := os.ReadFile(pdf); err != nil || !bytes.HasPrefix(b, []byte("%PDF-")) {
		t.Errorf("the sheets are %.20q, %v", b, err)
	}
	z, err := zip.OpenReader(crops)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = z.Close() }()
	images := 0
	for _, f := range z.File {
		if strings.HasSuffix(f.Name, ".png") {
			images++
		}
	}
	if images < 3 {
		t.Errorf("%d crops; want one for each structure", images)
	}
	drafted, _ := do(t, r, cli.OK, "plan", "--taxon", "Serranus subligarius", "--structure", "opercle", "--printed", "60 SL", "--json")
	if p := (&pb.Plan{}); protojson.Unmarshal([]byte(drafted), p) != nil || p.GetBrief() != "" || len(p.GetStructures()) != 1 || p.GetSize().GetPrintedStandardLengthMm() != 60 {
		t.Errorf("a plan without a brief is %s", drafted)
	}
	do(t, r, cli.Missing, "plan", "briefs/none-such")
	do(t, r, cli.Refused, "plan", "--taxon", "Nemo nusquam")
}

// TestCheckOfDemoPictures makes sure that what is wrong with the studio's pictures on purpose is found, and what is right passes.
func TestCheckOfDemoPictures(t *testing.T) {
	r, names := studioDesk(t)
	for key, want := range map[string]struct {
		code int
		says []string
	}{
		"S-060": {cli.Problems, []string{"outside         BD is", "outside         HL is", "Cope 1870", "agrees          D X agrees"}},
		"S-061": {cli.OK, []string{"agrees          BD is", "agrees          HL is", "mm a pixel"}},
		"S-058": {cli.OK, []string{"scale: unknown"}},
	} {
		out, _ := do(t, r, want.code, "check", names[key])
		for _, w := range want.says {
			if !strings.Contains(out, w) {
				t.Errorf("%s: the check says\n%s\nwant %q", key, out, w)
			}
		}
	}
	if out, _ := do(t, r, cli.OK, "brief", "checklist", "Serranus subligarius"); !strings.Contains(out, "  opercle") {
		t.Errorf("the checklist says %q", out)
	}
}
