package indexer

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// found asks for words and gives the names found, in order of name.
func foundBy(tb testing.TB, x *Index, text string) []string {
	tb.Helper()
	out := namesOf(ask(tb, x, &pb.SearchPicturesRequest{Text: text, PageSize: maxPage}))
	slices.Sort(out)
	return out
}

// TestRenamedTaxon keeps pictures under both names from the moment of the change.
func TestRenamedTaxon(t *testing.T) {
	t.Parallel()
	s := newRecords(t)
	x := s.open(t)
	of := []string{"pictures/sander-plate"}
	id := strings.TrimPrefix(s.taxonOf(t, "Sander lucioperca"), taxaPrefix)
	now, _ := s.taxa.Taxon(id)

	seq, changed := s.name(t, now.Renamed("Sander invented", "(Brandt, 2031)"))
	apply(t, x, seq, changed)
	for _, text := range []string{"Sander invented", "Sander lucioperca", "Lucioperca sandra", "Brandt 2031 zander"} {
		if got := foundBy(t, x, text); !slices.Equal(got, of) {
			t.Errorf("%s: %v", text, got)
		}
	}
	a := ask(t, x, &pb.SearchPicturesRequest{Text: "zander"})
	if a.Hits[0].AcceptedName != "Sander invented" {
		t.Errorf("accepted name is %s", a.Hits[0].AcceptedName)
	}

	// Sunk into synonymy under another genus: found under the new family tree too.
	perca := strings.TrimPrefix(s.taxonOf(t, "Perca fluviatilis"), taxaPrefix)
	now, _ = s.taxa.Taxon(id)
	now.Status, now.AcceptedID = taxon.Synonym, perca
	seq, changed = s.name(t, now)
	apply(t, x, seq, changed)
	if got := foundBy(t, x, "Sander invented"); !slices.Contains(got, of[0]) {
		t.Errorf("synonym: %v", got)
	}
	under := ask(t, x, &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Taxa: []string{taxaPrefix + perca}}})
	if !slices.Contains(namesOf(under), of[0]) {
		t.Errorf("under the accepted taxon: %v", namesOf(under))
	}

	// And taken out again: the source alone no longer links the two.
	s.taxa.Remove(id)
	apply(t, x, seq+1, changed)
	s.seq = seq + 1
	if got := foundBy(t, x, "Sander lucioperca"); !slices.Equal(got, of) {
		t.Errorf("restored: %v", got)
	}
	if got := foundBy(t, x, "invented zander"); len(got) > 0 {
		t.Errorf("a name that was withdrawn still finds %v", got)
	}
}

func TestDeletion(t *testing.T) {
	t.Parallel()
	s := newRecords(t)
	x := s.open(t)
	seq, gone := s.remove("pictures/zeus-plate")
	apply(t, x, seq, gone)
	if got := foundBy(t, x, "john dory"); slices.Contains(got, "pictures/zeus-plate") {
		t.Error("deleted picture is still found")
	}
	if got, want := ask(t, x, &pb.SearchPicturesRequest{}).Total, int64(len(s.pictures)); got != want {
		t.Errorf("total %d, want %d", got, want)
	}
	// The name may come back as another picture.
	p := &pb.Picture{Name: "pictures/zeus-plate", Title: "A new start"}
	seq, names := s.put(p)
	apply(t, x, seq, names)
	if got := foundBy(t, x, "new start"); len(got) != 1 {
		t.Errorf("made again: %v", got)
	}
	if got := foundBy(t, x, "filaments reconstructed"); len(got) != 0 {
		t.Errorf("old words still find %v", got)
	}
}

// TestSpecimenChanges carries words and counts of a specimen to its pictures.
func TestSpecimenChanges(t *testing.T) {
	t.Parallel()
	s := newRecords(t)
	x := s.open(t)
	of := []string{"pictures/scorpaena-notata-ref"}
	if got := foundBy(t, x, "Vessel Bay"); !slices.Equal(got, of) {
		t.Fatalf("by locality: %v", got)
	}
	sp, _ := proto.Clone(s.specimens["specimens/scorpaena-1"]).(*pb.Specimen)
	sp.Locality, sp.Counts = "Anchor Reef", readFormula(t, "P 19")
	s.mu.Lock()
	s.specimens[sp.GetName()] = sp
	s.seq++
	s.mu.Unlock()
	apply(t, x, s.seq, []string{sp.GetName()})
	if got := foundBy(t, x, "Anchor Reef"); !slices.Equal(got, of) {
		t.Errorf("by new locality: %v", got)
	}
	if got := foundBy(t, x, "Vessel Bay"); len(got) > 0 {
		t.Errorf("by old locality: %v", got)
	}
	counts := ask(t, x, &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Counts: "P 19", Specimen: sp.GetName()}})
	if !slices.Equal(namesOf(counts), of) {
		t.Errorf("by counts of the specimen: %v", namesOf(counts))
	}
}

