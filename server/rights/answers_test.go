package rights

import (
	"fmt"
	"slices"
	"testing"
)

// The parties and plates of these tests are invented.

func day(s string) Day { return mustDate(s).First() }

// grant makes an executed licence over P1, books, the world, all languages, 2024 to 2028; change adjusts it.
func licence(id, to string, change func(*Grant)) Grant {
	g := Grant{ID: id, To: to, Status: Executed, Signed: mustDate("2024-01-01"), Scope: Scope{Works: []string{"P1"}, Media: []string{"print.book"},
		Territory: []string{"WORLD"}, Languages: []string{"*"}, From: mustDate("2024-01-01"), To: mustDate("2028-12-31")}}
	if change != nil {
		change(&g)
	}
	return g
}

func exclusive(id, to string, change func(*Grant)) Grant {
	return licence(id, to, func(g *Grant) {
		g.Exclusivity = Exclusive
		if change != nil {
			change(g)
		}
	})
}

func ask(by string, change func(*Request)) Request {
	r := Request{By: by, Scope: Scope{Works: []string{"P1"}, Media: []string{"print.book"}, Territory: []string{"WORLD"}, Languages: []string{"*"},
		From: mustDate("2025-06-01"), To: mustDate("2026-05-31")}}
	if change != nil {
		change(&r)
	}
	return r
}

