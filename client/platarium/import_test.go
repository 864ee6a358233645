package main

import (
	"bytes"
	"encoding/csv"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"platarium/client"
	"platarium/client/manifest"
	pb "platarium/proto/platarium/v1"
)

// scan is a small drawing that differs by n.
func scan(t testing.TB, n int) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 64, 32))
	for y := range 32 {
		for x := range 64 {
			img.SetGray(x, y, color.Gray{Y: uint8(x*3 + y*n)})
		}
	}
	img.SetGray(0, 0, color.Gray{Y: uint8(n)})
	img.SetGray(1, 0, color.Gray{Y: uint8(n >> 8)})
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// write puts files into a folder, made for it.
func write(t testing.TB, dir string, files map[string][]byte) {
	t.Helper()
	for name, b := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func lines(rows ...string) []byte { return []byte(strings.Join(rows, "\n") + "\n") }

// imported runs an import that must come to its end, and gives what became of each row by table and number.
func imported(t testing.TB, c *client.Client, opts manifest.Options) (*manifest.Summary, map[int]manifest.RowResult) {
	t.Helper()
	rows := map[int]manifest.RowResult{}
	opts.Report = func(r manifest.RowResult) {
		if r.Table != filepath.Base(opts.Path) {
			return
		}
		if before, twice := rows[r.Row]; twice {
			t.Errorf("row %d is reported twice: %+v and %+v", r.Row, before, r)
		}
		rows[r.Row] = r
	}
	sum, err := manifest.Import(t.Context(), c, opts)
	if err != nil {
		t.Fatalf("import: %v", err)
	}
	if len(rows) != sum.Pictures.Rows || sum.Pictures.NotReached != 0 {
		t.Errorf("%d rows are reported of %+v", len(rows), sum.Pictures)
	}
	return sum, rows
}

// archived lists all pictures by name.
func archived(t testing.TB, c *client.Client) map[string]*pb.Picture {
	t.Helper()
	out := map[string]*pb.Picture{}
	req := &pb.ListPicturesRequest{PageSize: 1000}
	for {
		res, err := c.Archive.ListPictures(t.Context(), req)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range res.GetPictures() {
			out[p.GetName()] = p
		}
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
			return out
		}
	}
}

const plateHead = "file,key,kind,title,scientific_name,view,structures,counts,specimen,derived_from,credit"

// perchFolder is a plate with its photograph and specimen.
func perchFolder(t *testing.T) manifest.Options {
	t.Helper()
	dir := t.TempDir()
	write(t, dir, map[string][]byte{
		"plates/perch.png": scan(t, 1), "refs/perch photo.png": scan(t, 2),
		"specimens.csv": lines("key,scientific_name,catalog_number,institution,standard_length_mm,body_depth_mm", "S1,Perca fluviatilis,NNHM 1998.114,Northmere Museum,212,60.5"),
		"plates.csv": lines(plateHead,
			`plates/perch.png,P1,plate,European perch,Perca fluviatilis,left lateral,"First dorsal fin=complete@0.3,0.1,0.2,0.2","D XIV, I,13; A II,8",S1,P2:fact,© Ida Moor / Studio`,
			`refs/perch photo.png,P2,reference,"Perch, fresh",Perca fluviatilis,right lateral,,,NNHM 1998.114,,`),
	})
	return manifest.Options{Path: filepath.Join(dir, "plates.csv"), Specimens: filepath.Join(dir, "specimens.csv")}
}

