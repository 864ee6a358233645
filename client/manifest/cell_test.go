package manifest

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/testing/protocmp"

	pb "platarium/proto/platarium/v1"
)

// TestExamples reads the example of every column: the table that people see is the one the parser follows.
func TestExamples(t *testing.T) {
	for name, table := range map[string]struct {
		columns []Column
		made    func() *entry
	}{"pictures": {Columns(), newPictureEntry}, "specimens": {SpecimenColumns(), newSpecimenEntry}} {
		seen := map[string]bool{}
		for _, c := range table.columns {
			e := table.made()
			if c.Example != "" {
				e.read([]*Column{&c}, []string{c.Example})
			}
			if len(e.faults) > 0 || c.Meaning == "" || seen[c.Name] || c.Name != foldHeader(c.Name) {
				t.Errorf("%s, column %s: example %q gives %v", name, c.Name, c.Example, e.faults)
			}
			if len(e.paths) != len(c.paths) {
				t.Errorf("%s, column %s: speaks of %v; want %v", name, c.Name, e.paths, c.paths)
			}
			seen[c.Name] = true
		}
	}
}

// TestRow reads a row with every column filled.
func TestRow(t *testing.T) {
	row := map[string]string{
		"file": `plates\perch left.tif`, "id": "perch-left", "key": "P1", "kind": "Plate", "title": " European perch ", "scientific_name": "Perca fluviatilis", "taxon": "taxa/T000001",
		"identified_by": "H. Ruskvik", "identified_on": "1987~", "qualifier": "cf", "view": "LEFT_LATERAL", "stage": "colour-study", "technique": "ink",
		"structures": "First  dorsal fin=complete@0.3,0.1,0.2,0.2; pectoral fin = damaged ;head@0,0,0.25,1", "counts": "D XIV, I,13", "specimen": "S1",
		"creator": "Ida Moor; Maren Oltedal", "created": "1987/1990", "rights_holder": "parties/reed", "rights_statement": "http://rightsstatements.org/vocab/InC/1.0/",
		"credit": "© Ida Moor / Studio; specimen NNHM 1", "derived_from": "P2:fact; refs/a:b.jpg", "source": "old engraving:copied", "job": "Lake guide", "keywords": "a; ;b",
		"notes": "n", "calibration": "0.1,0.9,0.3,0.9=50 mm scale bar", "landmarks": "snout tip@0.1,0.5",
	}
	var columns []*Column
	var cells []string
	known := Columns()
	for i := range known {
		columns, cells = append(columns, &known[i]), append(cells, row[known[i].Name])
	}
	e := newPictureEntry()
	e.read(columns, cells)
	if len(e.faults) > 0 {
		t.Fatal(e.faults)
	}
	fin := func(x, y, w, h float64) *pb.Region { return &pb.Region{X: x, Y: y, Width: w, Height: h} }
	want := &pb.Picture{
		Kind: plate, Title: "European perch", View: pb.View_VIEW_LEFT_LATERAL, Stage: pb.Stage_STAGE_COLOR_STUDY, Technique: "ink",
		Identification: &pb.Identification{ScientificName: "Perca fluviatilis", Taxon: "taxa/T000001", IdentifiedBy: "H. Ruskvik", IdentifiedOn: "1987~", Qualifier: "cf."},
		Structures: []*pb.Structure{
			{Structure: "first dorsal fin", Completeness: pb.Completeness_COMPLETENESS_COMPLETE, Region: fin(0.3, 0.1, 0.2, 0.2)},
			{Structure: "pectoral fin", Completeness: pb.Completeness_COMPLETENESS_DAMAGED}, {Structure: "head", Region: fin(0, 0, 0.25, 1)},
		},
		Counts: &pb.Counts{Formula: "D XIV, I,13"}, Creators: []string{"Ida Moor", "Maren Oltedal"}, Created: "1987/1990", RightsHolder: "parties/reed",
		RightsStatement: "http://rightsstatements.org/vocab/InC/1.0/", CreditParts: []string{"© Ida Moor", "Studio", "specimen NNHM 1"}, Job: "Lake guide",
		Keywords: []string{"a", "b"}, Notes: "n", Landmarks: []*pb.Landmark{{Landmark: "snout tip", X: 0.1, Y: 0.5}},
		Calibration: &pb.Calibration{X1: 0.1, Y1: 0.9, X2: 0.3, Y2: 0.9, LengthMm: 50, Basis: "scale bar"},
	}
	if diff := cmp.Diff(want, e.picture, protocmp.Transform()); diff != "" {
		t.Errorf("picture (-want +got):\n%s", diff)
	}
	got := fmt.Sprintf("%s %s %s %s %v %v", e.file, e.id, e.key, e.specimen, e.sources, e.outside)
	if want := "plates/perch left.tif perch-left P1 S1 [{P2 1 -1} {refs/a:b.jpg 2 -1}] [{old engraving 2 -1}]"; got != want {
		t.Errorf("got %s; want %s", got, want)
	}
}

