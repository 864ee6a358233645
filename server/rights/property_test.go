package rights

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

func TestWhatIsAvailableCausesNoConflict(t *testing.T) {
	yes := 0
	for n := range uint64(1200) {
		r := random{rand.New(rand.NewPCG(n, 19))}
		grants, q := r.grants(), r.request()
		b, err := NewBook(grants)
		if err != nil {
			t.Fatal(err)
		}
		today := q.Scope.From.First()
		a, err := b.Available(q, Facts{}, today)
		if err != nil {
			t.Fatal(err)
		}
		if a.Verdict != Yes {
			continue
		}
		yes++
		made := Grant{ID: "NEW", To: q.By, Affiliates: q.Affiliates, Exclusivity: q.Exclusivity, Scope: q.Scope, Signed: q.Scope.From, Status: Executed}
		if q.SubjectToExisting {
			for _, g := range grants {
				made.SubjectTo = append(made.SubjectTo, g.ID)
			}
		}
		clashes, err := b.Try(made)
		if err != nil {
			t.Fatal(err)
		}
		if len(clashes) > 0 {
			t.Fatalf("run %d: available, yet %v\n%s", n, clashes, show(grants, q))
		}
	}
	if yes < 100 {
		t.Errorf("only %d requests were available", yes)
	}
}

func TestRemovalAlwaysWins(t *testing.T) {
	r := random{rand.New(rand.NewPCG(1, 23))}
	for range 500 {
		g := r.grant(0)
		g.Kind, g.Exclusivity, g.Mode, g.Status, g.Affiliates = Licence, Exclusive, ThirdParty, Executed, nil
		q := Request{By: "nobody", Scope: Scope{Works: []string{"P1"}, From: mustDate("2025-01-30"), To: mustDate("2025-01-30")}}
		switch r.IntN(4) {
		case 0:
			g.Scope.Works = append(g.Scope.Works, "-P1")
		case 1:
			g.Scope.Media = append([]string{"-print"}, g.Scope.Media...)
			q.Scope.Media = []string{"print.book.hardback", "print"}
		case 2:
			g.Scope.Territory = append(g.Scope.Territory, "-GB-ENG")
			q.Scope.Territory = []string{"GB-LND", "GB-ENG"}
		default:
			g.Scope.Languages = append(g.Scope.Languages, "-en")
			q.Scope.Languages = []string{"en-GB", "en"}
		}
		a, err := Available(q, []Grant{g}, Facts{}, 0)
		if err != nil || a.Verdict != Yes {
			t.Fatalf("%+v within %+v: %s, %v", q.Scope, g.Scope, a.Verdict, err)
		}
	}
}

func TestFreeze(t *testing.T) {
	g := Grant{ID: "G1", To: "A", Exclusivity: Exclusive, Status: Executed, Signed: mustDate("2015-03-01"),
		Scope: Scope{Works: []string{"P1"}, Media: []string{"*"}, Territory: []string{"EU", "-FR"}, Languages: []string{"*"}}}
	frozen, err := Freeze(g)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Contains(frozen.Frozen.Territory, "GB") || slices.Contains(frozen.Frozen.Territory, "FR") || frozen.Frozen.Tables == "" {
		t.Errorf("frozen as %+v", frozen.Frozen)
	}
	ask := Request{By: "B", Scope: Scope{Works: []string{"P1"}, Media: []string{"print"}, Territory: []string{"GB"}, From: mustDate("2025-06-01"), To: mustDate("2025-06-30")}}
	moved := frozen
	moved.Signed = mustDate("2024-03-01") // an expansion that is there stays, whatever the tables would say now
	again, err := Freeze(moved)
	if err != nil || !reflect.DeepEqual(again.Frozen, frozen.Frozen) {
		t.Errorf("frozen twice: %+v, %v", again.Frozen, err)
	}
	for _, g := range []Grant{g, frozen, moved} {
		if a, err := Available(ask, []Grant{g}, Facts{}, 0); err != nil || a.Verdict != No {
			t.Errorf("GB under EU of 2015: %s, %v", a.Verdict, err)
		}
	}
	g.Signed = mustDate("2024-03-01")
	if a, err := Available(ask, []Grant{g}, Facts{}, 0); err != nil || a.Verdict != Yes {
		t.Errorf("GB under EU of 2024: %s, %v", a.Verdict, err)
	}
}

