package rights

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"platarium/server/rights/pathset"
	"platarium/server/rights/territory"
)

// random makes grants and requests out of few names, so that they often meet.
type random struct{ *rand.Rand }

func (r random) oneOf(names ...string) string { return names[r.IntN(len(names))] }

func (r random) chance(n int) bool { return r.IntN(n) == 0 }

// list picks a few names and now and then removes some.
func (r random) list(names ...string) []string {
	var out []string
	for range 1 + r.IntN(2) {
		out = append(out, r.oneOf(names...))
	}
	for r.chance(6) {
		out = append(out, "-"+r.oneOf(names...))
	}
	return out
}

func (r random) date() Date {
	if r.chance(8) {
		return mustDate(r.oneOf("2025", "2025-01", "2025-02"))
	}
	return mustDate(r.oneOf("2025-01-28", "2025-01-29", "2025-01-30", "2025-01-31", "2025-02-01", "2025-02-02", "2025-02-03"))
}

func (r random) exactDate() Date {
	return mustDate(r.oneOf("2025-01-28", "2025-01-29", "2025-01-30", "2025-01-31", "2025-02-01", "2025-02-02"))
}

func (r random) maybeDate(n int) Date {
	if r.chance(n) {
		return r.date()
	}
	return Date{}
}

func mustDate(s string) Date {
	d, err := ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

func (r random) scope() Scope {
	s := Scope{
		Works:     r.list("P1", "P1", "P1", "P1", "P1", "P1", "P1#a", "P2"),
		Media:     r.list("*", "*", "*", "print", "print.book", "print.book.hardback", "digital.web"),
		Territory: r.list("WORLD", "WORLD", "GB", "GB", "GB-ENG", "GB-LND", "GB-SCT", "GB-WLS", "GB-NIR", "DE"),
		Languages: r.list("*", "*", "*", "*", "en", "en-GB", "de"),
		From:      r.maybeDate(4),
		To:        r.maybeDate(4),
	}
	if r.chance(4) {
		s.Purposes = []string{r.oneOf("commercial", "noncommercial")}
	}
	return s
}

func (r random) grant(n int) Grant {
	g := Grant{
		ID: fmt.Sprintf("G%d", n), To: r.oneOf("A", "B", "C"), Scope: r.scope(), Signed: r.exactDate(), Status: Executed,
		Exclusivity: []Exclusivity{NonExclusive, NonExclusive, Sole, Exclusive, Exclusive, FirstRights}[r.IntN(6)],
		Kind:        []Kind{Licence, Licence, Licence, Licence, Licence, Sublicence, Assignment, Holdback, Option, Public}[r.IntN(10)],
	}
	if r.chance(15) {
		g.Status = []Status{Draft, Offered, Void}[r.IntN(3)]
	}
	if r.chance(4) {
		g.Affiliates = []string{r.oneOf("A", "B", "D")}
	}
	if g.Kind == Sublicence {
		g.Head, g.Survives = fmt.Sprintf("G%d", r.IntN(max(n, 1))), r.chance(3)
		if n == 0 {
			g.Kind, g.Head = Licence, ""
		}
	}
	if g.Kind == Holdback && r.chance(2) {
		g.Mode = Everyone
	}
	if n > 0 && r.chance(5) {
		g.Amends = fmt.Sprintf("G%d", r.IntN(n))
	} else if n > 0 && r.chance(6) {
		g.Supersedes = []string{fmt.Sprintf("G%d", r.IntN(n))}
	}
	if g.Exclusivity == Exclusive && r.chance(4) {
		g.Reserved = []string{r.oneOf("print", "digital.web")}
	}
	if g.Exclusivity == FirstRights {
		g.FirstPublished, g.FirstDeadline = r.maybeDate(2), r.maybeDate(3)
	}
	if r.chance(8) {
		g.Term = &TermEvent{Anchor: "first publication", Months: r.IntN(2), Date: r.maybeDate(2)}
	}
	if r.chance(2) {
		g.Signed = mustDate("2025-01-28")
	}
	g.Effective, g.Ended, g.SellOffTo = r.maybeDate(2), r.maybeDate(8), r.maybeDate(8)
	g.EmbargoUntil, g.ExclusiveTo = r.maybeDate(8), r.maybeDate(6)
	g.PaymentCondition, g.Paid = r.chance(8), r.chance(2)
	if n > 0 && r.chance(6) {
		g.SubjectTo = []string{fmt.Sprintf("G%d", r.IntN(n))}
	}
	return g
}

func (r random) grants() []Grant {
	out := make([]Grant, 1+r.IntN(6))
	for i := range out {
		g := r.grant(i)
		if old := newReference(out[:i]).get(g.Amends); g.Kind == Sublicence && old != nil && old.Kind == Sublicence {
			g.Head = old.Head
		} else if g.Kind == Sublicence { // the reference follows no rings of heads and amendments
			g.Amends, g.Supersedes = "", nil
		}
		out[i] = g
	}
	return out
}

func (r random) request() Request {
	s := r.scope()
	s.From, s.To = r.exactDate(), mustDate("2025-02-03")
	if !r.chance(3) { // narrow questions are more often answered with no
		s = Scope{Works: []string{"P1"}, Media: []string{r.oneOf("print.book", "digital.web")}, Territory: []string{r.oneOf("GB-ENG", "GB-LND", "GB")},
			Languages: []string{r.oneOf("en", "de")}, From: mustDate("2025-02-02"), To: mustDate("2025-02-03")}
	}
	q := Request{By: r.oneOf("B", "C", "D", Studio), Scope: s, Exclusivity: []Exclusivity{NonExclusive, NonExclusive, Sole, Exclusive, FirstRights}[r.IntN(5)],
		SubjectToExisting: r.chance(4)}
	if r.chance(5) {
		q.Affiliates = []string{"A"}
	}
	return q
}

// asked are the points of a scope whose days lie between its first and last exact day.
func asked(s Scope) []point {
	var out []point
	cover := coverOf(&s)
	for _, name := range refDays {
		day := mustDate(name).First()
		if day < s.From.First() || day > s.To.Last() {
			continue
		}
		for _, p := range refPoints(day) {
			if cover.holds(p) {
				out = append(out, p)
			}
		}
	}
	return out
}

// block lists the grants that block one point of a request.
func (r reference) block(q *Request, p point, out []string) []string {
	for i := range r.grants {
		g := &r.grants[i]
		inside := g.To == q.By || slices.Contains(q.Affiliates, g.To)
		prior := q.Exclusivity != NonExclusive && !q.SubjectToExisting && !inside && r.permits(g, p, true, Make)
		if prior || r.shuts(g, p, q.By) {
			out = append(out, g.ID)
		}
	}
	return out
}

func TestAvailableAgainstReference(t *testing.T) {
	verdicts := map[Verdict]int{}
	for n := range uint64(250) {
		r := random{rand.New(rand.NewPCG(n, 7))}
		grants, q := newReference(r.grants()), r.request()
		points := asked(q.Scope)
		if len(points) == 0 {
			continue
		}
		got, err := Available(q, grants.grants, Facts{}, q.Scope.From.First())
		if err != nil {
			t.Fatalf("run %d: %v", n, err)
		}
		free := readBack(t, got.Free)
		blocked, by := 0, map[string]bool{}
		var why []string
		for _, p := range points {
			why = grants.block(&q, p, why[:0])
			if len(why) > 0 {
				blocked++
			}
			for _, id := range why {
				by[id] = true
			}
			if got.Verdict == Part && free.holds(p) == (len(why) > 0) {
				t.Fatalf("run %d: point %v: blocked by %v, free rest %v\n%s", n, p, why, got.FreeText, show(grants.grants, q))
			}
		}
		want := Part
		switch {
		case blocked == len(points):
			want = No
		case blocked == 0:
			want = Yes
		}
		verdicts[want]++
		if got.Verdict == Check && want == Yes {
			continue // an option
		}
		if got.Verdict != want || want != Yes && !sameKeys(by, got.By) {
			t.Fatalf("run %d: got %s by %v, want %s by %v\n%s", n, got.Verdict, got.By, want, by, show(grants.grants, q))
		}
	}
	for _, v := range []Verdict{Yes, No, Part} {
		if verdicts[v] < 15 {
			t.Errorf("only %d requests were %s: the test looks at too little", verdicts[v], v)
		}
	}
}

func show(grants []Grant, q any) string {
	text := fmt.Sprintf("asked %+v\n", q)
	for _, g := range grants {
		text += fmt.Sprintf("%+v\n", g)
		if g.Term != nil {
			text += fmt.Sprintf("  term %+v\n", *g.Term)
		}
	}
	return text
}

func sameKeys(want map[string]bool, got []string) bool {
	for _, id := range got {
		if !want[id] {
			return false
		}
	}
	return len(want) == len(got)
}

// rest is a free rest, read back.
type rest []box

func readBack(t *testing.T, scopes []Scope) rest {
	t.Helper()
	var out rest
	for _, s := range scopes {
		a, err := readAxes(s, Frozen{}, "2025-01-01", nothing)
		if err != nil {
			t.Fatalf("the free rest %+v does not read back: %v", s, err)
		}
		out = append(out, box{a, span{wide.begin(s.From, minDay), wide.end(s.To, maxDay)}})
	}
	return out
}

func (r rest) holds(p point) bool {
	place := refPlaces[p.at[2]]
	if len(place) == 3 {
		place = "GB-" + place
	}
	one, err := territory.Read([]string{place}, "")
	return err == nil && slices.ContainsFunc(r, func(b box) bool {
		return b.work.HasName(pathset.Parts, refWorks[p.at[0]]) && b.media.HasName(pathset.Dotted, refMedia[p.at[1]]) && b.terr.Covers(one) &&
			b.lang.HasName(pathset.Tags, refLangs[p.at[3]]) && b.purpose&(1<<p.at[4]) != 0 && b.days.lo <= p.day && p.day <= b.days.hi
	})
}

func TestConflictAgainstReference(t *testing.T) {
	clashes := 0
	for n := range uint64(130) {
		r := random{rand.New(rand.NewPCG(n, 11))}
		grants := newReference(r.grants())
		b, err := NewBook(grants.grants)
		if err != nil {
			t.Fatal(err)
		}
		for i := range grants.grants {
			for j := range grants.grants {
				_, got := b.Conflict(grants.grants[i].ID, grants.grants[j].ID)
				_, back := b.Conflict(grants.grants[j].ID, grants.grants[i].ID)
				want := i != j && (grants.breaks(&grants.grants[i], &grants.grants[j]) || grants.breaks(&grants.grants[j], &grants.grants[i]))
				if got != want || back != want {
					t.Fatalf("run %d: conflict(%s, %s) = %v, %v the other way; want %v\n%s",
						n, grants.grants[i].ID, grants.grants[j].ID, got, back, want, show(grants.grants, nil))
				}
				if want {
					clashes++
				}
			}
		}
	}
	if clashes < 30 {
		t.Errorf("only %d clashes: the test looks at too little", clashes)
	}
}

func (r reference) breaks(promise, other *Grant) bool {
	if r.line(promise, other) || r.line(other, promise) || slices.Contains(promise.SubjectTo, other.ID) {
		return false
	}
	for _, name := range refDays {
		day := mustDate(name).First()
		if promise.Status != Executed || other.Status != Executed || !promise.shuts() || !other.permits() {
			return false
		}
		if r.over(promise, day, true) || !refBegun(other, day, true) {
			continue
		}
		for _, p := range refPoints(day) {
			if r.holds(promise, p) && r.permits(other, p, true, Make) && r.shuts(promise, p, other.To) && !r.yields(promise, other, p) {
				return true
			}
		}
	}
	return false
}

// line reports whether h is a version of g or of something that g hangs on.
func (r reference) line(g, h *Grant) bool {
	for _, v := range r.agreement(g.ID) {
		if v.ID == h.ID || v.Kind == Sublicence && r.hangs(v, h.ID) {
			return true
		}
	}
	return false
}

// yields reports whether a promise was made subject to a grant that covered the point and that other descends from.
func (r reference) yields(promise, other *Grant, p point) bool {
	for _, id := range promise.SubjectTo {
		listed := r.get(id)
		sold := listed != nil && !listed.SellOffTo.IsZero() && p.day <= listed.SellOffTo.Last()
		if listed != nil && r.line(other, listed) && r.holds(listed, p) && refBegun(listed, p.day, true) &&
			(sold || !r.over(listed, p.day, true)) {
			return true
		}
	}
	return false
}