// TestIdentity: a row's own text makes its id, whatever the order of columns, and labels don't matter.
func TestIdentity(t *testing.T) {
	id := func(text string) string {
		s := read(t, "a.csv", text, Columns())
		e := newPictureEntry()
		e.read(s.columns, s.cells(s.rows[0]))
		return e.contentID()
	}
	one := id("key,kind,title,view\nA,plate,Perch,\n")
	if two := id("title,kind,key,notes\n Perch ,plate,B,\n"); two != one {
		t.Errorf("other order and key: %q and %q", one, two)
	}
	if three := id("title,kind\nPerch 2,plate\n"); three == one {
		t.Error("another title gives the same identity")
	}
}

func TestSpecimenID(t *testing.T) {
	seen := map[string]string{}
	for _, c := range [][2]string{{"Northmere", "NNHM 1998.114"}, {"Northmere", "NNHM 1998-114"}, {"Skarrholm", "NNHM 1998.114"}, {"", "1"}, {"", "Ünïcode № 7"}, {"", "魚"}, {"x", strings.Repeat("long number ", 20)}} {
		id := specimenID(c[0], c[1])
		if !plainID.MatchString(id) {
			t.Errorf("specimenID(%q) = %q, which is no id", c, id)
		}
		if other, ok := seen[id]; ok {
			t.Errorf("%q and %s have the same id %s", c, other, id)
		}
		seen[id] = fmt.Sprint(c)
	}
	if a, b := specimenID("Northmere", "NNHM 1998.114"), specimenID(" northmere ", "nnhm  1998.114"); a != b || !strings.HasPrefix(a, "nnhm-1998-114-") {
		t.Errorf("case and blanks matter: %s and %s", a, b)
	}
}

// FuzzCells feeds every cell parser: none panics, and what is taken has numbers that an archive can keep.
func FuzzCells(f *testing.F) {
	for _, c := range append(Columns(), SpecimenColumns()...) {
		f.Add(c.Example)
	}
	for _, s := range []string{"a@1,1,1,1", "=;@", "x=complete@0,0,1,1;", "0,0,1,1=1", "..", "a/../..", "C:x", ":fact", "1987-02-29", "99999999999999999999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, c := range Columns() {
			e := newPictureEntry()
			e.read([]*Column{&c}, []string{s})
			for _, st := range e.picture.GetStructures() {
				if r := st.GetRegion(); r != nil && !(r.GetX() >= 0 && r.GetX() <= 1 && r.GetWidth() > 0 && r.GetX()+r.GetWidth() <= 1.00001) {
					t.Errorf("%q gives region %v", s, r)
				}
			}
			if strings.HasPrefix(e.file, "/") || e.file == ".." || strings.HasPrefix(e.file, "../") {
				t.Errorf("%q gives path %q", s, e.file)
			}
		}
		for _, c := range SpecimenColumns() {
			e := newSpecimenEntry()
			e.read([]*Column{&c}, []string{s})
			for _, m := range e.animal.GetMeasurements() {
				if !(m.GetValueMm() > 0) || m.GetValueMm() > 1e12 {
					t.Errorf("%q gives %v", s, m)
				}
			}
		}
	})
}

// The URI of a licence comes in many forms and is kept in one, so that the same row again is no other record.
func TestStatementIsKeptInOneForm(t *testing.T) {
	for _, given := range []string{"http://creativecommons.org/licenses/by-nc/4.0", "https://creativecommons.org/licenses/by-nc/4.0/deed.de"} {
		if got, err := parseStatement(given); err != nil || got != "https://creativecommons.org/licenses/by-nc/4.0/" {
			t.Errorf("%q became %q, %v", given, got, err)
		}
	}
}
