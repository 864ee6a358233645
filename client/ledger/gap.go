package ledger

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
	"platarium/server/rights/pathset"
	"platarium/server/rights/territory"
)

// Gap is a time between two agreements of a series for which the ledger says nothing. A series is what one party was licensed of one picture, each agreement sharing media and territories
// with another.
type Gap struct {
	Picture  string `json:"picture"`
	Licensee string `json:"licensee"`
	From     string `json:"from"`            // first day without
	To       string `json:"to"`              // last day without
	Years    []int  `json:"years,omitempty"` // calendar years that lie in it whole
	Rows     [2]int `json:"rows"`            // lines of the agreement before and after
}

func (g Gap) String() string {
	years := ""
	if n := len(g.Years); n == 1 {
		years = fmt.Sprintf("; not in all of %d", g.Years[0])
	} else if n > 1 {
		years = fmt.Sprintf("; not in the %d years %d to %d", n, g.Years[0], g.Years[n-1])
	}
	return fmt.Sprintf("%s to %s: nothing from %s to %s%s (between lines %d and %d)", g.Picture, g.Licensee, g.From, g.To, years, g.Rows[0], g.Rows[1])
}

// agreement is a row over one picture, with what tells whether it continues another.
type agreement struct {
	picture string
	placed
	from, to rights.Day
	media    pathset.Set
	places   territory.Set
}

// gaps finds the times between agreements that continue each other.
func gaps(in []placed) (out []Gap) {
	series := map[[2]string][]agreement{}
	for _, p := range in {
		g := p.row.grant
		if g.GetScope().GetFrom() == "" || g.GetStatus() != pb.GrantStatus_GRANT_STATUS_EXECUTED || g.GetKind() == pb.GrantKind_GRANT_KIND_HOLDBACK || g.GetKind() == pb.GrantKind_GRANT_KIND_OPTION {
			continue
		}
		places, err := territory.Read(g.GetScope().GetTerritories(), first(p.row).String())
		if err != nil {
			continue // the server has refused it
		}
		a := agreement{placed: p, from: first(p.row), to: last(p.row), media: mediaOf(g.GetScope().GetMedia()), places: places}
		for _, w := range g.GetScope().GetWorks() {
			a.picture = w
			key := [2]string{w, g.GetLicensee()}
			series[key] = append(series[key], a)
		}
	}
	for _, all := range series {
		for _, one := range apart(all) {
			out = append(out, between(one)...)
		}
	}
	slices.SortFunc(out, func(a, b Gap) int {
		return cmp.Or(strings.Compare(a.Picture, b.Picture), strings.Compare(a.Licensee, b.Licensee), strings.Compare(a.From, b.From), cmp.Compare(a.Rows[0], b.Rows[0]))
	})
	return out
}

func mediaOf(list []string) pathset.Set {
	var in, out []string
	for _, m := range list {
		if rest, taken := strings.CutPrefix(m, "-"); taken {
			out = append(out, rest)
		} else {
			in = append(in, m)
		}
	}
	return pathset.Dotted.Of(in, out)
}

// apart divides what a party was licensed of a picture into series.
func apart(all []agreement) (out [][]agreement) {
	for _, a := range all {
		joined := []agreement{a}
		out = slices.DeleteFunc(out, func(s []agreement) bool {
			if !slices.ContainsFunc(s, func(b agreement) bool { return a.media.Meets(b.media) && a.places.Meets(b.places) }) {
				return false
			}
			joined = append(joined, s...)
			return true
		})
		out = append(out, joined)
	}
	return out
}

// between finds the gaps of one series.
func between(series []agreement) (out []Gap) {
	slices.SortFunc(series, func(a, b agreement) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.line, b.line)) })
	longest := series[0]
	for _, b := range series[1:] {
		if longest.to+1 < b.from {
			g := Gap{Picture: b.picture, Licensee: b.row.grant.GetLicensee(), From: (longest.to + 1).String(), To: (b.from - 1).String(), Rows: [2]int{longest.line, b.line}}
			g.Years = wholeYears(longest.to+1, b.from-1)
			out = append(out, g)
		}
		if b.to > longest.to {
			longest = b
		}
	}
	return out
}

// wholeYears lists the calendar years that lie between two days, both included.
func wholeYears(from, to rights.Day) (out []int) {
	for y := from.Date().Year; y <= to.Date().Year; y++ {
		year := rights.Date{Year: y}
		if year.First() >= from && year.Last() <= to {
			out = append(out, y)
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
