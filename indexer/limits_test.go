package indexer

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"

	"platarium/indexer/rank"
	pb "platarium/proto/platarium/v1"
)

// TestWrongRequests names the field at fault, what was found and what is wanted.
func TestWrongRequests(t *testing.T) {
	t.Parallel()
	x := newRecords(t).open(t)
	many := slices.Repeat([]string{"x"}, maxValues+1)
	long := strings.Repeat("é", maxValue+1)
	for _, c := range []struct {
		field string
		r     *pb.SearchPicturesRequest
		found string // part of what was found
	}{
		{"text", &pb.SearchPicturesRequest{Text: strings.Repeat("a", maxText+1)}, "501 characters"},
		{"text", &pb.SearchPicturesRequest{Text: strings.Repeat("fin ", maxWords+1)}, "17 words"},
		{"text", &pb.SearchPicturesRequest{Text: `"` + strings.Repeat("fin ", maxWords+1) + `"`}, "17 words"},
		{"text", &pb.SearchPicturesRequest{Text: "\xff"}, "no text"},
		{"page_size", &pb.SearchPicturesRequest{PageSize: 201}, "201"},
		{"page_size", &pb.SearchPicturesRequest{PageSize: -1}, "-1"},
		{"order", &pb.SearchPicturesRequest{Order: 9}, "9"},
		{"page_token", &pb.SearchPicturesRequest{PageToken: strings.Repeat("A", maxToken+1)}, "wasn't given out"},
		{"facets[1]", &pb.SearchPicturesRequest{Facets: []string{"kind", "color"}}, `"color"`},
		{"filter.taxa[0]", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Taxa: []string{"taxa/none"}}}, "taxa/none"},
		{"filter.taxa[0]", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Taxa: []string{"Mullus"}}}, "Mullus"},
		{"filter.kinds[0]", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Kinds: []pb.Kind{0}}}, "0"},
		{"filter.views[1]", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Views: []pb.View{1, 77}}}, "77"},
		{"filter.stages", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Stages: slices.Repeat([]pb.Stage{1}, 51)}}, "51 values"},
		{"filter.techniques", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Techniques: many}}, "51 values"},
		{"filter.creators[0]", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Creators: []string{long}}}, "201 characters"},
		{"filter.jobs[0]", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Jobs: []string{" "}}}, "nothing"},
		{"filter.structures[0]", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Structures: []string{"anal fin=whole"}}}, "anal fin=whole"},
		{"filter.counts", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Counts: "many"}}, "many"},
		{"filter.counts", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Counts: strings.Repeat("D X; ", 120)}}, "600 characters"},
		{"filter.year_from", &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{YearFrom: 2001, YearTo: 1999}}, "2001 to 1999"},
		{"wanted.near", &pb.SearchPicturesRequest{Wanted: &pb.Wanted{Near: "taxa/none"}}, "taxa/none"},
		{"wanted.near", &pb.SearchPicturesRequest{Wanted: &pb.Wanted{Near: "Zzyzzx qwrtp"}}, "Zzyzzx"},
		{"wanted.counts", &pb.SearchPicturesRequest{Wanted: &pb.Wanted{Counts: "none at all"}}, "none at all"},
		{"wanted.structures", &pb.SearchPicturesRequest{Wanted: &pb.Wanted{Structures: many}}, "51 values"},
		{"wanted.view", &pb.SearchPicturesRequest{Wanted: &pb.Wanted{View: 99}}, "99"},
	} {
		_, err := x.Search(context.Background(), Query{Request: c.r})
		var wrong *FieldError
		if !errors.As(err, &wrong) || wrong.Field != c.field || !strings.Contains(wrong.Found, c.found) || wrong.Want == "" {
			t.Errorf("%s: got %v", c.field, err)
		}
	}
}

// TestWords reads questions as their writers mean them.
func TestWords(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"":                           "",
		"  -- !":                     "",
		"Mullus surmuletus":          "Mullus|surmuletus*",
		"Mullus surmuletus ":         "Mullus|surmuletus",
		`"first dorsal" fin`:         "[first dorsal]|fin*",
		`fin "first dorsal"`:         "fin|[first dorsal]",
		`“first dorsal” „anal fin“`:  "[first dorsal]|[anal fin]",
		`"not closed`:                "[not closed]",
		`""`:                         "",
		`"one"`:                      "one",
		"A OR B AND (C) -D title:x*": "A|OR|B|AND|C|D|title:x",
		"Müller":                     "Müller*",
		"D. X-XI":                    "D|X|XI*",
	} {
		terms, err := parseText(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		var got []string
		for _, term := range terms {
			s := term.text
			if term.phrase() {
				s = "[" + s + "]"
			}
			if term.last {
				s += "*"
			}
			got = append(got, s)
		}
		if s := strings.Join(got, "|"); s != want {
			t.Errorf("%q: %s, want %s", text, s, want)
		}
	}
}

