package rights

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// reaches reports whether a grant passes the tests of a use up to a step, at one point: axes, days, conditions.
func (r reference) reaches(g *Grant, p point, step int, u *Use) bool {
	for axis := range min(step+1, 5) {
		if !r.covers[g.ID][axis][p.at[axis]] {
			return false
		}
	}
	if !r.governs(g, p.day, false) {
		return false
	}
	selling := u.Act == Distribute && !g.SellOffTo.IsZero() && p.day <= g.SellOffTo.First()
	tests := []bool{
		refBegun(g, p.day, false),
		selling || !r.over(g, p.day, false),
		g.EmbargoUntil.IsZero() || p.day >= g.EmbargoUntil.Last(),
		g.Status == Executed,
		!g.PaymentCondition || g.Paid,
		g.Product == "" || g.Product == u.Product,
		g.CopiesMax == 0 || u.Act == Distribute || g.CopiesDone+u.Copies <= g.CopiesMax,
		g.UsesMax == 0 || g.UsesDone < g.UsesMax,
		!u.Altered || g.mayAlter(),
		!u.Unattributed || g.Kind != Public,
	}
	return !slices.Contains(tests[:max(0, step-4)], false)
}

func (r random) use() Use {
	s := r.scope()
	s.From = r.exactDate()
	s.To = s.From
	if r.chance(2) {
		s.Works, s.Media, s.Territory, s.Languages = []string{"P1"}, []string{"print.book.hardback"}, []string{"GB-ENG"}, []string{"en"}
	}
	u := Use{By: r.oneOf("A", "B"), Scope: s, Copies: int64(r.IntN(3)), Altered: r.chance(6), Unattributed: r.chance(6)}
	if r.chance(4) {
		u.Act = Distribute
	}
	return u
}

func TestLicensedAgainstReference(t *testing.T) {
	seen := map[Code]int{}
	codes := []Code{Party, Medium, Territory, Language, Purpose, NotYet, Expired, Embargo, NotExecuted, Unpaid, Product, Overrun, Consumed, Modification, Attribution}
	for n := range uint64(1200) {
		r := random{rand.New(rand.NewPCG(n, 13))}
		list := r.grants()
		for i := range list {
			g := &list[i]
			if g.Kind == Sublicence { // sublicences have a test of their own
				g.Kind, g.Head = Licence, ""
			}
			if r.chance(6) {
				g.Product = "first edition"
			}
			if r.chance(5) {
				g.CopiesMax, g.CopiesDone = 3, int64(r.IntN(4))
			}
			if r.chance(8) {
				g.UsesMax, g.UsesDone = 1, int64(r.IntN(2))
			}
		}
		grants, u := newReference(list), r.use()
		points := asked(u.Scope)
		if len(points) == 0 {
			continue
		}
		var mine []*Grant
		for i := range list {
			if g := &list[i]; g.permits() && (g.Kind == Public || g.names(u.By)) {
				mine = append(mine, g)
			}
		}
		want := Clear
		for step, code := range codes {
			if slices.ContainsFunc(points, func(p point) bool {
				return !slices.ContainsFunc(mine, func(g *Grant) bool { return grants.reaches(g, p, step, &u) })
			}) {
				want = code
				break
			}
		}
		got, err := LicensedUse(u, list, u.Scope.From.First())
		if err != nil {
			t.Fatalf("run %d: %v", n, err)
		}
		if got.Code != want || (got.Verdict == Licensed) != (want == Clear) {
			t.Fatalf("run %d: got %s %s by %v, want %s\n%s", n, got.Verdict, got.Code, got.By, want, show(list, u))
		}
		if (len(got.By) == 0) != (want == Party) {
			t.Fatalf("run %d: %s by %v", n, got.Code, got.By)
		}
		seen[want]++
	}
	for _, c := range append(codes, Clear) {
		if seen[c] == 0 {
			t.Errorf("no use failed by %s: the test looks at too little (%v)", c, seen)
		}
	}
}

func TestSublicenceLicensedAgainstReference(t *testing.T) {
	seen := map[bool]int{}
	for n := range uint64(600) {
		r := random{rand.New(rand.NewPCG(n, 17))}
		list := r.grants()
		for i := range list {
			list[i].PaymentCondition = false
		}
		grants, u := newReference(list), r.use()
		u.Altered, u.Unattributed = false, false
		points := asked(u.Scope)
		if len(points) == 0 {
			continue
		}
		want := !slices.ContainsFunc(points, func(p point) bool {
			for i := range list {
				g := &list[i]
				if (g.Kind == Public || g.names(u.By)) && grants.permits(g, p, false, u.Act) {
					return false
				}
			}
			return true
		})
		got, err := LicensedUse(u, list, u.Scope.From.First())
		if err != nil {
			t.Fatalf("run %d: %v", n, err)
		}
		if (got.Verdict == Licensed) != want {
			t.Fatalf("run %d: got %s %s by %v, want licensed %v\n%s", n, got.Verdict, got.Code, got.By, want, show(list, u))
		}
		seen[want]++
	}
	if seen[true] < 30 || seen[false] < 30 {
		t.Errorf("the test looks at too little: %v", seen)
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

func TestSublicenceFailsWhereItsHeadDoes(t *testing.T) {
	head := exclusive("G1", "A", func(g *Grant) { g.Scope.Territory, g.Ended = []string{"US"}, mustDate("2026-01-01") })
	sub := func(change func(*Grant)) Grant {
		return licence("G2", "C", func(g *Grant) { g.Kind, g.Head = Sublicence, "G1"; change(g) })
	}
	for _, tt := range []struct {
		name  string
		place string
		on    string
		head  func(*Grant)
		sub   func(*Grant)
		want  Code
	}{
		{"inside", "US", "2025-06-01", func(*Grant) {}, func(*Grant) {}, Clear},
		{"beyond the head's territory", "JP", "2025-06-01", func(*Grant) {}, func(*Grant) {}, Territory},
		{"no territory in common", "JP", "2025-06-01", func(*Grant) {}, func(g *Grant) { g.Scope.Territory = []string{"JP"} }, Territory},
		{"after the head's end", "US", "2026-06-01", func(*Grant) {}, func(*Grant) {}, Expired},
		{"outliving the head", "US", "2026-06-01", func(*Grant) {}, func(g *Grant) { g.Survives = true }, Clear},
		{"head never signed", "US", "2025-06-01", func(g *Grant) { g.Status = Offered }, func(*Grant) {}, NotExecuted},
		{"head unpaid", "US", "2025-06-01", func(g *Grant) { g.PaymentCondition = true }, func(*Grant) {}, Unpaid},
		{"head not on record", "US", "2025-06-01", func(g *Grant) { g.ID = "G9" }, func(*Grant) {}, NotExecuted},
	} {
		h, s := head, sub(tt.sub)
		tt.head(&h)
		d := mustDate(tt.on)
		u := Use{By: "C", Scope: Scope{Works: []string{"P1"}, Media: []string{"print.book"}, Territory: []string{tt.place}, Languages: []string{"en"}, From: d, To: d}}
		r, err := LicensedUse(u, []Grant{h, s}, day("2025-05-01"))
		if err != nil || r.Code != tt.want || !slices.Equal(r.By, []string{"G2"}) {
			t.Errorf("%s: %+v, %v; want %s", tt.name, r, err, tt.want)
		}
	}
}
