package main

import (
	"path/filepath"
	"slices"
	"testing"

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
	if _, err := demo.WriteScans(ctx, dir, demo.ScanOptions{PPIFactor: 0.4, Keep: func(w demo.Work) bool { return slices.Contains(keep, w.Key) }}); err != nil {
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