func answer(t *testing.T, r Request, f Facts, grants ...Grant) Answer {
	t.Helper()
	a, err := Available(r, grants, f, day("2025-05-01"))
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestFreeRestInWords(t *testing.T) {
	for _, tt := range []struct {
		taken Scope
		asked func(*Request)
		want  string
	}{
		{Scope{Media: []string{"print.book.hardback"}}, nil, "print.book except print.book.hardback"},
		{Scope{Territory: []string{"FR"}}, nil, "WORLD except FR"},
		{Scope{Territory: []string{"WORLD", "-US", "-CA"}}, func(r *Request) { r.Scope.Territory = []string{"021"} }, "CA and US"},
		{Scope{Territory: []string{"GB-SCT"}}, func(r *Request) { r.Scope.Territory = []string{"GB"} }, "GB except GB-SCT"},
		{Scope{Territory: []string{"FR"}}, func(r *Request) { r.Scope.Territory = []string{"WORLD", "-US"} }, "WORLD except US and FR"},
		{Scope{Languages: []string{"en-GB"}}, func(r *Request) { r.Scope.Languages = []string{"en"} }, "en except en-GB"},
		{Scope{Purposes: []string{"noncommercial"}}, nil, "commercial"},
		{Scope{Works: []string{"P1#fig3"}}, nil, "P1 except P1#fig3"},
		{Scope{To: mustDate("2025-12-31")}, nil, "from 2026-01-01"},
		{Scope{From: mustDate("2026-01-01")}, nil, "to 2025-12-31"},
		{Scope{From: mustDate("2025-08-01"), To: mustDate("2025-08-31")}, nil, "to 2025-07-31; also from 2025-09-01"},
		{Scope{Media: []string{"print.book.hardback"}, Territory: []string{"FR"}}, nil, "print.book except print.book.hardback, WORLD; also print.book.hardback, WORLD except FR"},
	} {
		g := exclusive("G1", "A", func(g *Grant) {
			for _, l := range []struct{ to, from *[]string }{{&g.Scope.Works, &tt.taken.Works}, {&g.Scope.Media, &tt.taken.Media},
				{&g.Scope.Territory, &tt.taken.Territory}, {&g.Scope.Languages, &tt.taken.Languages}, {&g.Scope.Purposes, &tt.taken.Purposes}} {
				if *l.from != nil {
					*l.to = *l.from
				}
			}
			if !tt.taken.From.IsZero() {
				g.Scope.From = tt.taken.From
			}
			if !tt.taken.To.IsZero() {
				g.Scope.To = tt.taken.To
			}
		})
		if a := answer(t, ask("B", tt.asked), Facts{}, g); a.Verdict != Part || a.FreeText != tt.want {
			t.Errorf("%s, free: %q; want %q", a.Verdict, a.FreeText, tt.want)
		}
	}
}

// TestTheFreeRestCanNotBeMisread: places that are free at any time, and others that are free later.
func TestTheFreeRestCanNotBeMisread(t *testing.T) {
	g := exclusive("G1", "A", func(g *Grant) {
		g.Scope.Territory, g.Scope.To = []string{"DE", "GB"}, mustDate("2028-12-31")
	})
	r := ask("B", func(r *Request) { r.Scope.To = Date{} })
	if a := answer(t, r, Facts{}, g); a.Verdict != Part || a.FreeText != "WORLD except DE and GB, at any time; also DE and GB from 2029-01-01" {
		t.Errorf("%s, free: %q", a.Verdict, a.FreeText)
	}
	g.Scope.Territory, g.Scope.Languages = []string{"WORLD"}, []string{"de"}
	r.Scope.Languages = []string{"*"}
	if a := answer(t, r, Facts{}, g); a.Verdict != Part || a.FreeText != "all languages except de, at any time; also de from 2029-01-01" {
		t.Errorf("%s, free: %q", a.Verdict, a.FreeText)
	}
}

func TestManyWorksAreAnsweredTogether(t *testing.T) {
	r := ask("B", func(r *Request) { r.Scope.Works = []string{"P1", "P2", "P3#a"} })
	a := answer(t, r, Facts{}, exclusive("G1", "A", nil))
	if a.Verdict != Part || len(a.Free) != 1 || !slices.Equal(a.Free[0].Works, []string{"P2", "P3#a"}) || a.FreeText != "P2 and P3#a" {
		t.Errorf("%+v", a)
	}
	a = answer(t, r, Facts{Titles: []Title{{ID: "T1", Owner: "a museum", Works: []string{"P2"}}}}, exclusive("G1", "A", nil))
	if a.Verdict != Part || a.Code != NotOwner || !slices.Equal(a.By, []string{"G1", "T1"}) || a.FreeText != "P3#a" {
		t.Errorf("%+v", a)
	}
	whole := exclusive("G2", "A", func(g *Grant) { g.Scope.Works = []string{"*", "-P3"} })
	if a = answer(t, r, Facts{}, whole); a.Verdict != Part || a.FreeText != "P3#a" {
		t.Errorf("a grant over all works but one: %+v", a)
	}
	r.Indivisible = true
	if a = answer(t, r, Facts{}, whole); a.Verdict != No || len(a.Free) != 0 {
		t.Errorf("indivisible: %+v", a)
	}
}

func TestTwoHalvesBlockTheWhole(t *testing.T) {
	a := answer(t, ask("B", nil), Facts{},
		exclusive("G1", "A", func(g *Grant) { g.Scope.Territory = []string{"019", "150"} }),
		exclusive("G2", "C", func(g *Grant) { g.Scope.Territory = []string{"WORLD", "-019"}; g.Exclusivity = Sole }))
	if a.Verdict != No || a.Code != ByExclusive || !slices.Equal(a.By, []string{"G1", "G2"}) {
		t.Errorf("%+v", a)
	}
	var nations []Grant
	for i, place := range []string{"GB-ENG", "GB-SCT", "GB-WLS", "GB-NIR"} {
		nations = append(nations, exclusive(fmt.Sprint("G", i), "A", func(g *Grant) { g.Scope.Territory = []string{place} }))
	}
	r := ask("B", func(r *Request) { r.Scope.Territory = []string{"GB"} })
	if a = answer(t, r, Facts{}, nations...); a.Verdict != No {
		t.Errorf("all four nations are taken: %+v", a)
	}
	if a = answer(t, r, Facts{}, nations[1:]...); a.Verdict != Part || a.FreeText != "GB-ENG" {
		t.Errorf("England is free: %+v", a)
	}
}

func TestReasonsNameNobody(t *testing.T) {
	a := answer(t, ask("B", nil), Facts{}, exclusive("G1", "Pelagic Press", nil))
	if len(a.Reasons) != 1 || a.Reasons[0].Holder != "Pelagic Press" || a.Reasons[0].Text != "exclusive until 2028-12-31" {
		t.Errorf("%+v", a.Reasons)
	}
}

func TestNearCopiesWarnAndDecideNothing(t *testing.T) {
	near := Facts{Near: []Resemblance{{Work: "P9", Other: "P1"}, {Work: "P8", Other: "P1"}}}
	a := answer(t, ask("B", func(r *Request) { r.Scope.Works = []string{"P9"} }), near, exclusive("G1", "A", nil))
	if a.Verdict != Yes || len(a.Warnings) != 1 || a.Warnings[0].ID != "G1" || a.Warnings[0].Text != "P9 resembles P1: exclusive until 2028-12-31" {
		t.Errorf("%+v", a)
	}
	if a = answer(t, ask("A", func(r *Request) { r.Scope.Works = []string{"P9"} }), near, exclusive("G1", "A", nil)); len(a.Warnings) != 0 {
		t.Errorf("the holder needs no warning: %+v", a)
	}
}

func TestFactsLimitedToWorks(t *testing.T) {
	photo := Scope{Media: []string{"print.book"}, Territory: []string{"WORLD"}, Languages: []string{"*"}}
	f := Facts{
		CoOwners: []CoOwned{{ID: "C1", Works: []string{"P7"}}},
		Sources:  []Source{{ID: "S1", Works: []string{"P7"}}, {ID: "S2", Scope: &photo}, {ID: "S3", FactsOnly: true}, {ID: "S4", Free: true}},
		Policies: []Approval{{ID: "M1", NeedsFor: []string{"product", "digital"}}, {ID: "M2", NeedsFor: []string{"*"}, Approved: true}},
		Adverse:  []Claim{{ID: "X1"}, {ID: "X2", Open: true, Works: []string{"P7"}}},
	}
	if a := answer(t, ask("B", nil), f); a.Verdict != Yes {
		t.Errorf("%+v", a)
	}
	a := answer(t, ask("B", func(r *Request) { r.Scope.Works, r.Scope.Media = []string{"P7"}, []string{"digital.web"} }), f)
	if a.Verdict != Check || a.Code != CoOwner || !slices.Equal(a.By, []string{"C1", "S1", "S2", "M1", "X2"}) {
		t.Errorf("%+v", a)
	}
	if text := a.Reasons[2].Text; text != "the permission of the source does not cover everything asked" {
		t.Errorf("S2: %s", text)
	}
	f.Policies[0].NeedsFor = []string{"anything the museum has not heard of"}
	if a = answer(t, ask("B", nil), f); a.Verdict != Check || a.Code != Policy {
		t.Errorf("an unknown word asks for approval: %+v", a)
	}
}

func TestClashInWords(t *testing.T) {
	c, ok, err := Conflict(exclusive("G1", "A", nil), licence("G2", "B", func(g *Grant) {
		g.Signed, g.Scope.Territory, g.Scope.Languages = mustDate("2025-02-01"), []string{"DE"}, []string{"de"}
		g.Scope.From = mustDate("2025-02-01")
	}))
	if err != nil || !ok || c.Promise != "G1" || c.Later != "G2" {
		t.Fatalf("%+v, %v, %v", c, ok, err)
	}
	want := "G2 lets another party do what G1 promises to keep from it: work P1, print.book, in Germany (DE), language de, any purpose, on 2025-02-01"
	if c.String() != want {
		t.Errorf("%s", c)
	}
	_, ok, err = Conflict(exclusive("G1", "A", nil), licence("G1", "A", nil))
	if ok || err == nil {
		t.Error("two grants of one id must be refused")
	}
}

func TestSubjectToReachesAsFarAsTheListedGrant(t *testing.T) {
	old := licence("G1", "A", func(g *Grant) { g.Scope.Territory = []string{"GB"} })
	wider := licence("G1a", "A", func(g *Grant) {
		g.Amends, g.Effective, g.Scope.Territory = "G1", mustDate("2025-06-01"), []string{"GB", "IE"}
	})
	later := exclusive("G2", "B", func(g *Grant) { g.Signed, g.SubjectTo = mustDate("2025-01-01"), []string{"G1"} })
	sub := licence("G3", "C", func(g *Grant) { g.Kind, g.Head = Sublicence, "G1" })
	b, err := NewBook([]Grant{old, later, sub})
	if err != nil {
		t.Fatal(err)
	}
	if c := b.AllConflicts(); len(c) != 0 {
		t.Errorf("the listed licence and its sublicence are accepted: %v", c)
	}
	if err := b.Put(wider); err != nil {
		t.Fatal(err)
	}
	c := b.Conflicts("G2")
	if len(c) != 2 || c[0].Witness.Territory != "IE" || c[1].Witness.Territory != "IE" {
		t.Errorf("what the amendment added was not accepted: %v", c)
	}
}

func TestTryLeavesTheBookAlone(t *testing.T) {
	b, err := NewBook([]Grant{exclusive("G1", "A", nil)})
	if err != nil {
		t.Fatal(err)
	}
	draft := licence("G2", "B", func(g *Grant) { g.Status = Draft })
	clashes, err := b.Try(draft)
	if err != nil || len(clashes) != 1 || b.Len() != 1 {
		t.Errorf("%v, %v, %d grants", clashes, err, b.Len())
	}
	narrower := exclusive("G1a", "A", func(g *Grant) {
		g.Amends, g.Scope.Territory, g.Effective = "G1", []string{"US"}, mustDate("2024-01-01")
	})
	if err := b.Put(narrower); err != nil {
		t.Fatal(err)
	}
	draft.Scope.Territory = []string{"DE"}
	if clashes, err = b.Try(draft); err != nil || len(clashes) != 0 {
		t.Errorf("outside the amended exclusive: %v, %v", clashes, err)
	}
	if g, ok := b.Grant("G1"); !ok || g.To != "A" {
		t.Error("Grant does not find G1")
	}
}
