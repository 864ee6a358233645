package checklist

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"platarium/indexer/taxon"
)

// The checklists here are invented.
const (
	metaXML = `<?xml version="1.0" encoding="UTF-8"?>
<archive xmlns="http://rs.tdwg.org/dwc/text/">
 <core encoding="UTF-8" fieldsTerminatedBy="\t" linesTerminatedBy="\n" fieldsEnclosedBy="" ignoreHeaderLines="1" rowType="http://rs.tdwg.org/dwc/terms/Taxon">
  <files><location>taxon.txt</location></files>
  <id index="0"/>
  <field index="1" term="http://rs.tdwg.org/dwc/terms/parentNameUsageID"/>
  <field index="2" term="http://rs.tdwg.org/dwc/terms/acceptedNameUsageID"/>
  <field index="3" term="http://rs.tdwg.org/dwc/terms/scientificName"/>
  <field index="4" term="http://rs.tdwg.org/dwc/terms/taxonRank"/>
  <field index="5" term="http://rs.tdwg.org/dwc/terms/taxonomicStatus"/>
  <field default="invented list" term="http://rs.tdwg.org/dwc/terms/datasetName"/>
 </core>
 <extension encoding="UTF-8" fieldsTerminatedBy="," fieldsEnclosedBy='"' ignoreHeaderLines="1" rowType="http://rs.gbif.org/terms/1.0/VernacularName">
  <files><location>names.csv</location></files>
  <coreid index="0"/>
  <field index="1" term="http://rs.tdwg.org/dwc/terms/vernacularName"/>
  <field index="2" term="http://purl.org/dc/terms/language"/>
 </extension>
</archive>`
	coreTable = "id\tparent\taccepted\tname\trank\tstatus\n" +
		"1\t\t\tFictidae Invented, 1900\tfamily\taccepted\n" +
		"2\t1\t\tFictus Invented, 1901\tgenus\taccepted\n" +
		"3\t2\t\tFictus verus (Invented, 1902)\tspecies\taccepted\n" +
		"4\t\t3\tMendax verus Invented, 1902\tspecies\tsynonym\n" +
		"5\t99\t\tFictus perditus Invented, 1903\tspecies\taccepted\n" +
		"6\t2\t\t\tspecies\taccepted\n" +
		"3\t2\t\tFictus bis\tspecies\taccepted\n" +
		"7\t\t98\tMendax nullus\tspecies\theterotypic synonym\n" +
		"8\t2\t\tFictus rarus\tspecies-ish\taccepted\n"
	vernacularTable = "id,name,lang\n3,\"Truefish, common\",eng\n3,Wahrfisch,German\n3,Poisson vrai,fr\n77,Nobody,en\n3,Huh,tongue of nowhere\n"
)

func folderOf(files map[string]string) fstest.MapFS {
	fsys := fstest.MapFS{}
	for name, data := range files {
		fsys[name] = &fstest.MapFile{Data: []byte(data)}
	}
	return fsys
}