// TestOutsider finds nothing by what is the studio's alone, in no way.
func TestOutsider(t *testing.T) {
	t.Parallel()
	x := newRecords(t).open(t)
	for text, open := range map[string]bool{
		"occipital pit": false, "Kessel": false, "venom": false, "Vessel Bay": false, `"IM 4411"`: false, "dissection": true,
		"peritoneum": false, "peritonaeum": false, "Scorpaena porcus": true, "scraperboard": true, "Jürgen": true,
	} {
		a := askAs(t, x, Query{Request: &pb.SearchPicturesRequest{Text: text + " ", Facets: []string{"creator"}}, Outsider: true})
		if (a.Total > 0) != open {
			t.Errorf("%s: %d found, want any: %v", text, a.Total, open)
		}
		for _, h := range a.Hits {
			for _, hl := range h.Highlights {
				if f := hl.GetField(); f == "notes" || f == "job" || f == "keywords" {
					t.Errorf("%s: highlight from %s", text, f)
				}
			}
		}
		for _, r := range a.Remarks {
			if strings.Contains(r, "peritoneum") && strings.Contains(text, "peritonaeum") {
				t.Errorf("%s: remark gives a word of the notes away: %s", text, r)
			}
		}
	}
	// A word in title and notes is shown from the title alone.
	a := askAs(t, x, Query{Request: &pb.SearchPicturesRequest{Text: "lower jaw pike"}, Outsider: true})
	if a.Total != 0 {
		t.Errorf("words of title and notes together found %d", a.Total)
	}
	_, err := x.Search(context.Background(), Query{Request: &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Jobs: []string{"River atlas"}}}, Outsider: true})
	var wrong *FieldError
	if !errors.As(err, &wrong) || wrong.Field != "filter.jobs" {
		t.Errorf("job asked by an outsider: %v", err)
	}
}

func TestHighlights(t *testing.T) {
	t.Parallel()
	x := newRecords(t).open(t)
	a := ask(t, x, &pb.SearchPicturesRequest{Text: "müllus chin barb"})
	if len(a.Hits) != 1 || a.Hits[0].Name != "pictures/mullus-surm-barbel" {
		t.Fatalf("%v", namesOf(a))
	}
	got := map[string]string{}
	for _, h := range a.Hits[0].Highlights {
		got[h.GetField()] += h.GetFragment() + "|"
	}
	if got["title"] != "\x02Chin\x03 \x02barbels\x03|" {
		t.Errorf("title: %q", got["title"])
	}
	if !strings.Contains(got["names"], "\x02Mullus\x03 surmuletus") {
		t.Errorf("names: %q", got["names"])
	}
	if got["notes"] != "\x02Barbels\x03 folded back into the throat groove.|" {
		t.Errorf("notes: %q", got["notes"])
	}
	if r := a.Hits[0].Reasons[0]; r.GetKind() != "text" || r.GetWeight() <= 0 || !strings.Contains(r.GetText(), "“barb” in title") {
		t.Errorf("reason: %v", r)
	}
}

// TestRightsFilter filters and counts by a standing that the server computed.
func TestRightsFilter(t *testing.T) {
	t.Parallel()
	s := newRecords(t)
	x := s.open(t)
	today := NewStanding(map[string]string{"pictures/zeus-plate": "exclusive grant", "pictures/perca-plate": "exclusive grant"}, "unencumbered")
	r := &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Rights: []string{"exclusive grant"}}, Facets: []string{"rights"}}
	if a := askAs(t, x, Query{Request: r, Standing: today}); a.Total != 2 || a.Hits[0].Rights != "exclusive grant" {
		t.Errorf("today: %d", a.Total)
	}
	// A picture that comes later, and another day.
	seq, names := s.put(&pb.Picture{Name: "pictures/late", Title: "late"})
	apply(t, x, seq, names)
	all := askAs(t, x, Query{Request: &pb.SearchPicturesRequest{Facets: []string{"rights"}}, Standing: today})
	if v := all.Facets[0].GetValues()[0]; v.GetValue() != "unencumbered" || v.GetCount() != all.Total-2 {
		t.Errorf("facet: %v of %d", v, all.Total)
	}
	if a := askAs(t, x, Query{Request: r, Standing: NewStanding(nil, "unencumbered")}); a.Total != 0 {
		t.Errorf("tomorrow: %d", a.Total)
	}
}

func TestWaitsForSequence(t *testing.T) {
	t.Parallel()
	s := newRecords(t)
	x := s.open(t)
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
	defer cancel()
	if _, err := x.Search(ctx, Query{Request: &pb.SearchPicturesRequest{MinSequence: s.seq + 1}}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("want a deadline, got %v", err)
	}
	got := make(chan *Answer, 1)
	go func() {
		a, err := x.Search(context.Background(), Query{Request: &pb.SearchPicturesRequest{Text: "awaited", MinSequence: 2}})
		if err != nil {
			t.Error(err)
		}
		got <- a
	}()
	seq, names := s.put(&pb.Picture{Name: "pictures/awaited", Title: "awaited"})
	apply(t, x, seq, names)
	if a := <-got; a == nil || a.Total != 1 || a.Sequence != seq {
		t.Errorf("%+v", a)
	}
}

// TestSettled shows that bringing in the same once more writes nothing.
func TestSettled(t *testing.T) {
	t.Parallel()
	s := newRecords(t)
	x := s.open(t)
	var all []string
	for n := range s.pictures {
		all = append(all, n)
	}
	batch := x.gen.batch
	apply(t, x, s.seq, all)
	apply(t, x, s.seq-1, nil)
	if x.gen.batch != batch || x.Sequence() != s.seq {
		t.Errorf("batch %d after %d, sequence %d", x.gen.batch, batch, x.Sequence())
	}
}
