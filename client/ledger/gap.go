package ledger

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// Gap is a time between two agreements of the same kind with the same party over the same picture, for which the ledger says nothing.
type Gap struct {
	Picture  string `json:"picture"`
	Licensee string `json:"licensee"`
	From     string `json:"from"` // first day without
	To       string `json:"to"`   // last day without
	Rows     [2]int `json:"rows"` // lines of the agreement before and after
}

func (g Gap) String() string {
	return fmt.Sprintf("%s to %s: nothing from %s to %s (between lines %d and %d)", g.Picture, g.Licensee, g.From, g.To, g.Rows[0], g.Rows[1])
}

// gaps finds the times between agreements that continue each other, by picture, party, kind, exclusivity, media and territories.
func gaps(in []placed) (out []Gap) {
	type line struct {
		picture, key string
		placed
	}
	var all []line
	for _, p := range in {
		g := p.row.grant
		if g.GetScope().GetFrom() == "" || g.GetStatus() != pb.GrantStatus_GRANT_STATUS_EXECUTED {
			continue
		}
		key := fmt.Sprint(g.GetLicensee(), g.GetKind(), g.GetExclusivity(), slices.Sorted(slices.Values(g.GetScope().GetMedia())), slices.Sorted(slices.Values(g.GetScope().GetTerritories())))
		for _, w := range g.GetScope().GetWorks() {
			all = append(all, line{w, key, p})
		}
	}
	slices.SortStableFunc(all, func(a, b line) int {
		return cmp.Or(strings.Compare(a.picture, b.picture), strings.Compare(a.key, b.key), cmp.Compare(first(a.row), first(b.row)))
	})
	var a line // the one that lasts longest so far
	for i, b := range all {
		if i == 0 || a.picture != b.picture || a.key != b.key {
			a = b
			continue
		}
		if end, begin := last(a.row), first(b.row); end+1 < begin {
			out = append(out, Gap{Picture: a.picture, Licensee: a.row.grant.GetLicensee(), From: (end + 1).String(), To: (begin - 1).String(), Rows: [2]int{a.line, b.line}})
		}
		if last(b.row) > last(a.row) {
			a = b
		}
	}
	return out
}

func first(r *row) rights.Day {
	d, _ := rights.ParseDate(r.grant.GetScope().GetFrom()) // read once already
	return d.First()
}

// last is the last day of a row; far away where none is stated.
func last(r *row) rights.Day {
	d, err := rights.ParseDate(r.grant.GetScope().GetTo())
	if err != nil || d.IsZero() {
		return 1 << 30
	}
	return d.Last()
}