// TestImport brings in a plate with its specimen and source; checks first without storing; and finds all of it again under other file names.
func TestImport(t *testing.T) {
	r := start(t, newConfig(t))
	opts := perchFolder(t)
	dry := opts
	dry.DryRun = true
	sum, rows := imported(t, r.owner, dry)
	if sum.Pictures.WouldDo != 2 || sum.Specimens.WouldDo != 1 || sum.FilesSent != 0 || len(archived(t, r.owner)) != 0 {
		t.Fatalf("dry run: %+v, %+v", sum, rows)
	}
	sum, rows = imported(t, r.owner, opts)
	if sum.Pictures.Created != 2 || sum.Specimens.Created != 1 || sum.FilesSent != 2 || sum.RejectsFile != "" {
		t.Fatalf("first import: %+v, %+v", sum, rows)
	}
	plate, photo := archived(t, r.owner)[rows[2].Name], archived(t, r.owner)[rows[3].Name]
	if plate.GetOriginal().GetWidth() != 64 || plate.GetIdentification().GetTaxon() == "" || len(plate.GetCounts().GetParsed()) == 0 || plate.GetProvenance().GetRow() != 2 ||
		plate.GetProvenance().GetFileName() != "plates/perch.png" || plate.GetStructures()[0].GetStructure() != "first dorsal fin" || !slices.Equal(plate.GetCreditParts(), []string{"© Ida Moor", "Studio"}) {
		t.Errorf("plate came in as %v", plate)
	}
	if d := plate.GetDerivedFrom(); len(d) != 1 || d[0].GetPicture() != photo.GetName() || d[0].GetRole() != pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE {
		t.Errorf("plate derives from %v; want %s as fact source", d, photo.GetName())
	}
	if plate.GetSpecimen() == "" || plate.GetSpecimen() != photo.GetSpecimen() {
		t.Errorf("specimens are %q by key and %q by number", plate.GetSpecimen(), photo.GetSpecimen())
	}
	first := rows[2].Name
	sum, rows = imported(t, r.owner, opts)
	if sum.Pictures.Unchanged != 2 || sum.Specimens.Unchanged != 1 || sum.FilesKnown != 2 || sum.FilesSent != 0 {
		t.Errorf("second import: %+v, %+v", sum, rows)
	}

	dir := t.TempDir() // the same under other names, in other places, without the specimens file, and in another order
	write(t, dir, map[string][]byte{
		"finals/Perca_FINAL.png": scan(t, 1), "IMG_0001.png": scan(t, 2),
		"plates.csv": lines(plateHead, `IMG_0001.png,B,reference,"Perch, fresh",Perca fluviatilis,right lateral,,,NNHM 1998.114,,`,
			`finals/Perca_FINAL.png,A,plate,European perch,Perca fluviatilis,left lateral,"first dorsal fin=complete@0.3,0.1,0.2,0.2","D XIV, I,13; A II,8",NNHM 1998.114,B:fact,© Ida Moor / Studio`),
	})
	sum, rows = imported(t, r.owner, manifest.Options{Path: filepath.Join(dir, "plates.csv")})
	if sum.Pictures.Unchanged != 2 || rows[3].Name != first {
		t.Errorf("renamed: %+v, %+v; want %s again", sum, rows, first)
	}
}

// TestImportUpdate: what differs is told, and changed only on demand; empty cells and columns that aren't there change nothing.
func TestImportUpdate(t *testing.T) {
	r := start(t, newConfig(t))
	opts := perchFolder(t)
	_, rows := imported(t, r.owner, opts)
	name := rows[2].Name
	dir := filepath.Dir(opts.Path)
	write(t, dir, map[string][]byte{
		"specimens.csv": lines("key,catalog_number,institution,standard_length_mm", "S1,NNHM 1998.114,Northmere Museum,213"),
		"plates.csv": lines("file,kind,title,view,scientific_name,counts,technique,specimen,derived_from", `plates/perch.png,plate,Perch,,Esox lucius,"D XIV, I,13; A II,8",ink,,`,
			`,study,Tracing,,,,,S1,plates/perch.png`),
	})
	opts.NoRejects = true
	sum, rows := imported(t, r.owner, opts)
	if want := "it exists and differs in title, scientific_name, technique"; sum.Pictures.Rejected != 1 || sum.Specimens.Rejected != 1 || !strings.HasPrefix(rows[2].Reason, want) || rows[3].Outcome != manifest.Created {
		t.Errorf("without update: %+v, %+v; want %s", sum, rows, want)
	}
	opts.Update, opts.DryRun = true, true
	if sum, _ = imported(t, r.owner, opts); sum.Pictures.WouldDo != 1 || sum.Specimens.WouldDo != 1 {
		t.Errorf("dry update: %+v", sum)
	}
	before := archived(t, r.owner)[name]
	opts.DryRun = false
	if sum, _ = imported(t, r.owner, opts); sum.Pictures.Updated != 1 || sum.Specimens.Updated != 1 {
		t.Errorf("update: %+v", sum)
	}
	after := archived(t, r.owner)[name]
	if after.GetTitle() != "Perch" || after.GetTechnique() != "ink" || after.GetView() != pb.View_VIEW_LEFT_LATERAL || len(after.GetDerivedFrom()) != 1 || after.GetSpecimen() != before.GetSpecimen() ||
		after.GetIdentification().GetTaxon() == before.GetIdentification().GetTaxon() {
		t.Errorf("updated to %v", after)
	}
	if sum, _ = imported(t, r.owner, opts); sum.Pictures.Unchanged != 2 || sum.Specimens.Unchanged != 1 {
		t.Errorf("after the update: %+v", sum)
	}
	for _, gone := range []string{rows[3].Name, name} {
		if _, err := r.owner.Archive.DeletePicture(t.Context(), &pb.DeletePictureRequest{Name: gone}); err != nil {
			t.Fatal(err)
		}
	}
	if sum, _ = imported(t, r.owner, opts); sum.Pictures.Created != 2 || archived(t, r.owner)[name] == nil {
		t.Errorf("after deletion: %+v", sum)
	}
}