func zipOf(t testing.TB, files map[string]string) []byte {
	t.Helper()
	var buf bytes.Buffer
	z := zip.NewWriter(&buf)
	for name, data := range files {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, data); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func byID(list *Checklist, id string) taxon.Taxon {
	for _, t := range list.Taxa {
		if t.ID == id {
			return t
		}
	}
	return taxon.Taxon{}
}

// checkFictus tests the list that is written in each format.
func checkFictus(t *testing.T, list *Checklist, prefix string) {
	t.Helper()
	x := byID(list, prefix+"3")
	if x.Name != "Fictus verus" || x.Authorship != "(Invented, 1902)" || x.Rank != taxon.Species || x.ParentID != prefix+"2" || x.Status != taxon.Accepted {
		t.Errorf("species: %+v", x)
	}
	want := []taxon.Vernacular{{Lang: "en", Name: "Truefish, common"}, {Lang: "de", Name: "Wahrfisch"}, {Lang: "fr", Name: "Poisson vrai"}}
	for _, v := range want {
		if !slices.Contains(x.Vernaculars, v) {
			t.Errorf("vernacular %v is missing from %v", v, x.Vernaculars)
		}
	}
	if s := byID(list, prefix+"4"); s.Status != taxon.Synonym || s.AcceptedID != prefix+"3" || s.Name != "Mendax verus" {
		t.Errorf("synonym: %+v", s)
	}
	if f := byID(list, prefix+"1"); f.Rank != taxon.Family || f.ParentID != "" || f.Name != "Fictidae" {
		t.Errorf("family: %+v", f)
	}
	tree, err := taxon.NewTree(list.Taxa)
	if err != nil {
		t.Fatal(err)
	}
	if l := taxon.NewClassification(tree).Lineage(prefix + "4"); !slices.Equal(l, []string{prefix + "1", prefix + "2", prefix + "3"}) {
		t.Errorf("lineage of the synonym: %v", l)
	}
}

func TestDarwinCore(t *testing.T) {
	files := map[string]string{"meta.xml": metaXML, "taxon.txt": coreTable, "names.csv": vernacularTable}
	list, err := ReadFS(folderOf(files), Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkFictus(t, list, "")
	at := slices.IndexFunc(list.Taxa, func(x taxon.Taxon) bool { return x.ID == "3" })
	if len(list.Origins) != len(list.Taxa) || list.Origins[at] != (Origin{File: "taxon.txt", Row: 4}) {
		t.Errorf("species comes from %+v of %d origins for %d taxa", list.Origins[at], len(list.Origins), len(list.Taxa))
	}
	if s := byID(list, "3").Source; s != "invented list" {
		t.Errorf("fixed value: %q", s)
	}
	if x := byID(list, "5"); x.Name != "Fictus perditus" || x.ParentID != "" {
		t.Errorf("taxon without its parent: %+v", x)
	}
	data := zipOf(t, map[string]string{"list/meta.xml": metaXML, "list/taxon.txt": coreTable, "list/names.csv": vernacularTable})
	zipped, err := ReadZip(bytes.NewReader(data), int64(len(data)), Options{Prefix: "own:"})
	if err != nil {
		t.Fatal(err)
	}
	checkFictus(t, zipped, "own:")
	if zipped.Format != DarwinCore {
		t.Errorf("format %s", zipped.Format)
	}
}

// TestProblemsNameTheRow checks that bad rows are told with file, row, column,
// what was found and what is wanted, and that the others are read.
func TestProblemsNameTheRow(t *testing.T) {
	list, err := ReadFS(folderOf(map[string]string{"meta.xml": metaXML, "taxon.txt": coreTable, "names.csv": vernacularTable}), Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := []Problem{
		{"taxon.txt", 7, "scientificName", "", "a scientific name", true},
		{"taxon.txt", 8, "taxonID", "3", "an id not used before (row 4 of taxon.txt has it)", true},
		{"taxon.txt", 10, "taxonrank", "species-ish", "a rank such as family or species", false},
		{"names.csv", 6, "language", "tongue of nowhere", "a language tag such as de", false},
		{"taxon.txt", 6, "parentnameusageid", "99", "the id of a taxon in this checklist", false},
		{"taxon.txt", 9, "acceptednameusageid", "98", "the id of an accepted taxon in this checklist", true},
		{"names.csv", 5, "taxonID", "77", "the id of a taxon in this checklist", true},
	}
	if !slices.Equal(list.Problems, want) {
		t.Errorf("problems:\n%v\nwant:\n%v", list.Problems, want)
	}
	if len(list.Taxa) != 6 {
		t.Errorf("%d taxa, want 6: %v", len(list.Taxa), list.Taxa)
	}
	if s := list.Problems[4].String(); s != `taxon.txt, row 6, parentnameusageid: found "99", wanted the id of a taxon in this checklist; value left out` {
		t.Errorf("message %q", s)
	}
}

func TestColDP(t *testing.T) {
	vern := "taxonID\tname\tlanguage\n3\tTruefish, common\tEnglish\n3\tWahrfisch\tdeu\n3\tPoisson vrai\tfr-FR\n"
	usage := "col:ID\tcol:parentID\tcol:status\tcol:scientificName\tcol:authorship\tcol:rank\n" +
		"1\t\taccepted\tFictidae\tInvented, 1900\tfamily\n2\t1\taccepted\tFictus\tInvented, 1901\tgenus\n" +
		"3\t2\tprovisionally accepted\tFictus verus\t(Invented, 1902)\tspecies\n4\t3\tmisapplied\tMendax verus\tInvented, 1902\tspecies\n" +
		"9\t\tbare name\tFictus nudus\t\tspecies\n"
	names := "ID\tscientificName\tauthorship\trank\tgenus\tstatus\n" +
		"n1\tFictidae\tInvented, 1900\tfamily\t\t\nn2\tFictus\tInvented, 1901\tgenus\t\t\nn3\tFictus verus\t(Invented, 1902)\tspecies\tFictus\tnom. nov.\n" +
		"n4\tMendax verus\tInvented, 1902\tspecies\tMendax\t\n"
	taxa := "ID\tparentID\tnameID\n1\t\tn1\n2\t1\tn2\n3\t2\tn3\n8\t2\tn88\n"
	synonyms := "ID,taxonID,nameID,status\n4,3,n4,\n"
	for name, files := range map[string]map[string]string{
		"one table":    {"NameUsage.tsv": usage, "vernacular-name.tsv": strings.ReplaceAll(vern, "fr-FR", "fr")},
		"three tables": {"name.tsv": names, "Taxon.txt": taxa, "synonym.csv": synonyms, "VernacularName.tab": strings.ReplaceAll(vern, "fr-FR", "fra"), "metadata.yaml": "title: x"},
	} {
		list, err := ReadFS(folderOf(files), Options{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		checkFictus(t, list, "")
		if list.Format != ColDP || len(list.Taxa) != 4 {
			t.Errorf("%s: %s with %d taxa: %v", name, list.Format, len(list.Taxa), list.Taxa)
		}
		if name == "three tables" && (len(list.Problems) != 1 || list.Problems[0].Column != "nameID" || list.Problems[0].Row != 5) {
			t.Errorf("%s: %v", name, list.Problems)
		}
	}
}

func TestPlainTable(t *testing.T) {
	table := "\uFEFFid\tparent\trank\tname\tauthorship\tstatus\taccepted\tvernacular\tvernacular:fr\n" +
		"1\t\tfamily\tFictidae\tInvented, 1900\taccepted\n2\tFictidae\tgenus\tFictus\tInvented, 1901\n" +
		"3\t2\tspecies\tFictus verus\t(Invented, 1902)\t\t\ten:Truefish, common|de:Wahrfisch\tPoisson vrai\n4\t\tspecies\tMendax verus\t\tsynonym\tFictus verus (Invented, 1902)\n\n"
	list, err := ReadTable(strings.NewReader(table), "list.tsv", Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkFictus(t, list, "")
	if len(list.Problems) > 0 {
		t.Errorf("problems: %v", list.Problems)
	}
	flat := "scientificName,family,genus,rank\n\"Fictus verus (Invented, 1902)\",Fictidae,Fictus,species\nFictus rarus,Fictidae,Fictus,species\n"
	list, err = ReadTable(strings.NewReader(flat), "flat.csv", Options{})
	if err != nil {
		t.Fatal(err)
	}
	tree, err := taxon.NewTree(list.Taxa)
	if err != nil {
		t.Fatal(err)
	}
	c := taxon.NewClassification(tree)
	if len(list.Taxa) != 4 {
		t.Errorf("implied parents: %v", list.Taxa)
	}
	a, b := c.Match("Fictus verus", 1), c.Match("Fictus rarus", 1)
	if r := c.Relation(a[0].ID, b[0].ID); r.Phrase != "same genus (Fictus)" {
		t.Errorf("relation: %+v", r)
	}
}

func TestRingsAreRefused(t *testing.T) {
	_, err := ReadTable(strings.NewReader("id\tparent\tname\n1\t2\tA\n2\t3\tB\n3\t1\tC\n"), "x.tsv", Options{})
	var ring *taxon.CycleError
	if !errors.As(err, &ring) || !slices.Equal(ring.Path, []string{"1", "2", "3", "1"}) {
		t.Errorf("ring: %v", err)
	}
}

func TestRefusedFiles(t *testing.T) {
	for name, files := range map[string]map[string]string{
		"nothing":        {},
		"no table":       {"readme.md": "hello", "more.md": "x"},
		"no name column": {"x.tsv": "a\tb\n1\t2\n"},
		"wrong core":     {"meta.xml": strings.Replace(metaXML, "/Taxon", "/Occurrence", 1)},
		"missing file":   {"meta.xml": metaXML},
		"broken meta":    {"meta.xml": "<archive><core>"},
		"odd separator":  {"meta.xml": strings.Replace(metaXML, `\t`, "ab", 1), "taxon.txt": coreTable},
		"two tables":     {"a.tsv": "name\nFictus\n", "b.tsv": "name\nFictus\n"},
	} {
		if _, err := ReadFS(folderOf(files), Options{}); !errors.Is(err, ErrFormat) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestZipNames(t *testing.T) {
	for _, name := range []string{"../x.tsv", "/x.tsv", `a\..\..\x.tsv`, "C:x.tsv", "a//x.tsv", "./x.tsv", strings.Repeat("x", 300) + ".tsv"} {
		data := zipOf(t, map[string]string{name: "name\nFictus\n"})
		if _, err := ReadZip(bytes.NewReader(data), int64(len(data)), Options{}); !errors.Is(err, ErrFormat) {
			t.Errorf("%q: %v", name, err)
		}
	}
	var buf bytes.Buffer
	z := zip.NewWriter(&buf)
	for _, name := range []string{"x.tsv", "X.TSV"} {
		if _, err := z.Create(name); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadZip(bytes.NewReader(buf.Bytes()), int64(buf.Len()), Options{}); !errors.Is(err, ErrFormat) {
		t.Errorf("doubled name: %v", err)
	}
}

func TestLimits(t *testing.T) {
	lim := DefaultLimits()
	bomb := "name\n" + strings.Repeat("Fictus"+strings.Repeat(" ", 5000)+"\n", 2000)
	data := zipOf(t, map[string]string{"x.tsv": bomb})
	many := map[string]string{}
	for i := range 20 {
		many[fmt.Sprintf("%d.txt", i)] = "x"
	}
	few := zipOf(t, many)
	quote := "name\n\"" + strings.Repeat("x", 3<<20)
	for name, err := range map[string]error{
		"ratio":      readZip(data, Limits{Files: 10, Bytes: lim.Bytes, Ratio: 50, Rows: lim.Rows, Line: lim.Line}),
		"bytes":      readZip(data, Limits{Files: 10, Bytes: 1 << 20, Ratio: 1 << 20, Rows: lim.Rows, Line: lim.Line}),
		"rows":       readZip(data, Limits{Files: 10, Bytes: lim.Bytes, Ratio: 1 << 20, Rows: 1000, Line: lim.Line}),
		"files":      readZip(few, Limits{Files: 10, Bytes: lim.Bytes, Ratio: 100, Rows: lim.Rows, Line: lim.Line}),
		"line":       readPlainTable("name\n"+strings.Repeat("x", 2<<20), "x.tsv"),
		"open quote": readPlainTable(quote, "x.csv"),
	} {
		if !errors.Is(err, ErrLimit) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func readZip(data []byte, lim Limits) error {
	_, err := ReadZip(bytes.NewReader(data), int64(len(data)), Options{Limits: lim})
	return err
}

func readPlainTable(s, name string) error {
	_, err := ReadTable(strings.NewReader(s), name, Options{})
	return err
}

func TestManyProblemsAreCounted(t *testing.T) {
	list, err := ReadTable(strings.NewReader("id\tname\n1\tFictus\n"+strings.Repeat("2\t\n", MaxProblems+5)), "x.tsv", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(list.Problems) != MaxProblems || list.MoreProblems != 5 {
		t.Errorf("%d problems and %d more", len(list.Problems), list.MoreProblems)
	}
}

func TestEncodings(t *testing.T) {
	meta := strings.Replace(metaXML, `encoding="UTF-8" fieldsTerminatedBy="\t"`, `encoding="ISO-8859-1" fieldsTerminatedBy="\t"`, 1)
	list, err := ReadFS(folderOf(map[string]string{"meta.xml": meta, "taxon.txt": "h\n1\t\t\tFictus verus L\xfctken, 1900\tspecies\taccepted\n", "names.csv": "id,name,lang\n"}), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if x := byID(list, "1"); x.Authorship != "Lütken, 1900" {
		t.Errorf("Latin-1: %+v", x)
	}
}

// small limits keep a fuzzed input from taking long.
var small = Options{Limits: Limits{Files: 20, Bytes: 1 << 20, Ratio: 50, Rows: 5000, Line: 1 << 16}}

func checkRead(t *testing.T, list *Checklist, err error) {
	t.Helper()
	if err != nil {
		return
	}
	if _, err := taxon.NewTree(list.Taxa); err != nil {
		t.Errorf("a checklist that was read can't be built: %v", err)
	}
}

func FuzzTable(f *testing.F) {
	f.Add([]byte("id\tparent\tname\n1\t\tFictus\n2\t1\tFictus verus\n"), true)
	f.Add([]byte("name,accepted,status\n\"Fictus\n verus\",x,synonym\n"), false)
	f.Add([]byte("scientificName,genus,family\nFictus verus,Fictus,Fictidae\n"), false)
	f.Add([]byte("\xff\xfe\x00name\t\n"), true)
	f.Fuzz(func(t *testing.T, data []byte, tabs bool) {
		name := "x.csv"
		if tabs {
			name = "x.tsv"
		}
		list, err := ReadTable(bytes.NewReader(data), name, small)
		checkRead(t, list, err)
	})
}

func FuzzMeta(f *testing.F) {
	f.Add(metaXML, coreTable)
	f.Add("<archive><core rowType='/Taxon'><files><location>taxon.txt</location></files><id index='0'/></core></archive>", "1,2,3")
	f.Fuzz(func(t *testing.T, meta, core string) {
		list, err := ReadFS(folderOf(map[string]string{"meta.xml": meta, "taxon.txt": core, "names.csv": vernacularTable}), small)
		checkRead(t, list, err)
	})
}

func FuzzZip(f *testing.F) {
	f.Add(zipOf(f, map[string]string{"meta.xml": metaXML, "taxon.txt": coreTable, "names.csv": vernacularTable}))
	f.Add(zipOf(f, map[string]string{"NameUsage.tsv": "ID\tparentID\tstatus\tscientificName\n1\t\taccepted\tFictus\n"}))
	f.Add(zipOf(f, map[string]string{"../x": ""}))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := ReadZip(bytes.NewReader(data), int64(len(data)), small)
		checkRead(t, list, err)
	})
}
