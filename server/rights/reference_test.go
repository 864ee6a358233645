package rights

import (
	"fmt"
	"slices"
	"strings"
)

// The reference answers the same questions by looking at every tuple of a small
// universe, one at a time, straight from the wording of the conventions. It
// shares no set, box or window with the package.

// point is one tuple of the universe: its place on the first five axes, by index
// into the lists below, and its day.
type point struct {
	at  [5]uint8
	day Day
}

func (p point) String() string {
	return fmt.Sprint(refWorks[p.at[0]], " ", refMedia[p.at[1]], " ", refPlaces[p.at[2]], " ", refLangs[p.at[3]], " ", refPurposes[p.at[4]], " ", p.day)
}

// The universe holds a member for every atom that the random grants can tell
// apart: names that lists mention, names beneath and beside them that none
// mentions, and days on either side of every date in use.
var (
	refWorks    = []string{"P1", "P1#a", "P1#other", "P2"}
	refMedia    = []string{"print", "print.book", "print.book.hardback", "print.book.other", "print.bookmark", "digital.web", "digital.other"}
	refPlaces   = []string{"LND", "KEN", "GLG", "CRF", "BFS", "DE", "FR"} // London, Kent, Glasgow, Cardiff, Belfast
	refLangs    = []string{"en", "en-GB", "en-US", "enm", "de"}
	refPurposes = []string{"commercial", "noncommercial"}
	refDays     = []string{"2024-12-31", "2025-01-01", "2025-01-15", "2025-01-28", "2025-01-29", "2025-01-30", "2025-01-31", "2025-02-01",
		"2025-02-02", "2025-02-03", "2025-02-15", "2025-02-28", "2025-03-01", "2025-12-31", "2026-01-01"}
)

// refInside lists the leaves of the places that grants name.
var refInside = map[string][]string{
	"WORLD": refPlaces, "DE": {"DE"}, "GB": {"LND", "KEN", "GLG", "CRF", "BFS"},
	"GB-ENG": {"LND", "KEN"}, "GB-LND": {"LND"}, "GB-SCT": {"GLG"}, "GB-WLS": {"CRF"}, "GB-NIR": {"BFS"},
}

func refList(sep string, written []string, name string) bool {
	in := false
	for _, w := range written {
		token, removed := strings.CutPrefix(w, "-")
		hit := token == "*" || token == name || strings.HasPrefix(name, token+sep)
		if sep == "place" {
			hit = slices.Contains(refInside[token], name)
		}
		if hit && removed {
			return false
		}
		in = in || hit
	}
	return in
}

// refCover says which names of each axis a scope holds.
type refCover [5][8]bool

func coverOf(s *Scope) *refCover {
	var c refCover
	for i, axis := range []struct {
		sep            string
		written, names []string
	}{{"#", s.Works, refWorks}, {".", s.Media, refMedia}, {"place", s.Territory, refPlaces}, {"-", s.Languages, refLangs}, {"/", s.Purposes, refPurposes}} {
		for n, name := range axis.names {
			c[i][n] = refList(axis.sep, axis.written, name) || i == 4 && len(axis.written) == 0
		}
	}
	return &c
}

func (c *refCover) holds(p point) bool {
	return c[0][p.at[0]] && c[1][p.at[1]] && c[2][p.at[2]] && c[3][p.at[3]] && c[4][p.at[4]]
}

// reference is a set of grants with what their scopes cover.
type reference struct {
	grants []Grant
	covers map[string]*refCover
}

func newReference(grants []Grant) reference {
	r := reference{grants, map[string]*refCover{}}
	for i := range grants {
		r.covers[grants[i].ID] = coverOf(&grants[i].Scope)
	}
	return r
}

func (r reference) holds(g *Grant, p point) bool { return r.covers[g.ID].holds(p) }

func (r reference) get(id string) *Grant {
	for i := range r.grants {
		if r.grants[i].ID == id {
			return &r.grants[i]
		}
	}
	return nil
}

func refFirst(d Date, w bool) Day { // a beginning: early when wide
	if w {
		return d.First()
	}
	return d.Last()
}

func refLast(d Date, w bool) Day { return refFirst(d, !w) }

// governs: is this version of the agreement the one for the day?
func (r reference) governs(g *Grant, day Day, w bool) bool {
	if g.Kind == Public {
		return true
	}
	if (g.Amends != "" || len(g.Supersedes) > 0) && day < refFirst(g.effective(), w) {
		return false
	}
	for i := range r.grants {
		h := &r.grants[i]
		if h.Status != Executed || h.ID == g.ID || !h.Ended.IsZero() && h.Ended.Last() <= h.effective().First() {
			continue
		}
		replaces := h.Amends == g.ID || slices.Contains(h.Supersedes, g.ID)
		sibling := g.Amends != "" && h.Amends == g.Amends && h.effective().First() > g.effective().First()
		if (replaces || sibling) && day >= refLast(h.effective(), w) {
			return false
		}
	}
	return true
}

// begun and over look at one grant's own term on a day.
func refBegun(g *Grant, day Day, w bool) bool {
	if g.Scope.From.IsZero() {
		return day >= refFirst(g.Signed, w)
	}
	return day >= refFirst(g.Scope.From, w)
}

