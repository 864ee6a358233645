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
