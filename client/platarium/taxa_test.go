package main

import (
	"archive/zip"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client/cli"
	"platarium/client/taxaimport"
	pb "platarium/proto/platarium/v1"
)

// The checklists are invented; they stand with the package that imports them.
const lists = "../taxaimport/testdata/"

// brought imports a list that must come to its end.
func brought(t *testing.T, r *running, opts taxaimport.Options) (*taxaimport.Summary, map[string]taxaimport.TaxonResult) {
	t.Helper()
	rows := map[string]taxaimport.TaxonResult{}
	opts.Report = func(res taxaimport.TaxonResult) { rows[res.Name] = res }
	sum, err := taxaimport.Import(t.Context(), r.owner, opts)
	if err != nil {
		t.Fatalf("import of %s: %v", opts.Path, err)
	}
	if got := sum.Added + sum.LaidOver + sum.Changed + sum.Unchanged + sum.Doubtful + sum.Rejected; got != sum.Rows {
		t.Errorf("the sum tells of %d of %d rows", got, sum.Rows)
	}
	return sum, rows
}

// TestTaxaCommands is a session with every command about names and counts; its golden files show what a person reads.
func TestTaxaCommands(t *testing.T) {
	r := start(t, newConfig(t))
	t.Run("checklists", func(t *testing.T) {
		s := newSession(t, r)
		s.run("taxa", "import", lists+"darwincore", "--dry-run")
		s.run("taxa", "import", lists+"darwincore")
		s.run("taxa", "import", lists+"darwincore", "--quiet")
		s.run("taxa", "import", lists+"coldp", "--only-new")
		s.run("taxa", "import", lists+"coldp", "--dry-run")
		s.run("taxa", "import", lists+"nowhere")
		s.run("taxa", "import", lists+"coldp", "--homonyms", "perhaps")
		s.run("taxa", "import", lists+"coldp", "--only-new", "--update")
		s.golden("checklists")
	})
	t.Run("names", func(t *testing.T) {
		s := newSession(t, r)
		s.run("taxa", "match", "Perca fluviatilis", "Perca fluviatillis", "Perca alba Moor", "white perchlet", "Perca", "Nobodius nullus")
		s.typed("Ficta glauca\n\n  Ficta rubra \n", "taxa", "match", "--limit", "1")
		s.run("taxa", "match")
		s.run("taxa", "tree", "Ficta")
		s.run("taxa", "tree", "Fictoperca alba")
		s.run("taxa", "tree", "Nobodius")
		s.run("taxa", "show", "Perca fluviatilis")
		s.run("taxa", "show", "green fict")
		s.run("taxa", "show", "Perca alba")
		s.run("taxa", "show", "Perca fluviatillis")
		s.run("taxa", "show", "taxa/T999999")
		s.golden("names")
	})
	t.Run("diagnoses", func(t *testing.T) {
		s := newSession(t, r)
		s.run("taxa", "diagnoses", "../../testdata/published/diagnoses.tsv", "--dry-run")
		s.run("taxa", "diagnoses", "../../testdata/published/diagnoses.tsv", "--quiet")
		s.run("taxa", "diagnoses", "../../testdata/published/diagnoses.tsv", "--quiet")
		s.run("taxa", "show", "Sebastes polyspinis")
		s.run("taxa", "diagnoses", "--columns")
		s.golden("diagnoses")
	})
	t.Run("counts", func(t *testing.T) {
		s := newSession(t, r)
		s.run("counts", "parse", "D X-XI,11-13; A III,8; P 15-17")
		s.run("counts", "parse", "--character", "GR", "7-9 + 1 + 14-16")
		s.run("counts", "parse", "D. 10/11; V. 1/5", "12-14", "D XIV, I,13")
		s.typed("D X--\nA III,8\n", "counts", "parse")
		s.run("counts", "parse", "--character", "Q", "12")
		s.run("counts", "check", "--taxon", "Sebastes polyspinis", "D XIV,14; A III,8; P 17-19; LLp 45; GR 37; Vert 28")
		s.run("counts", "check", "--taxon", "Northern rockfish", "D XIII,14; A III,8; P 17-19; LLp 45; GR 37; Vert 28; C 17")
		s.run("counts", "check", "--taxon", "Sebastes polyspinis", "GR 20")
		s.run("counts", "check", "--taxon", "Sebastes polyspinis", "C 17")
		s.run("counts", "check", "--taxon", "Ficta viridis", "D X,11")
		s.run("counts", "check", "--taxon", "Sebastes polyspinus", "D X,11")
		s.run("counts", "check", "--taxon", "Sebastes polyspinis", "D X--")
		s.run("counts", "check", "D X")
		s.golden("counts")
	})
	t.Run("json", func(t *testing.T) {
		s := newSession(t, r)
		for _, words := range [][]string{
			{"taxa", "import", lists + "coldp", "--json"}, {"taxa", "tree", "Perca", "--json"}, {"taxa", "show", "Perca fluviatilis", "--json"}, {"taxa", "match", "Perca", "--json"},
			{"taxa", "diagnoses", "../../testdata/published/diagnoses.tsv", "--json"}, {"taxa", "diagnoses", "--columns", "--json"},
			{"counts", "parse", "A III,8", "--json"}, {"counts", "check", "--taxon", "Sebastes polyspinis", "A III,8", "--json"},
		} {
			lines := 0
			for line := range strings.Lines(s.run(words...)) {
				if lines++; !json.Valid([]byte(line)) {
					t.Errorf("%v: no JSON: %s", words, line)
				}
			}
			if lines == 0 {
				t.Errorf("%v: no line", words)
			}
		}
	})
}

