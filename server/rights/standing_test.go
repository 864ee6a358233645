package rights

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
)

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

// TestStandingNamesExceptions: a promise for nearly all the world is told by what it leaves out.
func TestStandingNamesExceptions(t *testing.T) {
	b, err := NewBook([]Grant{licence("G1", "A", func(g *Grant) {
		g.Exclusivity = Exclusive
		g.Scope.Territory = []string{"WORLD", "-DE", "-AT"}
	})})
	if err != nil {
		t.Fatal(err)
	}
	if got := b.Standing("P1", DayOf(2026, 1, 1)).Text; !strings.Contains(got, "in WORLD except AT, DE") {
		t.Errorf("standing is %q; want WORLD except AT, DE", got)
	}
}
