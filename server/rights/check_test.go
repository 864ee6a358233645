package rights

import (
	"errors"
	"strings"
	"testing"
)

func TestCheckScope(t *testing.T) {
	good := Scope{Works: []string{"P1", "P2#fig3", "-P2#fig4"}, Media: []string{"print.book", "-print.book.hardback"}, Territory: []string{"150", "-GB", "XK"},
		Languages: []string{"en", "zh-Hant", "zxx", "iw"}, Purposes: []string{"commercial"}, From: mustDate("2024"), To: mustDate("2024")}
	if errs := CheckScope(good, "scope.", "2024-01-01"); errs != nil {
		t.Errorf("a good scope: %v", errs)
	}
	bad := Scope{Works: []string{"", "P1#", "a#b#c"}, Media: []string{"print.bok"}, Territory: []string{"DE", "UK", "SU", "JE-1"},
		Languages: []string{"english", "en_GB", "xx", "e", "*"}, Purposes: []string{"fun"}, From: mustDate("2025-01-01"), To: mustDate("2024")}
	errs := CheckScope(bad, "scope.", "2024-01-01")
	want := []struct{ field, wanted string }{
		{"scope.works[0]", "id of a work"}, {"scope.works[1]", "id of a work"}, {"scope.works[2]", "id of a work"},
		{"scope.media[0]", "print.book"},
		{"scope.territory[1]", "GB (UK is reserved"}, {"scope.territory[2]", "withdrawn"}, {"scope.territory[3]", "no subdivisions"},
		{"scope.languages[0]", "en"}, {"scope.languages[1]", "en-GB"}, {"scope.languages[2]", `"xx" is not one`}, {"scope.languages[3]", "BCP 47"},
		{"scope.purposes[0]", "commercial or noncommercial"}, {"scope.to", "not before 2025-01-01"},
	}
	if len(errs) != len(want) {
		t.Fatalf("%d errors, want %d: %v", len(errs), len(want), errs)
	}
	for i, w := range want {
		if errs[i].Field != w.field || !strings.Contains(errs[i].Wanted, w.wanted) {
			t.Errorf("error %d: %v, want %s: %s", i, &errs[i], w.field, w.wanted)
		}
	}
	if errs := CheckScope(Scope{}, "", ""); len(errs) != 4 || !strings.Contains(errs.Error(), "at least one entry") {
		t.Errorf("an empty scope: %v", errs)
	}
}

func TestCheckGrant(t *testing.T) {
	scope := Scope{Works: []string{"P1"}, Media: []string{"*"}, Territory: []string{"WORLD"}, Languages: []string{"*"}}
	good := Grant{ID: "G1", To: "A", Scope: scope, Status: Executed, Signed: mustDate("2024-01-01")}
	if errs := CheckGrant(good); errs != nil {
		t.Errorf("a good grant: %v", errs)
	}
	for field, spoil := range map[string]func(*Grant){
		"signed":      func(g *Grant) { g.Signed = Date{} },
		"head":        func(g *Grant) { g.Kind = Sublicence },
		"to":          func(g *Grant) { g.To = "" },
		"amends":      func(g *Grant) { g.Amends = g.ID },
		"ended":       func(g *Grant) { g.Kind, g.URI, g.Ended = Public, "https://example.org", mustDate("2025") },
		"uri":         func(g *Grant) { g.Kind = Public },
		"exclusivity": func(g *Grant) { g.Kind, g.URI, g.Exclusivity = Public, "x", Sole },
		"reserved":    func(g *Grant) { g.Reserved = []string{"promo"} },
		"reserved[0]": func(g *Grant) { g.Exclusivity, g.Reserved = Exclusive, []string{"nothing.such"} },
		"term.months": func(g *Grant) { g.Term = &TermEvent{Months: -1} },
		"copies_max":  func(g *Grant) { g.CopiesMax = -1 },
		"uses_max":    func(g *Grant) { g.UsesMax = -1 },
	} {
		g := good
		spoil(&g)
		if errs := CheckGrant(g); len(errs) != 1 || errs[0].Field != field {
			t.Errorf("%s: %v", field, errs)
		}
	}
}