// TestTaxaImportRepeated imports lists of each format, zipped and not, and again.
func TestTaxaImportRepeated(t *testing.T) {
	r := start(t, newConfig(t))
	first, _ := brought(t, r, taxaimport.Options{Path: lists + "coldp"})
	if first.Added != 6 {
		t.Errorf("first time: %+v", first)
	}
	zipped := zipFolder(t, lists+"coldp", "coldp.zip")
	again, _ := brought(t, r, taxaimport.Options{Path: zipped})
	if again.Unchanged != again.Rows {
		t.Errorf("the same list from an archive: %+v", again)
	}
	other, _ := brought(t, r, taxaimport.Options{Path: zipped, List: "another name of it"})
	if other.Unchanged != other.Rows {
		t.Errorf("the same names under another list's name: %+v", other)
	}
	status, err := r.owner.Admin.GetStatus(t.Context(), &pb.GetStatusRequest{})
	if err != nil {
		t.Fatal(err)
	}
	if n := status.GetRecords()["taxa"]; n != 6 {
		t.Errorf("the archive has %d entries, want 6", n)
	}
	// What was deleted comes back with the next import, although the same was asked before.
	if _, err := r.owner.Taxa.DeleteTaxon(t.Context(), &pb.DeleteTaxonRequest{Name: "taxa/coldp-6"}); err != nil {
		t.Fatal(err)
	}
	back, rows := brought(t, r, taxaimport.Options{Path: lists + "coldp"})
	if back.Added != 1 || rows["Ficta rubra"].Taxon != "taxa/coldp-6" {
		t.Errorf("after a deletion: %+v, %+v", back, rows["Ficta rubra"])
	}
	if _, err := r.owner.Taxa.GetTaxon(t.Context(), &pb.GetTaxonRequest{Name: "taxa/coldp-6"}); err != nil {
		t.Error(err)
	}
}

