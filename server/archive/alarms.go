package archive

import (
	"cmp"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// Kinds of alarm about uses, beside those of package rights about grants.
const (
	useWithoutGrant = "no grant"
	useNotLicensed  = "not licensed"
	useInBreach     = "breach"
)

// Alarms lists what falls due within so many days and what is wrong already: about grants, and about uses that no grant covers or that broke one. They come
// by day, then by name and kind.
func (a *Archive) Alarms(days int) ([]*pb.Alarm, error) {
	var found []rights.Alarm
	err := a.WithBook(func(b *rights.Book, today rights.Day) error {
		found = b.Alarms(today, days)
		return nil
	})
	if err != nil {
		return nil, err
	}
	var out []*pb.Alarm
	for _, f := range found {
		g, err := a.GetGrant(f.Grant)
		if err != nil {
			if err := ignoreNotFound(err); err != nil {
				return nil, err
			}
			continue // gone since the ledger was asked
		}
		out = append(out, &pb.Alarm{Name: f.Grant, Kind: alarmWord(f.Kind), Day: f.Day.String(), Text: f.Text, Party: g.GetLicensee(), Works: g.GetScope().GetWorks()})
	}
	uses, err := a.useAlarms()
	if err != nil {
		return nil, err
	}
	out = append(out, uses...)
	for _, al := range out {
		if al.GetParty() != "" {
			al.PartyName = a.PartyName(al.GetParty())
		}
	}
	slices.SortFunc(out, func(x, y *pb.Alarm) int {
		return cmp.Or(strings.Compare(x.GetDay(), y.GetDay()), strings.Compare(x.GetName(), y.GetName()), strings.Compare(x.GetKind(), y.GetKind()))
	})
	return out, nil
}

// alarmWord writes a kind of alarm as people read it.
func alarmWord(k rights.AlarmKind) string {
	return strings.ToLower(strings.ReplaceAll(string(k), "_", " "))
}

// useAlarms judges all uses together, each counting against the caps of the next.
func (a *Archive) useAlarms() ([]*pb.Alarm, error) {
	grants, _, err := a.ListGrants("", everything, nil)
	if err != nil {
		return nil, err
	}
	uses, _, err := a.ListUses("", everything, nil)
	if err != nil || len(uses) == 0 {
		return nil, err
	}
	byName := make(map[string]*pb.Use, len(uses))
	list := make([]rights.Use, 0, len(uses))
	for _, u := range uses {
		byName[u.GetName()] = u
		list = append(list, rightsUse(u))
	}
	uncounted := make([]rights.Grant, 0, len(grants)) // the audit counts copies and uses itself
	for _, g := range grants {
		uncounted = append(uncounted, rightsGrant(new(checks), g))
	}
	book, err := rights.NewBook(uncounted)
	if err != nil {
		return nil, err
	}
	findings, err := book.Audit(list, rightsDay(a.Today()))
	if err != nil {
		return nil, err
	}
	var out []*pb.Alarm
	for _, f := range findings {
		if f.Ruling.Verdict == rights.Licensed {
			continue
		}
		u := byName[f.Use]
		text := f.Ruling.Text + "; by " + strings.Join(f.Ruling.By, ", ")
		out = append(out, &pb.Alarm{
			Name: f.Use, Kind: useAlarmWord(u, f.Ruling), Day: rightsUse(u).Scope.From.First().String(), Party: u.GetUser(), Works: u.GetScope().GetWorks(),
			Text: u.GetTitle() + ": " + strings.TrimSuffix(text, "; by "),
		})
	}
	return out, nil
}

// everything is more records than an archive holds.
const everything = 1 << 40

// useAlarmWord tells a use that nothing stands behind from one that goes beyond a grant.
func useAlarmWord(u *pb.Use, r rights.Ruling) string {
	switch {
	case r.Verdict == rights.Breach:
		return useInBreach
	case u.GetGrant() == "" && !u.GetOwn() && r.Code == rights.Party:
		return useWithoutGrant
	default:
		return useNotLicensed
	}
}
