package indexer

import (
	"encoding/csv"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// readTable reads a tab-separated table with a header.
func readTable(tb testing.TB, path string) []map[string]string {
	tb.Helper()
	f, err := os.Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	r := csv.NewReader(f)
	r.Comma, r.LazyQuotes = '\t', true
	rows, err := r.ReadAll()
	if err != nil {
		tb.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, v := range row {
			m[rows[0][i]] = v
		}
		out = append(out, m)
	}
	return out
}

// parts splits a cell of the tables.
func parts(s string) []string {
	var out []string
	for _, p := range strings.Split(s, ";") {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}

// enumOf finds the number of an enum value by the words of the tables.
func enumOf(tb testing.TB, values map[string]int32, prefix, words string) int32 {
	tb.Helper()
	n, ok := values[prefix+strings.ToUpper(strings.ReplaceAll(words, " ", "_"))]
	if !ok {
		tb.Fatalf("no %s%s", prefix, words)
	}
	return n
}

// newRecords is the studio of testdata/records.tsv, with the names of names.tsv.
// Records, clients and artists are invented, the species are real.
func newRecords(tb testing.TB) *studio {
	tb.Helper()
	s := newStudio(tb)
	for _, row := range readTable(tb, "testdata/names.tsv") {
		id := strings.TrimPrefix(s.taxonOf(tb, row["species"]), taxaPrefix)
		t, _ := s.taxa.Taxon(id)
		for _, n := range parts(row["names"]) {
			if row["what"] == "vernacular" {
				t.Vernaculars = append(t.Vernaculars, taxon.Vernacular{Name: n})
			} else {
				t.Synonyms = append(t.Synonyms, n)
			}
		}
		if err := s.taxa.Put(t); err != nil {
			tb.Fatal(err)
		}
	}
	s.specimens["specimens/scorpaena-1"] = &pb.Specimen{
		Name: "specimens/scorpaena-1", Institution: "Invented Museum", CatalogNumber: "IM 4411", Locality: "Vessel Bay",
		Counts: readFormula(tb, "P 17"),
	}
	var all []*pb.Picture
	for i, row := range readTable(tb, "testdata/records.tsv") {
		all = append(all, recordOf(tb, s, i, row))
	}
	s.put(all...)
	return s
}

func recordOf(tb testing.TB, s *studio, i int, row map[string]string) *pb.Picture {
	tb.Helper()
	edge, err := strconv.Atoi(row["long edge"])
	if err != nil {
		tb.Fatal(err)
	}
	p := &pb.Picture{
		Name: "pictures/" + row["id"], CreateTime: day(i), Title: row["title"], Notes: row["notes"], Job: row["job"],
		Kind:           pb.Kind(enumOf(tb, pb.Kind_value, "KIND_", row["kind"])),
		View:           pb.View(enumOf(tb, pb.View_value, "VIEW_", row["view"])),
		Stage:          pb.Stage(enumOf(tb, pb.Stage_value, "STAGE_", row["stage"])),
		Identification: &pb.Identification{Taxon: s.taxonOf(tb, row["species"]), ScientificName: row["species"]},
		Technique:      row["technique"], Creators: parts(row["creators"]), Created: row["created"],
		Keywords: parts(row["keywords"]), Specimen: row["specimen"], Counts: readFormula(tb, row["counts"]),
		Original: &pb.Original{Width: int32(edge), Height: int32(edge / 2)},
	}
	for _, st := range parts(row["structures"]) {
		name, as, _ := strings.Cut(st, "=")
		p.Structures = append(p.Structures, &pb.Structure{
			Structure: name, Completeness: pb.Completeness(enumOf(tb, pb.Completeness_value, "COMPLETENESS_", as)),
		})
	}
	return p
}

// TestPlantedQueries asks for pictures by what their makers remember: old
// synonyms, misspelled names, vernaculars, parts, jobs.
func TestPlantedQueries(t *testing.T) {
	t.Parallel()
	x := newRecords(t).open(t)
	for _, row := range readTable(t, "testdata/planted.tsv") {
		a := ask(t, x, &pb.SearchPicturesRequest{Text: row["query"], PageSize: 5})
		if !slices.Contains(namesOf(a), "pictures/"+row["target"]) {
			t.Errorf("%q: want %s among the first five, got %v (%s)", row["query"], row["target"], namesOf(a), strings.Join(a.Remarks, "; "))
		}
	}
}