func zipFolder(t *testing.T, dir, name string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	z := zip.NewWriter(f)
	if err := z.AddFS(os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

const heading = "taxonID|scientificName|scientificNameAuthorship|taxonRank|parentNameUsageID|taxonomicStatus|acceptedNameUsageID|family|order"

// TestTaxaHomonyms: a name elsewhere in the tree is never taken for the same taxon unless a person says so.
func TestTaxaHomonyms(t *testing.T) {
	r := start(t, newConfig(t))
	list := taxaTable(t, "birds.tsv", heading,
		"1|Perca|Moor, 1931|genus||accepted||Pennatidae|Pennatiformes",
		"2|Perca alata|Moor, 1931|species|1|accepted|||",
		"3|Perca volans|Moor, 1932|species||synonym|2||",
		"4|Esox|Linnaeus, 1758|genus||accepted||Moved|Elsewhere", // the same authors: the same genus, placed otherwise
		"5|Gymnocephalus||genus||accepted|||")                    // nothing speaks against it
	sum, rows := brought(t, r, taxaimport.Options{Path: list})
	if perca := rows["Perca"]; perca.Outcome != taxaimport.Doubtful || len(perca.Candidates) != 1 || perca.Fault == nil || !strings.Contains(perca.Fault.Wanted, "Percidae") {
		t.Errorf("homonym: %+v, %v", perca, perca.Fault)
	}
	for _, name := range []string{"Perca alata", "Perca volans"} {
		if rows[name].Outcome != taxaimport.Rejected {
			t.Errorf("below a homonym: %+v", rows[name])
		}
	}
	if rows["Esox"].Outcome != taxaimport.Unchanged || rows["Gymnocephalus"].Outcome != taxaimport.Unchanged || sum.LeftOut() != 3 {
		t.Errorf("others: %+v, %+v, %+v", rows["Esox"], rows["Gymnocephalus"], sum)
	}
	sum, rows = brought(t, r, taxaimport.Options{Path: list, Homonyms: taxaimport.Add})
	if rows["Perca"].Outcome != taxaimport.Added || rows["Perca"].Taxon != "taxa/birds-1" || rows["Perca alata"].Outcome != taxaimport.Added || sum.LeftOut() != 0 {
		t.Errorf("added: %+v, %+v", rows["Perca"], sum)
	}
	sum, _ = brought(t, r, taxaimport.Options{Path: list})
	if sum.Unchanged != sum.Rows {
		t.Errorf("again, without a word about homonyms: %+v", sum)
	}
	same := taxaTable(t, "moved.tsv", heading, "1|Perca||genus||accepted||Elsewheridae|Elsewhereformes")
	if _, rows = brought(t, r, taxaimport.Options{Path: same, Homonyms: taxaimport.Same}); rows["Perca"].Outcome != taxaimport.Doubtful {
		t.Errorf("two homonyms there, none of them meant: %+v", rows["Perca"])
	}
}

// TestTaxaAcceptedNames: a list that calls a name of the base a synonym lays that over it, and the pictures are found by both names.
func TestTaxaAcceptedNames(t *testing.T) {
	r := start(t, newConfig(t))
	plate := plateOf(t, r, "Perca schrenkii")
	list := taxaTable(t, "names.tsv", heading,
		"1|Perca nova|Moor, 1950|species||accepted|||",
		"2|Perca schrenkii||species||synonym|1||",
		"3|Perca flavescens|Moor, 1950|species||synonym|1||") // by others than the archive's: another name, spelled alike
	_, rows := brought(t, r, taxaimport.Options{Path: list})
	if rows["Perca schrenkii"].Outcome != taxaimport.LaidOver || rows["Perca flavescens"].Outcome != taxaimport.Added {
		t.Errorf("synonyms: %+v, %+v", rows["Perca schrenkii"], rows["Perca flavescens"])
	}
	if nova, err := r.owner.Taxa.GetTaxon(t.Context(), &pb.GetTaxonRequest{Name: rows["Perca nova"].Taxon}); err != nil || nova.GetParent() != "taxa/T009324" {
		t.Errorf("a species without a parent goes under its genus: %v, %v", nova, err)
	}
	for _, name := range []string{"Perca nova", "Perca schrenkii"} {
		foundBy(t, r, name, plate)
	}
	back := taxaTable(t, "back.tsv", heading,
		"1|Perca schrenkii||species||accepted|||",
		"2|Perca nova|Moor, 1950|species||synonym|1||")
	if _, rows = brought(t, r, taxaimport.Options{Path: back}); rows["Perca nova"].Outcome != taxaimport.Doubtful {
		t.Errorf("what the studio entered isn't turned round in silence: %+v", rows["Perca nova"])
	}
	if _, rows = brought(t, r, taxaimport.Options{Path: back, Update: true}); rows["Perca nova"].Outcome != taxaimport.Changed || rows["Perca schrenkii"].Outcome != taxaimport.Changed {
		t.Errorf("turned round: %+v, %+v", rows["Perca nova"], rows["Perca schrenkii"])
	}
	for _, name := range []string{"Perca nova", "Perca schrenkii"} {
		foundBy(t, r, name, plate)
	}
}

// TestTaxaRename: after a rename pictures are found by both names at once, below a taxon of the base and below one of the studio's own.
func TestTaxaRename(t *testing.T) {
	r := start(t, newConfig(t))
	brought(t, r, taxaimport.Options{Path: lists + "coldp"})
	for _, c := range []struct{ taxon, was, now string }{
		{"taxa/T009326", "Perca fluviatilis", "Perca renamed"},
		{"taxa/coldp-4", "Ficta viridis", "Ficta smaragdina"},
	} {
		plate := plateOf(t, r, c.was)
		if _, err := r.owner.Taxa.UpdateTaxon(t.Context(), &pb.UpdateTaxonRequest{
			Taxon: &pb.Taxon{Name: c.taxon, ScientificName: c.now}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"scientific_name"}},
		}); err != nil {
			t.Fatal(err)
		}
		foundBy(t, r, c.was, plate)
		foundBy(t, r, c.now, plate)
	}
	// A genus that becomes a synonym takes its species along.
	plate := plateOf(t, r, "Ficta rubra")
	if _, err := r.owner.Taxa.UpdateTaxon(t.Context(), &pb.UpdateTaxonRequest{
		Taxon:      &pb.Taxon{Name: "taxa/coldp-3", Status: pb.TaxonStatus_TAXON_STATUS_SYNONYM, Accepted: "taxa/T009324"},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"status", "accepted"}},
	}); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"Ficta rubra", "Ficta", "Perca", "Percidae"} {
		foundBy(t, r, name, plate)
	}
	if hits := underTaxon(t, r, "taxa/coldp-2"); len(hits) != 0 { // nothing is left below the family that it stood in
		t.Errorf("below the former family: %v", hits)
	}
}

