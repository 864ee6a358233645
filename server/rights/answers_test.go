package rights

import (
	"fmt"
	"maps"
	"slices"
	"strings"
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
		{Scope{Territory: []string{"WORLD", "-US", "-CA"}}, func(r *Request) { r.Scope.Territory = []string{"021"} }, "CA, US"},
		{Scope{Territory: []string{"GB-SCT"}}, func(r *Request) { r.Scope.Territory = []string{"GB"} }, "GB except GB-SCT"},
		{Scope{Territory: []string{"FR"}}, func(r *Request) { r.Scope.Territory = []string{"WORLD", "-US"} }, "WORLD except US, FR"},
		{Scope{Languages: []string{"en-GB"}}, func(r *Request) { r.Scope.Languages = []string{"en"} }, "en except en-GB"},
		{Scope{Purposes: []string{"noncommercial"}}, nil, "commercial"},
		{Scope{Works: []string{"P1#fig3"}}, nil, "P1 except P1#fig3"},
		{Scope{To: mustDate("2025-12-31")}, nil, "from 2026-01-01"},
		{Scope{From: mustDate("2026-01-01")}, nil, "to 2025-12-31"},
		{Scope{From: mustDate("2025-08-01"), To: mustDate("2025-08-31")}, nil, "to 2025-07-31; and from 2025-09-01"},
		{Scope{Media: []string{"print.book.hardback"}, Territory: []string{"FR"}}, nil, "print.book except print.book.hardback; and print.book.hardback, WORLD except FR"},
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

func TestManyWorksAreAnsweredTogether(t *testing.T) {
	r := ask("B", func(r *Request) { r.Scope.Works = []string{"P1", "P2", "P3#a"} })
	a := answer(t, r, Facts{}, exclusive("G1", "A", nil))
	if a.Verdict != Part || len(a.Free) != 1 || !slices.Equal(a.Free[0].Works, []string{"P2", "P3#a"}) || a.FreeText != "P2, P3#a" {
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

func TestTouching(t *testing.T) {
	b, err := NewBook([]Grant{
		licence("G3", "A", nil), licence("G1", "A", func(g *Grant) { g.Scope.Works = []string{"P1#fig2", "P2"} }),
		licence("G2", "A", func(g *Grant) { g.Signed, g.Scope.Works = mustDate("2020-01-01"), []string{"*", "-P2"} }),
		licence("G4", "A", func(g *Grant) { g.Scope.Works = []string{"P2", "P1", "-P1"} }),
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := b.Touching("P1"); !slices.Equal(got, []string{"G2", "G1", "G3"}) {
		t.Errorf("P1: %v", got)
	}
	if got := b.Touching("P2"); !slices.Equal(got, []string{"G1", "G4"}) {
		t.Errorf("P2: %v", got)
	}
	seen := map[string]string{}
	for work, ids := range b.Works() {
		seen[work] = strings.Join(ids, " ")
	}
	if want := (map[string]string{"P1": "G1 G3 G4", "P2": "G1 G4"}); !maps.Equal(seen, want) {
		t.Errorf("works: %v", seen)
	}
}

func TestStanding(t *testing.T) {
	today := day("2025-05-01")
	for _, tt := range []struct {
		want   string
		state  State
		grants []Grant
	}{
		{"free", Free, nil},
		{"free", Free, []Grant{exclusive("G1", "A", func(g *Grant) { g.Ended = mustDate("2025-01-01") })}},
		{"licensed, not exclusively", Granted, []Grant{licence("G1", "A", nil)}},
		{"exclusive until 2028-12-31 for print.book", Limited, []Grant{exclusive("G1", "A", nil)}},
		{"exclusive until 2027-03-31 in DE", Limited, []Grant{exclusive("G1", "A", func(g *Grant) {
			g.Scope.Media, g.Scope.Territory, g.Scope.To = []string{"*"}, []string{"DE"}, mustDate("2027-03-31")
		})}},
		{"sole licence until 2028-12-31 in Northern America for print.book, and 1 more", Limited, []Grant{
			licence("G1", "A", func(g *Grant) { g.Exclusivity, g.Scope.Territory = Sole, []string{"021"} }),
			exclusive("G2", "B", func(g *Grant) { g.Scope.From = mustDate("2026-01-01") })}},
		{"exclusive from 2026-01-01 until 2028-12-31 for print.book", Limited, []Grant{exclusive("G2", "B", func(g *Grant) { g.Scope.From = mustDate("2026-01-01") })}},
		{"open licences only", OpenLicences, []Grant{licence("G1", "", func(g *Grant) { g.Kind = Public })}},
		{"assigned for all media except product", Assigned, []Grant{licence("G1", "J", func(g *Grant) {
			g.Kind, g.Scope.Media, g.Scope.To = Assignment, []string{"*", "-product"}, Date{}
		})}},
		{"embargoed until 2028-12-31 for print.book (fig2 only)", Limited, []Grant{licence("H1", "", func(g *Grant) {
			g.Kind, g.Mode, g.Scope.Works = Holdback, Everyone, []string{"P1#fig2"}
		})}},
		{"held back until 2028-12-31 in AT, CH, DE and 2 more places for print.book", Limited, []Grant{licence("H1", "A", func(g *Grant) {
			g.Kind, g.Scope.Territory = Holdback, []string{"DE", "AT", "CH", "LI", "LU"}
		})}},
		{"free; option open until 2025-12-31", Free, []Grant{licence("O1", "A", func(g *Grant) { g.Kind, g.Until = Option, mustDate("2025-12-31") })}},
	} {
		b, err := NewBook(tt.grants)
		if err != nil {
			t.Fatal(err)
		}
		if s := b.Standing("P1", today); s.Text != tt.want || s.State != tt.state {
			t.Errorf("%s (%s), want %s (%s)", s.Text, s.State, tt.want, tt.state)
		}
	}
}

func TestAlarms(t *testing.T) {
	grants := []Grant{
		licence("G1", "A", func(g *Grant) { g.Scope.To = mustDate("2025-05-20") }),
		exclusive("G2", "A", func(g *Grant) { g.ExclusiveTo = mustDate("2025-05-10") }),
		licence("G3", "A", func(g *Grant) { g.CopiesMax, g.CopiesDone, g.UsesMax, g.UsesDone = 100, 120, 1, 2 }),
		licence("G4", "A", func(g *Grant) { g.EvidenceDue = mustDate("2025-02-01") }),
		licence("G5", "A", func(g *Grant) { g.PaymentCondition = true }),
		licence("G6", "A", func(g *Grant) { g.Kind, g.Until = Option, mustDate("2025-12-31") }),
		licence("G7", "A", func(g *Grant) { g.Term = &TermEvent{Anchor: "first publication", Months: 12} }),
		licence("G8", "A", func(g *Grant) { g.Exclusivity, g.FirstDeadline = FirstRights, mustDate("2025-05-25") }),
		licence("G9", "A", func(g *Grant) { g.Ended, g.SellOffTo = mustDate("2025-03-01"), mustDate("2025-05-15") }),
		licence("H1", "A", func(g *Grant) { g.Kind, g.Scope.To = Holdback, mustDate("2025-05-12") }),
		licence("D1", "A", func(g *Grant) { g.Status, g.Scope.To = Draft, mustDate("2025-05-20") }),
		licence("S1", "A", func(g *Grant) { g.CopiesMax, g.CopiesDone = 1, 2 }),
		licence("S2", "A", func(g *Grant) { g.Supersedes, g.Effective = []string{"S1"}, mustDate("2025-01-01") }),
	}
	b, err := NewBook(grants)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, a := range b.Alarms(day("2025-05-01"), 30) {
		got = append(got, fmt.Sprintf("%s %s %s: %s", a.Day, a.Grant, a.Kind, a.Text))
	}
	want := []string{
		"2025-02-01 G4 EVIDENCE_MISSING: voucher copy or other proof due on 2025-02-01 has not come",
		"2025-05-01 G3 OVER_RUN: 120 copies of 100 agreed: 20 too many",
		"2025-05-01 G3 USES_EXCEEDED: 2 uses of 1 agreed",
		"2025-05-01 G5 CONDITION_UNPAID: payment is a condition and has not been made",
		`2025-05-01 G7 EVENT_OUTSTANDING: the term hangs on "first publication", which is not recorded`,
		"2025-05-10 G2 EXCLUSIVITY_ENDS: exclusivity ends on 2025-05-10",
		"2025-05-12 H1 EXCLUSIVITY_ENDS: exclusivity ends on 2025-05-12",
		"2025-05-15 G9 SELL_OFF_ENDS: the sell-off ends on 2025-05-15",
		"2025-05-20 G1 TERM_ENDS: the term ends on 2025-05-20",
		"2025-05-25 G8 FIRST_RIGHTS_LAPSE: first rights lapse unpublished on 2025-05-25",
		"2025-05-31 G6 OPTION_OPEN: option open until 2025-12-31",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestAudit(t *testing.T) {
	capped := licence("G1", "A", func(g *Grant) { g.CopiesMax, g.CopiesDone = 5000, 1000 })
	more := licence("G1a", "A", func(g *Grant) { g.Amends, g.Effective, g.CopiesMax = "G1", mustDate("2025-06-01"), 6000 })
	b, err := NewBook([]Grant{capped, more})
	if err != nil {
		t.Fatal(err)
	}
	use := func(id, on string, copies int64) Use {
		d := mustDate(on)
		return Use{ID: id, By: "A", Copies: copies, Scope: Scope{Works: []string{"P1"}, Media: []string{"print.book"}, Territory: []string{"GB"}, Languages: []string{"en"}, From: d, To: d}}
	}
	sale := use("U4", "2025-04-01", 900)
	sale.Act = Distribute
	found, err := b.Audit([]Use{
		use("U3", "2025-03-01", 2500), use("U1", "2025-01-01", 2000), sale, use("U5", "2025-07-01", 1400), use("U6", "2025-08-01", 200),
		{ID: "U0", By: "Z", Scope: Scope{Works: []string{"P1"}, From: mustDate("2024-06-01"), To: mustDate("2024-06-01")}},
	}, day("2025-09-01"))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range found {
		got = append(got, fmt.Sprintf("%s %s %s %d %s", f.Use, f.Ruling.Code, strings.Join(f.Ruling.By, ";"), f.Made, f.Ruling.Text))
	}
	want := []string{
		"U0 PARTY  0 no grant to this party covers the work",
		"U1 CLEAR G1 2000 inside the grant",
		"U3 OVERRUN G1 4500 more copies than agreed: 3000 made and 2500 more exceed 5000 by 500",
		"U4 CLEAR G1 4500 inside the grant",
		"U5 CLEAR G1a 5900 inside the grant",
		"U6 OVERRUN G1a 6100 more copies than agreed: 5900 made and 200 more exceed 6000 by 100",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	said := use("U7", "2025-01-01", 10)
	said.Grant = "G1"
	sale.Grant = "G1"
	if m := Tally([]Use{said, sale, use("U8", "2025-01-01", 10)}); len(m) != 1 || m["G1"] != (Made{Copies: 10, Uses: 2}) {
		t.Errorf("%v", m)
	}
}

func TestStudioMustKeepItsPromises(t *testing.T) {
	own := func(media string, grants ...Grant) Ruling {
		t.Helper()
		d := mustDate("2025-06-01")
		r, err := LicensedUse(Use{By: Studio, Scope: Scope{Works: []string{"P1"}, Media: []string{media}, From: d, To: d}}, grants, day("2025-05-01"))
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	all := exclusive("G1", "A", func(g *Grant) { g.Scope.Media, g.Reserved = []string{"*"}, []string{"promo.portfolio"} })
	if r := own("print.book"); r.Verdict != Licensed {
		t.Errorf("%+v", r)
	}
	if r := own("print.book", all); r.Verdict != NotLicensed || r.Code != ByExclusive || !slices.Equal(r.By, []string{"G1"}) {
		t.Errorf("%+v", r)
	}
	if r := own("promo.portfolio", all); r.Verdict != Licensed {
		t.Errorf("reserved to the studio: %+v", r)
	}
}

func TestCreativeCommons(t *testing.T) {
	d := mustDate("2025-06-01")
	for _, tt := range []struct {
		uri            string
		altered, named bool
		want           Code
	}{
		{"https://creativecommons.org/licenses/by/4.0/", true, true, Clear},
		{"http://creativecommons.org/licenses/by-nd/4.0/deed.de", true, true, Modification},
		{"HTTPS://CreativeCommons.org/licenses/by-nc-nd/4.0", true, true, Modification},
		{"https://creativecommons.org/licenses/by-sa/4.0", false, false, Attribution},
		{"https://creativecommons.org/publicdomain/zero/1.0/", true, false, Clear},
		{"https://example.org/our-licence", true, true, Modification},
	} {
		g := licence("L1", "", func(g *Grant) { g.Kind, g.URI, g.Ended = Public, tt.uri, mustDate("2025-01-01") })
		r, err := LicensedUse(Use{By: "Z", Altered: tt.altered, Unattributed: !tt.named, Scope: Scope{Works: []string{"P1"}, Media: []string{"print.book"}, From: d, To: d}}, []Grant{g}, 0)
		if err != nil || r.Code != tt.want {
			t.Errorf("%s: %+v, %v; want %s", tt.uri, r, err, tt.want)
		}
	}
}

func TestBreaches(t *testing.T) {
	d := mustDate("2025-06-01")
	u := Use{By: "A", Credit: "Illustration:  Reef Studio", Scope: Scope{Works: []string{"P1"}, Media: []string{"print.book"}, From: d, To: d}}
	credit := licence("G1", "A", func(g *Grant) { g.Credit = "Illustration: Reef Studio" })
	late := licence("G2", "A", func(g *Grant) { g.EvidenceDue = mustDate("2025-08") })
	for _, tt := range []struct {
		today  string
		credit string
		grants []Grant
		want   Code
		by     string
	}{
		{"2025-09-01", u.Credit, []Grant{credit}, Clear, "G1"}, // runs of space do not matter
		{"2025-09-01", "Reef Studio", []Grant{credit}, Credit, "G1"},
		{"2025-09-01", "", []Grant{credit}, Credit, "G1"},
		{"2025-09-01", u.Credit, []Grant{late}, Evidence, "G2"},
		{"2025-08-31", u.Credit, []Grant{late}, Clear, "G2"}, // due within August
		{"2025-09-01", u.Credit, []Grant{late, credit}, Clear, "G1"},
		{"2025-09-01", "Reef Studio", []Grant{late, credit}, Credit, "G1"},
	} {
		u.Credit = tt.credit
		r, err := LicensedUse(u, tt.grants, day(tt.today))
		if err != nil || r.Code != tt.want || !slices.Equal(r.By, []string{tt.by}) {
			t.Errorf("%+v: %+v, %v", tt, r, err)
		}
	}
}
