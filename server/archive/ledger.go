package archive

import (
	"fmt"
	"strings"
	"sync"
	"time"

	"platarium/indexer"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// ledger keeps all grants ready to answer questions, and the rights standing of every picture on one day.
type ledger struct {
	mu       sync.RWMutex
	book     *rights.Book
	standing *indexer.Standing // nil when it must be made anew
	outside  *indexer.Standing // the same as outsiders may learn it
	day      rights.Day        // that standing is for
	secret   map[string]bool   // confidential grants
}

// reloadLedger reads all grants and uses anew.
func (a *Archive) reloadLedger() error {
	const all = 1 << 40
	grants, _, err := a.ListGrants("", all, nil)
	if err != nil {
		return err
	}
	uses, _, err := a.ListUses("", all, nil)
	if err != nil {
		return err
	}
	copies, count := map[string]int64{}, map[string]int64{}
	for _, u := range uses {
		copies[u.GetGrant()] += u.GetCopies()
		count[u.GetGrant()]++
	}
	list, secret := make([]rights.Grant, 0, len(grants)), map[string]bool{}
	for _, g := range grants {
		if g.GetDisclosure() == pb.Disclosure_DISCLOSURE_CONFIDENTIAL {
			secret[g.GetName()] = true
		}
		rg := rightsGrant(new(checks), g)
		rg.CopiesDone, rg.UsesDone = copies[g.GetName()], count[g.GetName()]
		list = append(list, rg)
	}
	book, err := rights.NewBook(list)
	if err != nil {
		return fmt.Errorf("read the grants: %w", err)
	}
	a.ledger.mu.Lock()
	defer a.ledger.mu.Unlock()
	a.ledger.book, a.ledger.standing, a.ledger.secret = book, nil, secret
	return nil
}

// enterGrants brings the ledger up to a commit that the record store holds.
func (a *Archive) enterGrants(c *pb.Commit) error {
	touched := map[string]bool{}
	for _, t := range c.GetTransactions() {
		for _, change := range t.GetChanges() {
			switch collection, _, _ := strings.Cut(change.GetName(), "/"); collection {
			case Grants:
				touched[change.GetName()] = true
			case Uses:
				touched[change.GetUse().GetGrant()] = true
			}
		}
	}
	delete(touched, "")
	for name := range touched {
		g, secret, err := a.countedGrant(name)
		if err != nil {
			return err
		}
		a.ledger.mu.Lock()
		delete(a.ledger.secret, name)
		if secret {
			a.ledger.secret[name] = true
		}
		if g == nil {
			a.ledger.book.Remove(name)
		} else {
			err = a.ledger.book.Put(*g)
		}
		a.ledger.standing = nil
		a.ledger.mu.Unlock()
		if err != nil {
			return fmt.Errorf("enter %s into the ledger: %w", name, err)
		}
	}
	return nil
}

// countedGrant reads a grant with the copies and uses made under it so far, and whether it is confidential; nil if it is gone.
func (a *Archive) countedGrant(name string) (_ *rights.Grant, secret bool, _ error) {
	g, err := a.GetGrant(name)
	if err != nil {
		return nil, false, ignoreNotFound(err)
	}
	out := rightsGrant(new(checks), g)
	names, err := a.Referrers(name, Uses)
	if err != nil {
		return nil, false, err
	}
	for _, n := range names {
		u, err := a.GetUse(n)
		if err != nil {
			return nil, false, err
		}
		out.CopiesDone += u.GetCopies()
		out.UsesDone++
	}
	return &out, g.GetDisclosure() == pb.Disclosure_DISCLOSURE_CONFIDENTIAL, nil
}

// WithBook lets f ask the grants; it must not keep the book.
func (a *Archive) WithBook(f func(*rights.Book, rights.Day) error) error {
	a.ledger.mu.RLock()
	defer a.ledger.mu.RUnlock()
	return f(a.ledger.book, rightsDay(a.Today()))
}

// Standing is the rights standing of every picture today. The same value is returned until a grant or the day changes.
func (a *Archive) Standing() *indexer.Standing {
	today := rightsDay(a.Today())
	a.ledger.mu.RLock()
	s, day := a.ledger.standing, a.ledger.day
	a.ledger.mu.RUnlock()
	if s != nil && day == today {
		return s
	}
	a.ledger.mu.Lock()
	defer a.ledger.mu.Unlock()
	if a.ledger.standing == nil || a.ledger.day != today {
		a.ledger.day = today
		a.ledger.standing, a.ledger.outside = a.ledger.standings(today)
	}
	return a.ledger.standing
}

// standings reckons the standing of every picture, as staff and as outsiders may learn it.
func (l *ledger) standings(today rights.Day) (staff, outside *indexer.Standing) {
	words, shown := map[string]string{}, map[string]string{}
	for work, grants := range l.book.Works() {
		words[work] = string(l.book.Standing(work, today).State)
		shown[work] = words[work]
		for _, g := range grants {
			if l.secret[g] {
				shown[work] = AskStudio
			}
		}
	}
	free := string(l.book.Standing("", today).State)
	return indexer.NewStanding(words, free), indexer.NewStanding(shown, free)
}

// OutsiderStanding is Standing as others may learn it: silent where a confidential grant plays a part.
func (a *Archive) OutsiderStanding() *indexer.Standing {
	a.Standing() // makes both
	a.ledger.mu.RLock()
	defer a.ledger.mu.RUnlock()
	return a.ledger.outside
}

// AskStudio is the rights standing that outsiders see where a confidential grant plays a part.
const AskStudio = "ask the studio"

// StandingText says in a line how a picture stands today: to staff, or as outsiders may learn it.
func (a *Archive) StandingText(picture string, outsider bool) string {
	if outsider && a.OutsiderStanding().Of(picture) == AskStudio {
		return AskStudio
	}
	a.ledger.mu.RLock()
	defer a.ledger.mu.RUnlock()
	return a.ledger.book.Standing(picture, rightsDay(a.Today())).Text
}

func rightsDay(t time.Time) rights.Day { return rights.DayOf(t.Year(), t.Month(), t.Day()) }

// GrantsOver lists the grants over a picture or a part of it, those over everything included, by name.
func (a *Archive) GrantsOver(picture string) ([]*pb.Grant, error) {
	var out []*pb.Grant
	for _, work := range []string{picture, "*"} {
		names, err := a.Referrers(work, Grants)
		if err != nil {
			return nil, err
		}
		for _, n := range names {
			g, err := a.GetGrant(n)
			if err != nil {
				return nil, err
			}
			out = append(out, g)
		}
	}
	return out, nil
}

// UsesOf lists the uses of a picture or a part of it, by name.
func (a *Archive) UsesOf(picture string) ([]*pb.Use, error) {
	names, err := a.Referrers(picture, Uses)
	if err != nil {
		return nil, err
	}
	out := make([]*pb.Use, 0, len(names))
	for _, n := range names {
		u, err := a.GetUse(n)
		if err != nil {
			return nil, err
		}
		out = append(out, u)
	}
	return out, nil
}

// Facts gathers what stands beside the grants of some works: sources outside the archive that a picture was copied from.
func (a *Archive) Facts(list []string) (rights.Facts, error) {
	var f rights.Facts
	for _, w := range list {
		name, _, _ := strings.Cut(strings.TrimPrefix(w, "-"), "#")
		p, err := a.GetPicture(name)
		if err != nil {
			if err := ignoreNotFound(err); err != nil {
				return f, err
			}
			continue
		}
		for i, d := range p.GetDerivedFrom() {
			if d.GetSource() == "" {
				continue
			}
			f.Sources = append(f.Sources, rights.Source{
				ID: fmt.Sprintf("%s source %d", name, i+1), Kind: d.GetSource(), Works: []string{name}, FactsOnly: d.GetRole() == pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE,
			})
		}
	}
	return f, nil
}