// plateOf makes a picture identified by a name.
func plateOf(t *testing.T, r *running, name string) string {
	t.Helper()
	p, err := r.owner.Archive.CreatePicture(t.Context(), &pb.CreatePictureRequest{Picture: &pb.Picture{
		Kind: pb.Kind_KIND_PLATE, Title: "Lateral view", Identification: &pb.Identification{ScientificName: name},
	}})
	if err != nil {
		t.Fatalf("picture of %s: %v", name, err)
	}
	return p.GetName()
}

// foundBy checks that a picture comes up for a name, as text and as the taxon that it means.
func foundBy(t *testing.T, r *running, name, picture string) {
	t.Helper()
	hits := searched(t, r, &pb.SearchPicturesRequest{Text: name})
	if !slices.Contains(hits, picture) {
		t.Errorf("words %q: %s isn't among %v", name, picture, hits)
	}
	m, err := r.owner.Taxa.MatchNames(t.Context(), &pb.MatchNamesRequest{Names: []string{name}})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.GetMatches()[0].GetCandidates()) == 0 || !m.GetMatches()[0].GetCandidates()[0].GetExact() {
		t.Errorf("%q means nothing: %v", name, m)
		return
	}
	if hits := underTaxon(t, r, m.GetMatches()[0].GetCandidates()[0].GetAccepted()); !slices.Contains(hits, picture) {
		t.Errorf("taxon %q: %s isn't among %v", name, picture, hits)
	}
}

func underTaxon(t *testing.T, r *running, taxon string) []string {
	t.Helper()
	return searched(t, r, &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Taxa: []string{taxon}}})
}

func searched(t *testing.T, r *running, req *pb.SearchPicturesRequest) []string {
	t.Helper()
	res, err := r.owner.Search.SearchPictures(t.Context(), req)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, h := range res.GetHits() {
		out = append(out, h.GetPicture().GetName())
	}
	return out
}

// TestTaxaExitCodes: what a script tells by.
func TestTaxaExitCodes(t *testing.T) {
	r := start(t, newConfig(t))
	t.Setenv("PLATARIUM_KEY", "")
	ring := taxaTable(t, "ring.tsv", "taxonID|scientificName|parentNameUsageID", "A|Aaa|B", "B|Bbb|C", "C|Ccc|A")
	wrong := taxaTable(t, "wrong.tsv", "speces|source")
	for _, c := range []struct {
		words []string
		code  int
		says  string
	}{
		{[]string{"taxa", "import", ring}, cli.Usage, "A > B > C > A"},
		{[]string{"taxa", "diagnoses", wrong}, cli.Usage, `did you mean "species"?`},
		{[]string{"taxa", "diagnoses", ring + "x"}, cli.Usage, "no such file"},
		{[]string{"taxa", "import"}, cli.Usage, "accepts 1 arg"},
	} {
		var out, errOut strings.Builder
		code := cli.Run(t.Context(), append([]string{"--server", r.address, "--key-file", r.conf.KeyFile}, c.words...), strings.NewReader(""), &out, &errOut)
		if code != c.code || !strings.Contains(errOut.String(), c.says) {
			t.Errorf("%v: exit code %d, want %d; said %q, want %q", c.words, code, c.code, errOut.String(), c.says)
		}
	}
}
