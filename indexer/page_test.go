package indexer

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

// pageRequests are questions in every order.
func pageRequests(y *synthetic) []*pb.SearchPicturesRequest {
	common := y.words[0]
	return []*pb.SearchPicturesRequest{
		{},
		{Order: pb.SearchPicturesRequest_ORDER_NAME},
		{Text: common},
		{Text: common, Order: pb.SearchPicturesRequest_ORDER_NEWEST},
		{Wanted: &pb.Wanted{Near: taxaPrefix + y.species[3].ID, View: pb.View_VIEW_LEFT_LATERAL, Counts: "D VIII,10"}},
		{Text: common + " " + y.words[1], Wanted: &pb.Wanted{Structures: []string{"anal fin"}}, Filter: &pb.PictureFilter{YearFrom: 1990}},
	}
}

// TestPagesAreTheList shows that pages put together are the whole list, whatever
// their sizes.
func TestPagesAreTheList(t *testing.T) {
	t.Parallel()
	s := newStudio(t)
	y := newSynthetic(t, s, 31)
	s.put(y.pictures(260)...)
	x := s.open(t)
	rng := rand.New(rand.NewPCG(1, 2))
	for i, r := range pageRequests(y) {
		var got []string
		var scores []float64
		total := int64(-1)
		for token := ""; ; {
			r.PageToken, r.PageSize = token, int32(1+rng.IntN(40))
			a := ask(t, x, r)
			got = append(got, namesOf(a)...)
			for _, h := range a.Hits {
				scores = append(scores, h.Score)
			}
			if total < 0 {
				total = a.Total
			}
			if token = a.NextPageToken; token == "" {
				break
			}
		}
		if int64(len(got)) != total || total == 0 {
			t.Errorf("question %d: %d on pages, %d in all", i, len(got), total)
		}
		if sorted := slices.Sorted(slices.Values(got)); len(slices.Compact(sorted)) != len(got) {
			t.Errorf("question %d: a picture comes twice", i)
		}
		if r.GetOrder() == 0 && (r.GetText() != "" || r.GetWanted() != nil) && !slices.IsSortedFunc(scores, func(a, b float64) int { return -cmpFloat(a, b) }) {
			t.Errorf("question %d: scores aren't falling", i)
		}
	}
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	default:
		return 0
	}
}

// TestPagesWhileChanging pages while pictures are added, changed and deleted:
// none comes twice, and every one that stayed as it was comes once.
func TestPagesWhileChanging(t *testing.T) {
	t.Parallel()
	s := newStudio(t)
	y := newSynthetic(t, s, 32)
	s.put(y.pictures(120)...)
	x := s.open(t)
	rng := rand.New(rand.NewPCG(3, 4))
	next := 120
	for i, r := range pageRequests(y)[1:5] {
		before := allPages(t, x, r, func() {})
		touched := map[string]bool{}
		during := allPages(t, x, r, func() {
			for range 3 {
				name := fmt.Sprintf("pictures/p%07d", rng.IntN(next))
				if _, ok := s.Picture(name); ok {
					touched[name] = true
					seq, names := s.put(y.picture(number(strings.TrimPrefix(name, "pictures/p"))))
					apply(t, x, seq, names)
				}
			}
			gone := fmt.Sprintf("pictures/p%07d", rng.IntN(next))
			touched[gone] = true
			seq, names := s.remove(gone)
			apply(t, x, seq, names)
			seq, names = s.put(y.picture(next))
			touched[names[0]] = true
			next++
			apply(t, x, seq, names)
			if rng.IntN(12) == 0 { // and the index is made anew
				if err := x.Rebuild(context.Background(), nil); err != nil {
					t.Fatal(err)
				}
			}
		})
		if sorted := slices.Sorted(slices.Values(during)); len(slices.Compact(sorted)) != len(during) {
			t.Errorf("question %d: a picture comes twice", i)
		}
		still := func(names []string) []string {
			return slices.DeleteFunc(slices.Clone(names), func(n string) bool { return touched[n] })
		}
		if got, want := still(during), still(before); !slices.Equal(got, want) {
			t.Errorf("question %d: unchanged pictures differ: %d against %d", i, len(got), len(want))
		}
	}
}

// allPages puts small pages together, with something happening between them.
func allPages(tb testing.TB, x *Index, r *pb.SearchPicturesRequest, between func()) []string {
	tb.Helper()
	var out []string
	r.PageSize, r.PageToken = 17, ""
	for {
		a := ask(tb, x, r)
		out = append(out, namesOf(a)...)
		if r.PageToken = a.NextPageToken; r.PageToken == "" {
			return out
		}
		between()
	}
}

func TestChangedPictureIsLeftOutAndSaid(t *testing.T) {
	t.Parallel()
	s := newRecords(t)
	x := s.open(t)
	r := &pb.SearchPicturesRequest{PageSize: 10}
	first := ask(t, x, r)
	seq, names := s.edit(first.Hits[0].Name, func(p *pb.Picture) { p.Created = "1950" })
	apply(t, x, seq, names)
	r.PageToken = first.NextPageToken
	second := ask(t, x, r)
	if !slices.ContainsFunc(second.Remarks, func(s string) bool { return strings.HasPrefix(s, "1 picture was added or changed") }) {
		t.Errorf("remarks: %q", second.Remarks)
	}
}

func TestTokenOfAnotherQuestion(t *testing.T) {
	t.Parallel()
	x := newRecords(t).open(t)
	first := ask(t, x, &pb.SearchPicturesRequest{Text: "fin", PageSize: 2})
	for name, q := range map[string]Query{
		"other words":     {Request: &pb.SearchPicturesRequest{Text: "head", PageToken: first.NextPageToken}},
		"other filter":    {Request: &pb.SearchPicturesRequest{Text: "fin", PageToken: first.NextPageToken, Filter: &pb.PictureFilter{YearFrom: 1990}}},
		"other order":     {Request: &pb.SearchPicturesRequest{Text: "fin", PageToken: first.NextPageToken, Order: 3}},
		"outsider":        {Request: &pb.SearchPicturesRequest{Text: "fin", PageToken: first.NextPageToken}, Outsider: true},
		"no token at all": {Request: &pb.SearchPicturesRequest{Text: "fin", PageToken: "not one"}},
	} {
		_, err := x.Search(context.Background(), q)
		var wrong *FieldError
		if !errors.As(err, &wrong) || wrong.Field != "page_token" {
			t.Errorf("%s: %v", name, err)
		}
	}
	// Size and facets may change from page to page.
	ask(t, x, &pb.SearchPicturesRequest{Text: "fin", PageToken: first.NextPageToken, PageSize: 7, Facets: []string{"kind"}})
}