// TestForms spells words without their diacritics and written out.
func TestForms(t *testing.T) {
	t.Parallel()
	for word, want := range map[string]string{
		"Mullus": "mullus", "Müller": "muller mueller", "Mu\u0308ller": "muller mueller", "Straße": "strasse",
		"Œuvre": "oeuvre", "Åse": "ase aase", "épinoche": "epinoche", "Ærø": "aero aeroe", "鯛": "鯛",
		strings.Repeat("a", 100): strings.Repeat("a", maxTerm), strings.Repeat("鯛", 40): strings.Repeat("鯛", 21),
	} {
		if got := strings.Join(forms([]byte(word)), " "); got != want {
			t.Errorf("%s: %s, want %s", word, got, want)
		}
	}
}

// TestFinds shows what finds what.
func TestFinds(t *testing.T) {
	t.Parallel()
	x := newRecords(t).open(t)
	for _, c := range []struct {
		text, target string
		found        bool
	}{
		{`"head profile"`, "mullus-barb-plate", true},
		{`"profile head"`, "mullus-barb-plate", false},
		{"profile head", "mullus-barb-plate", true},
		{`"rouge rascasse"`, "scorpaena-scrofa-plate", false},
		{`"mullus surmuletus rouget"`, "mullus-surm-plate", false}, // a row doesn't run on from name to name
		{"illici", "lophius-illicium", true},
		{"scorpaenif", "scorpaena-scrofa-plate", true},
		{"illici ", "lophius-plate", false},
		{"Möhring", "gobius-niger-plate", true},
		{"mohring", "gobius-niger-plate", true},
		{"MOEHRING", "gobius-niger-plate", true},
		{`"jurgen moehring"`, "gobius-niger-plate", true},
		{"mouth ventral", "scyliorhinus-ref", true},
		{"gadidae otolith", "gadus-otolith", true},
		{"mérou", "epinephelus-plate", true},
		{"Grosser Roter Drachenkopf", "scorpaena-scrofa-plate", true},
	} {
		a := ask(t, x, &pb.SearchPicturesRequest{Text: c.text, PageSize: maxPage})
		if got := slices.Contains(namesOf(a), "pictures/"+c.target); got != c.found {
			t.Errorf("%s finds %s: %v, want %v", c.text, c.target, got, c.found)
		}
	}
	a := ask(t, x, &pb.SearchPicturesRequest{Text: "otoliht cod"})
	if a.Total != 1 || len(a.Remarks) != 1 || a.Remarks[0] != "nothing has “otoliht”; looked for “otolith” instead" {
		t.Errorf("%d, %q", a.Total, a.Remarks)
	}
	if a := ask(t, x, &pb.SearchPicturesRequest{Text: "otolith zander"}); a.Total != 0 {
		t.Errorf("words that never stand together found %d", a.Total)
	}
	if a := ask(t, x, &pb.SearchPicturesRequest{Text: "?!"}); a.Remarks[0] != "nothing in the text is a word" {
		t.Errorf("%q", a.Remarks)
	}
	near := ask(t, x, &pb.SearchPicturesRequest{Wanted: &pb.Wanted{Near: "Stizostedion lucioperca"}})
	if near.Hits[0].Name != "pictures/sander-plate" || !strings.Contains(near.Remarks[0], "was read as Sander lucioperca") {
		t.Errorf("%s %q", near.Hits[0].Name, near.Remarks)
	}
}

func TestDates(t *testing.T) {
	t.Parallel()
	for s, want := range map[string]dated{
		"":                {},
		"1987":            {19870101, 19871231, "1987"},
		"1987-06":         {19870601, 19870631, "1987"},
		"1987-06-15":      {19870615, 19870615, "1987"},
		"1987~":           {19870101, 19871231, "1987"},
		"198X":            {19800101, 19891231, "198X"},
		"19XX":            {19000101, 19991231, "19XX"},
		"1987-XX":         {19870101, 19871231, "1987"},
		"1987-06-XX":      {19870601, 19870631, "1987"},
		"2001-21":         {20010101, 20011231, "2001"},
		"1987/1990":       {19870101, 19901231, "1987–1990"},
		"1987-02/1987-04": {19870201, 19870431, "1987"},
		"../1990":         {19900101, 19901231, "1990"},
		"1987/..":         {19870101, 19871231, "1987"},
		"198X/1992":       {19800101, 19921231, "1980–1992"},
		"summer":          {},
		"1987-13":         {},
		"1987-1":          {},
		"1987-06-32":      {},
		"19870":           {},
	} {
		if got := readDate(s); got != want {
			t.Errorf("%s: %v, want %v", s, got, want)
		}
	}
}

// TestNumbersOfTheContract keeps rank's numbers those of the contract.
func TestNumbersOfTheContract(t *testing.T) {
	t.Parallel()
	for prefix, e := range map[string]struct {
		names map[int32]string
		word  func(int32) string
	}{
		"KIND_":         {pb.Kind_name, func(n int32) string { return rank.Kind(n).String() }},
		"VIEW_":         {pb.View_name, func(n int32) string { return rank.View(n).String() }},
		"STAGE_":        {pb.Stage_name, func(n int32) string { return rank.Stage(n).String() }},
		"COMPLETENESS_": {pb.Completeness_name, func(n int32) string { return rank.Completeness(n).String() }},
	} {
		for n, name := range e.names {
			want := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(name, prefix), "_", " "))
			if n > 0 && e.word(n) != want {
				t.Errorf("%s is %q", name, e.word(n))
			}
		}
	}
}
