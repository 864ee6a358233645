package main

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client/taxaimport"
	pb "platarium/proto/platarium/v1"
)

func taxonNamed(t *testing.T, r *running, name string) *pb.Taxon {
	t.Helper()
	got, err := r.owner.Taxa.GetTaxon(t.Context(), &pb.GetTaxonRequest{Name: name})
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// TestTaxaUpdate: what a list says otherwise is a remark, until the caller takes the list's word.
func TestTaxaUpdate(t *testing.T) {
	r := start(t, newConfig(t))
	const otherwise = "1|Perca|Linnaeus, 1758|genus||accepted||Moronidae|"
	list := taxaTable(t, "otherwise.tsv", heading, otherwise, "2|Perca flavescens|(Mitchill, 1815)|species|1|accepted|||", "3|Perca schrenkii|Kessler, 1874|species|1|accepted|||")
	sum, rows := brought(t, r, taxaimport.Options{Path: list, OnlyNew: true})
	if sum.LaidOver != 0 || rows["Perca schrenkii"].Outcome != taxaimport.Unchanged {
		t.Errorf("only new: %+v", sum)
	}
	_, rows = brought(t, r, taxaimport.Options{Path: list})
	if got := rows["Perca"]; got.Outcome != taxaimport.Unchanged || !strings.Contains(strings.Join(got.Remarks, ";"), "under Moronidae instead of Percidae") {
		t.Errorf("another place: %+v", got)
	}
	if got := rows["Perca flavescens"]; got.Outcome != taxaimport.Unchanged || len(got.Remarks) != 0 { // a year apart is no other author
		t.Errorf("authors alike: %+v", got)
	}
	if got := rows["Perca schrenkii"]; got.Outcome != taxaimport.LaidOver || !slices.Contains(got.Adds, "authorship Kessler, 1874") {
		t.Errorf("missing authorship: %+v", got)
	}
	_, rows = brought(t, r, taxaimport.Options{Path: list, Update: true})
	if got := rows["Perca"]; got.Outcome != taxaimport.LaidOver {
		t.Errorf("the list's word: %+v", got)
	}
	moved := taxonNamed(t, r, "taxa/T009324")
	if family := taxonNamed(t, r, moved.GetParent()); family.GetScientificName() != "Moronidae" {
		t.Errorf("Perca is now under %s", family.GetScientificName())
	}
	if got := taxonNamed(t, r, "taxa/T009325"); got.GetAuthorship() != "(Mitchill, 1815)" || !strings.HasSuffix(got.GetSource(), "; otherwise") {
		t.Errorf("authorship taken: %v", got)
	}
	if sum, _ = brought(t, r, taxaimport.Options{Path: list, Update: true}); sum.Unchanged != sum.Rows {
		t.Errorf("again: %+v", sum)
	}
}

// TestTaxaDoubts: two taxa of a list are never taken for one of the archive; near names are told; what the archive refuses is told by row.
func TestTaxaDoubts(t *testing.T) {
	r := start(t, newConfig(t))
	list := taxaTable(t, "doubts.tsv", heading,
		"1|Esox lucius|Linnaeus, 1758|species||accepted|||",
		"2|Esox lucius|Linnaeus, 1758|species||accepted|||",
		"3|Perca fluviatillis||species||accepted|||",
		"4|Perca fluviatilis|Linnaeus, 1758|species||accepted|||",
		"5|Perca "+strings.Repeat("x", 400)+"||species||accepted|||",
		"6|Perca sp.||species||accepted|||")
	var results []taxaimport.TaxonResult
	sum, err := taxaimport.Import(t.Context(), r.owner, taxaimport.Options{Path: list, Report: func(res taxaimport.TaxonResult) { results = append(results, res) }})
	if err != nil {
		t.Fatal(err)
	}
	byRow := map[int]taxaimport.TaxonResult{}
	for _, res := range results {
		byRow[res.Row] = res
	}
	if first, second := byRow[2], byRow[3]; first.Outcome != taxaimport.LaidOver && first.Outcome != taxaimport.Unchanged || second.Outcome != taxaimport.Doubtful || !strings.Contains(second.Fault.Wanted, "row 2") {
		t.Errorf("doubled in the list: %+v, %+v", first, second)
	}
	if near := byRow[4]; near.Outcome != taxaimport.Added || !strings.Contains(strings.Join(near.Remarks, ";"), "Perca fluviatilis") {
		t.Errorf("near name: %+v", near)
	}
	if long := byRow[6]; long.Outcome != taxaimport.Rejected || long.Fault.Column == "" {
		t.Errorf("too long: %+v", long)
	}
	if open := byRow[7]; open.Outcome != taxaimport.Added {
		t.Errorf("open nomenclature is a taxon of its own: %+v", open)
	}
	if sum.Doubtful != 1 || sum.Rejected != 1 {
		t.Errorf("sum: %+v", sum)
	}
}

// counted imports diagnoses and gives the results by row.
func counted(t *testing.T, r *running, opts taxaimport.DiagnosisOptions) map[int]taxaimport.DiagnosisResult {
	t.Helper()
	out := map[int]taxaimport.DiagnosisResult{}
	opts.Report = func(res taxaimport.DiagnosisResult) { out[res.Row] = res }
	if _, err := taxaimport.ImportDiagnoses(t.Context(), r.owner, opts); err != nil {
		t.Fatal(err)
	}
	return out
}

// TestTaxaDiagnoses: a publication stands once with a taxon; its counts can be mended, and what else the taxon has stays.
func TestTaxaDiagnoses(t *testing.T) {
	r := start(t, newConfig(t))
	brought(t, r, taxaimport.Options{Path: lists + "coldp"})
	const viridis = "taxa/coldp-4"
	if _, err := r.owner.Taxa.UpdateTaxon(t.Context(), &pb.UpdateTaxonRequest{
		Taxon: &pb.Taxon{Name: viridis, Notes: "kept", Diagnoses: []*pb.Diagnosis{{
			Counts: &pb.Counts{Formula: "D IX,11"}, Citation: "Moor 1920, Invented Fishes", Proportions: []*pb.Proportion{{Length: "head length", Over: "standard length", Min: 3, Max: 3.4}},
		}}},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"notes", "diagnoses"}},
	}); err != nil {
		t.Fatal(err)
	}
	list := taxaTable(t, "counts.tsv", "species|source|d1_spines|d_rays|other",
		"Ficta viridis|Moor 1920, invented fishes|10|11|rudiments excluded",
		"Ficta glauca|Moor 1921|9|11|", // a synonym of the same
		"Ficta viridis|Moor 1921|8|11|",
		"Ficta verdis|Moor 1921|8|11|",
		"Ficta viridis|Moor 1922|8|11-|",
		"Ficta viridis|Moor 1923|||seen once",
		"Ficta sp.|Moor 1923|8|11|")
	trial := counted(t, r, taxaimport.DiagnosisOptions{Path: list, DryRun: true})
	if trial[2].Outcome != taxaimport.WouldChange || trial[3].Outcome != taxaimport.WouldAdd || len(taxonNamed(t, r, viridis).GetDiagnoses()) != 1 {
		t.Errorf("dry run: %+v, %+v", trial[2], trial[3])
	}
	rows := counted(t, r, taxaimport.DiagnosisOptions{Path: list})
	if rows[2].Outcome != taxaimport.Changed || rows[3].Outcome != taxaimport.Added || len(rows[3].Remarks) == 0 {
		t.Errorf("sound rows: %+v, %+v", rows[2], rows[3])
	}
	for row, column := range map[int]string{4: "source", 5: "species", 6: "d_rays", 8: "species"} {
		if rows[row].Outcome != taxaimport.Rejected || rows[row].Fault.Column != column {
			t.Errorf("row %d: %+v, %v", row, rows[row], rows[row].Fault)
		}
	}
	if rows[5].Candidates == nil || rows[7].Outcome != taxaimport.Rejected {
		t.Errorf("rows 5 and 7: %+v, %+v", rows[5], rows[7])
	}
	got := taxonNamed(t, r, viridis)
	if len(got.GetDiagnoses()) != 2 || got.GetNotes() != "kept" {
		t.Fatalf("taxon: %v", got)
	}
	first := got.GetDiagnoses()[0]
	if first.GetCounts().GetCanonical() != "D X,11" || len(first.GetProportions()) != 1 || !strings.Contains(first.GetProvenance(), "rudiments excluded") {
		t.Errorf("mended: %v", first)
	}
	again := counted(t, r, taxaimport.DiagnosisOptions{Path: list})
	if again[2].Outcome != taxaimport.Unchanged || again[3].Outcome != taxaimport.Unchanged || len(taxonNamed(t, r, viridis).GetDiagnoses()) != 2 {
		t.Errorf("again: %+v, %+v", again[2], again[3])
	}
}