func TestUnreadableRecordsAreRefused(t *testing.T) {
	g := Grant{ID: "G1", To: "A", Scope: Scope{Works: []string{"P1"}, Media: []string{"*"}, Territory: []string{"UK"}, Languages: []string{"*"}}}
	var f *FieldError
	if _, err := NewBook([]Grant{g}); !errors.As(err, &f) || f.Field != "territory" || f.Found != "UK" {
		t.Errorf("NewBook: %v", err)
	}
	if _, err := Freeze(g); !errors.As(err, &f) || f.Found != "UK" {
		t.Errorf("Freeze: %v", err)
	}
	b, err := NewBook(nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Put(g); !errors.As(err, &f) || b.Len() != 0 {
		t.Errorf("Put: %v", err)
	}
	if _, err := b.Try(g); !errors.As(err, &f) {
		t.Errorf("Try: %v", err)
	}
	g.Scope.Territory = []string{"GB"}
	if _, err := NewBook([]Grant{g, g}); !errors.As(err, &f) || f.Field != "id" {
		t.Errorf("twice the same id: %v", err)
	}
	day := mustDate("2025-01-01")
	for field, s := range map[string]Scope{
		"works":        {Media: []string{"*"}},
		"works[0]":     {Works: []string{"*"}},
		"media[0]":     {Works: []string{"P1"}, Media: []string{"print..book"}},
		"languages[0]": {Works: []string{"P1"}, Languages: []string{"e"}},
		"purposes[0]":  {Works: []string{"P1"}, Purposes: []string{"both"}},
		"to":           {Works: []string{"P1"}, From: day, To: mustDate("2024")},
	} {
		if _, err := b.Available(Request{By: "B", Scope: s}, Facts{}, 0); !errors.As(err, &f) || f.Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
}

func FuzzScope(f *testing.F) {
	f.Add("P1#fig3", "print.book", "GB-SCT", "zh-Hant", "commercial")
	f.Add("-P1", "*", "EU@2015-03-01", "*", "")
	f.Add("P1", "-print..", "UK", "en_GB", "-*")
	f.Add("P#", ".", "", "i-klingon", "fun")
	f.Fuzz(func(t *testing.T, work, medium, place, tag, purpose string) {
		s := Scope{Works: []string{"P1", work}, Media: []string{"*", medium}, Territory: []string{"WORLD", place}, Languages: []string{"*", tag}, Purposes: []string{purpose}}
		checked := CheckScope(s, "", "2020-01-31")
		a, err := readAxes(s, Frozen{}, "2020-01-31", nothing)
		if err != nil {
			var fe *FieldError
			if !errors.As(err, &fe) || fe.Wanted == "" {
				t.Fatalf("%+v: %v", s, err)
			}
			if len(checked) == 0 {
				t.Fatalf("%+v: checked well, but: %v", s, err)
			}
			return
		}
		b := box{a, span{0, 10}}
		if left := minusAll([]box{b}, []box{b}); len(left) > 0 {
			t.Fatalf("%+v less itself leaves %v", s, left)
		}
		if b.empty() {
			return
		}
		var back []box
		for _, again := range b.scopes(a.terr.Codes()) {
			c, err := readAxes(again, Frozen{}, "2020-01-31", nothing)
			if err != nil {
				t.Fatalf("%+v written as %+v: %v", s, again, err)
			}
			back = append(back, box{c, span{0, 10}})
		}
		if left := minusAll([]box{b}, back); len(left) > 0 {
			t.Fatalf("%+v does not read back", s)
		}
	})
}

func TestLanguageHabitsAreTags(t *testing.T) {
	for word, tag := range languageHabits {
		if err := checkTag(tag); err != nil {
			t.Errorf("%s: %v", word, err)
		}
	}
	for found, want := range map[string]string{"iw": "he", "i-klingon": "tlh", "EN-gb": "en-GB", "cmn": "cmn", "ZXX": "zxx", "x-own": "x-own", "zh-Yue": "zh-yue", "zh-Hant": "zh-Hant", "qq-zz-nothing": "qq-zz-nothing"} {
		if got, err := readTag(found); err != nil || got != want {
			t.Errorf("%s = %s, %v; want %s", found, got, err, want)
		}
	}
	if !strings.Contains(Caution, "not legal advice") {
		t.Error("the caution must say what it is not")
	}
}