func TestFrozenGrantsAnswerAlike(t *testing.T) {
	for n := range uint64(100) {
		r := random{rand.New(rand.NewPCG(n, 29))}
		grants, q := r.grants(), r.request()
		frozen := make([]Grant, len(grants))
		for i := range grants {
			var err error
			if frozen[i], err = Freeze(grants[i]); err != nil {
				t.Fatal(err)
			}
		}
		sameAnswers(t, fmt.Sprintf("run %d", n), grants, frozen, q)
	}
}

func sameAnswers(t *testing.T, name string, these, those []Grant, q Request) {
	t.Helper()
	a, err := NewBook(these)
	if err != nil {
		t.Fatal(err)
	}
	b, err := NewBook(those)
	if err != nil {
		t.Fatal(err)
	}
	sameBooks(t, name, a, b, q)
}

func sameBooks(t *testing.T, name string, a, b *Book, q Request) {
	t.Helper()
	one, err := a.Available(q, Facts{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	two, err := b.Available(q, Facts{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(one, two) {
		t.Errorf("%s: %+v and %+v", name, one, two)
	}
	if x, y := a.AllConflicts(), b.AllConflicts(); !reflect.DeepEqual(x, y) {
		t.Errorf("%s: conflicts %v and %v", name, x, y)
	}
	if x, y := a.Alarms(DayOf(2025, 1, 30), 10), b.Alarms(DayOf(2025, 1, 30), 10); !reflect.DeepEqual(x, y) {
		t.Errorf("%s: alarms %v and %v", name, x, y)
	}
	if x, y := a.Standing("P1", DayOf(2025, 1, 30)), b.Standing("P1", DayOf(2025, 1, 30)); x != y {
		t.Errorf("%s: standing %v and %v", name, x, y)
	}
}

func TestBookKeptUpEqualsBookBuilt(t *testing.T) {
	for n := range uint64(120) {
		r := random{rand.New(rand.NewPCG(n, 31))}
		kept, err := NewBook(nil)
		if err != nil {
			t.Fatal(err)
		}
		now := map[string]Grant{}
		for range 20 {
			g := r.grant(r.IntN(6))
			if r.chance(4) {
				if _, had := now[g.ID]; kept.Remove(g.ID) != had {
					t.Fatalf("Remove(%s) does not say whether it was there", g.ID)
				}
				delete(now, g.ID)
				continue
			}
			if err := kept.Put(g); err != nil {
				t.Fatal(err)
			}
			now[g.ID] = g
		}
		var list []Grant
		for _, g := range now {
			list = append(list, g)
		}
		built, err := NewBook(list)
		if err != nil {
			t.Fatal(err)
		}
		if kept.Len() != len(now) {
			t.Fatalf("%d grants, want %d", kept.Len(), len(now))
		}
		sameBooks(t, fmt.Sprintf("run %d", n), kept, built, r.request())
	}
}

// TestDisorderIsHarmless feeds records that point at each other in rings.
func TestDisorderIsHarmless(t *testing.T) {
	scope := Scope{Works: []string{"P1"}, Media: []string{"*"}, Territory: []string{"WORLD"}, Languages: []string{"*"}}
	grants := []Grant{
		{ID: "G1", To: "A", Kind: Sublicence, Head: "G2", Amends: "G3", Scope: scope, Status: Executed, Exclusivity: Exclusive, Signed: mustDate("2025")},
		{ID: "G2", To: "B", Kind: Sublicence, Head: "G1", Supersedes: []string{"G1", "G2"}, Scope: scope, Status: Executed, Exclusivity: Sole, Signed: mustDate("2025")},
		{ID: "G3", To: "C", Kind: Sublicence, Head: "G3", Amends: "G1", Scope: scope, Status: Executed, Signed: mustDate("2025")},
	}
	b, err := NewBook(grants)
	if err != nil {
		t.Fatal(err)
	}
	b.AllConflicts()
	if r, err := b.Licensed(Use{By: "C", Scope: Scope{Works: []string{"P1"}, From: mustDate("2025-06-01"), To: mustDate("2025-06-01")}}, 0); err != nil || r.Verdict != NotLicensed {
		t.Errorf("a ring of sublicences permits nothing: %+v, %v", r, err)
	}
	if err := b.Put(grants[0]); err != nil || b.Len() != 3 {
		t.Error(err)
	}
}