// TestBadRowsDontSinkTheRest: of a table with faults that only the archive can see, the rest goes in; the rejects are mended and go in too.
func TestBadRowsDontSinkTheRest(t *testing.T) {
	r := start(t, newConfig(t))
	dir := t.TempDir()
	path := filepath.Join(dir, "plates.csv")
	write(t, dir, map[string][]byte{
		"a.png": scan(t, 1), "b.png": scan(t, 2), "copy of a.png": scan(t, 1),
		"plates.csv": lines("key,file,kind,title,scientific_name,derived_from,specimen,rights_holder,id",
			"A,a.png,plate,Good,Perca fluviatilis,,,,", "B,b.png,plate,=Near,Perca fluviatlis,A:fact,,,", "C,,plate,After a bad one,,B; A,,,", "D,,plate,Unknown,Blorbus nonsensicus,,,,",
			"E,,plate,No specimen,,,NNHM 7,,", "F,,plate,No party,,,,parties/nobody,", "G,copy of a.png,plate,Copy,,,,,", "H,,plate,Twin,,,,,", "I,,plate,Twin,,,,,", "J,,plate,Source gone,,pictures/nowhere,,,",
			"K,,plate,Good too,Perca fluviatilis,A:copied,,,my-own-id"),
	})
	sum, rows := imported(t, r.owner, manifest.Options{Path: path})
	if sum.Pictures.Created != 3 || sum.Pictures.Rejected != 8 {
		t.Errorf("first: %+v", sum)
	}
	for row, want := range map[int]string{
		3: `column scientific_name: found "Perca fluviatlis", which the classification doesn't have as it is spelled; near it: Perca fluviatilis (`,
		4: "column derived_from: its source, row 3 (B), was rejected", 5: `column scientific_name: found "Blorbus nonsensicus"`, 6: `column specimen: found "NNHM 7"`,
		7: `column rights_holder: found "parties/nobody", which isn't in the archive`, 8: `column file: found "copy of a.png", which has the same content as that of row 2 (A)`,
		10: "says the same as row 9 (H)", 11: `column derived_from: found "pictures/nowhere", which isn't in the archive`,
	} {
		if !strings.HasPrefix(rows[row].Reason, want) {
			t.Errorf("row %d: %+v; want %s", row, rows[row], want)
		}
	}
	b, err := os.ReadFile(sum.RejectsFile)
	if err != nil {
		t.Fatal(err)
	}
	records, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(b, []byte("\ufeff")))).ReadAll()
	if err != nil || len(records) != 9 || records[0][0] != "reason" || records[1][0] != rows[3].Reason || records[1][4] != "'=Near" {
		t.Fatalf("rejects: %v, %q", err, records)
	}
	if from := records[2][6]; from != "B:copied; "+rows[2].Name+":copied" {
		t.Errorf("reference to a row that went in became %q; want its name", from)
	}
	mended := strings.NewReplacer("fluviatlis,", "fluviatilis,", "Blorbus nonsensicus,", "Esox lucius,", "NNHM 7", "", "parties/nobody", "", "copy of a.png", "", "I,,plate,Twin", "I,,plate,Twin two", "pictures/nowhere", rows[2].Name).Replace(string(b))
	write(t, dir, map[string][]byte{"mended.csv": []byte(mended)})
	sum, rows = imported(t, r.owner, manifest.Options{Path: filepath.Join(dir, "mended.csv")})
	if sum.Pictures.Created != 8 {
		t.Errorf("mended: %+v, %+v", sum, rows)
	}
	if p := archived(t, r.owner)[rows[2].Name]; p.GetTitle() != "=Near" {
		t.Errorf("guarded title came in as %q", p.GetTitle())
	}
}

// TestAcceptNear: a misspelt name is taken on demand only, and reported.
func TestAcceptNear(t *testing.T) {
	r := start(t, newConfig(t))
	dir := t.TempDir()
	write(t, dir, map[string][]byte{"plates.csv": lines("kind,title,scientific_name", "plate,Near,Perca fluviatlis", "plate,Too far,Pirka fluvius")})
	opts := manifest.Options{Path: filepath.Join(dir, "plates.csv"), AcceptNear: 0.8, NoRejects: true}
	sum, rows := imported(t, r.owner, opts)
	if sum.Pictures.Created != 1 || len(rows[2].Remarks) != 1 || !strings.HasPrefix(rows[2].Remarks[0], `scientific_name: took "Perca fluviatilis" for "Perca fluviatlis" (`) {
		t.Fatalf("near: %+v, %+v", sum, rows)
	}
	id := archived(t, r.owner)[rows[2].Name].GetIdentification()
	taxon, err := r.owner.Taxa.GetTaxon(t.Context(), &pb.GetTaxonRequest{Name: id.GetTaxon()})
	if err != nil || taxon.GetScientificName() != "Perca fluviatilis" || id.GetScientificName() != "Perca fluviatlis" {
		t.Errorf("identified as %v (%v), %v; want the taxon meant and the name as written", id, taxon.GetScientificName(), err)
	}
	if sum, _ = imported(t, r.owner, opts); sum.Pictures.Unchanged != 1 {
		t.Errorf("again: %+v", sum)
	}
}