func (r reference) over(g *Grant, day Day, w bool) bool {
	if !g.Scope.To.IsZero() && day > refLast(g.Scope.To, w) {
		return true
	}
	if t := g.Term; t != nil && !t.Date.IsZero() && day > addMonths(refLast(t.Date, w), t.Months) {
		return true
	}
	if g.Kind == Public {
		return false
	}
	if !g.Ended.IsZero() && day >= refLast(g.Ended, w) {
		return true
	}
	for up := r.get(g.Amends); up != nil; up = r.get(up.Amends) {
		if !up.Ended.IsZero() && up.Ended.First() > g.effective().First() && day >= refLast(up.Ended, w) {
			return true
		}
	}
	return false
}

// follows reports whether a grant is the next statement of an agreement after another, in one step.
func (r reference) follows(next, g *Grant) bool {
	return next.Amends == g.ID || slices.Contains(next.Supersedes, g.ID) ||
		g.Amends != "" && next.Amends == g.Amends && next.effective().First() > g.effective().First()
}

// comesAfter reports whether it is so in any number of steps.
func (r reference) comesAfter(next, g *Grant, depth int) bool {
	if depth > len(r.grants) {
		return false
	}
	for i := range r.grants {
		if r.follows(&r.grants[i], g) && (r.grants[i].ID == next.ID || r.comesAfter(next, &r.grants[i], depth+1)) {
			return true
		}
	}
	return false
}

// agreement is the versions of what an id names.
func (r reference) agreement(id string) []*Grant {
	var out []*Grant
	for i := range r.grants {
		if g := r.get(id); g != nil && (g.ID == r.grants[i].ID || r.comesAfter(&r.grants[i], g, 0) || r.comesAfter(g, &r.grants[i], 0)) {
			out = append(out, &r.grants[i])
		}
	}
	return out
}

// underHead reports whether a sublicence's point lies inside its head while that is in force.
func (r reference) underHead(g *Grant, p point, w bool) bool {
	if g.Kind != Sublicence {
		return true
	}
	for _, h := range r.agreement(g.Head) {
		open := h.EmbargoUntil.IsZero() || p.day >= refFirst(h.EmbargoUntil, w)
		if h.Status == Executed && h.permits() && r.holds(h, p) && r.governs(h, p.day, w) && refBegun(h, p.day, w) && open &&
			(g.Survives || !r.over(h, p.day, w)) && r.underHead(h, p, w) {
			return true
		}
	}
	return false
}

func (r reference) permits(g *Grant, p point, w bool, act Act) bool {
	if g.Status != Executed || !g.permits() || !r.holds(g, p) || !refBegun(g, p.day, w) || !r.governs(g, p.day, w) {
		return false
	}
	if !g.EmbargoUntil.IsZero() && p.day < refFirst(g.EmbargoUntil, w) {
		return false
	}
	selling := (w || act == Distribute) && !g.SellOffTo.IsZero() && p.day <= refLast(g.SellOffTo, w)
	return (selling || !r.over(g, p.day, w)) && r.underHead(g, p, w)
}

// shuts reports whether a grant shuts a party out of a point. Read widely.
func (r reference) shuts(g *Grant, p point, party string) bool {
	if g.Status != Executed || !g.shuts() || !r.holds(g, p) || !r.governs(g, p.day, true) || r.over(g, p.day, true) || !r.underHead(g, p, true) {
		return false
	}
	first := g.Kind == Licence && g.Exclusivity == FirstRights || g.Kind == Sublicence && g.Exclusivity == FirstRights
	switch {
	case first && p.day < g.Signed.First(), !first && !refBegun(g, p.day, true):
		return false
	case !g.ExclusiveTo.IsZero() && p.day > g.ExclusiveTo.Last():
		return false
	case first && !g.FirstPublished.IsZero() && p.day >= g.FirstPublished.Last():
		return false
	case first && !g.FirstDeadline.IsZero() && p.day > g.FirstDeadline.Last():
		return false
	}
	if g.Kind == Holdback && g.Mode == Everyone {
		return true
	}
	if g.names(party) {
		return false
	}
	if party == Studio {
		if g.Kind == Holdback || g.Exclusivity == Sole && g.Kind != Assignment {
			return false
		}
		if g.Exclusivity == Exclusive && refList(".", g.Reserved, refMedia[p.at[1]]) {
			return false
		}
	}
	code := g.blockCode()
	return code != ByExclusive && code != BySole || !r.lodges(g, party, p.day)
}

// lodges reports whether a party holds a sublicence under the grant on a day.
func (r reference) lodges(g *Grant, party string, day Day) bool {
	for i := range r.grants {
		s := &r.grants[i]
		if s.Kind != Sublicence || s.Status != Executed || !s.names(party) || !r.hangs(s, g.ID) {
			continue
		}
		for _, p := range refPoints(day) {
			if r.holds(s, p) && r.governs(s, day, true) && refBegun(s, day, true) && !r.over(s, day, true) &&
				(s.EmbargoUntil.IsZero() || day >= s.EmbargoUntil.First()) && r.underHead(s, p, true) {
				return true
			}
		}
	}
	return false
}

func (r reference) hangs(s *Grant, id string) bool {
	for _, h := range r.agreement(s.Head) {
		if h.ID == id || h.Kind == Sublicence && r.hangs(h, id) {
			return true
		}
	}
	return false
}

// refPoints are the tuples of one day.
func refPoints(day Day) []point {
	var out []point
	for w := range refWorks {
		for m := range refMedia {
			for t := range refPlaces {
				for l := range refLangs {
					for u := range refPurposes {
						out = append(out, point{[5]uint8{uint8(w), uint8(m), uint8(t), uint8(l), uint8(u)}, day})
					}
				}
			}
		}
	}
	return out
}
