package archive

import (
	"fmt"
	"slices"
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
	a.ledger.book, a.ledger.standing, a.ledger.outside, a.ledger.secret = book, nil, nil, secret
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
		a.ledger.standing, a.ledger.outside = nil, nil
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

// Standing is the rights standing of every picture today; to outsiders it is silent where a confidential grant plays a part. The same value is returned until
// a grant or the day changes.
func (a *Archive) Standing(outsider bool) (*indexer.Standing, error) {
	today := rightsDay(a.Today())
	l := &a.ledger
	pick := func() *indexer.Standing {
		if outsider {
			return l.outside
		}
		return l.standing
	}
	l.mu.RLock()
	s, day := pick(), l.day
	l.mu.RUnlock()
	if s != nil && day == today {
		return s, nil
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.standing == nil || l.day != today {
		var err error
		if l.standing, l.outside, err = l.standings(today); err != nil {
			return nil, err
		}
		l.day = today
	}
	return pick(), nil
}

// standings reckons the standing of every picture, as staff and as outsiders may learn it.
func (l *ledger) standings(today rights.Day) (staff, outside *indexer.Standing, err error) {
	words, shown := map[string]string{}, map[string]string{}
	reckon := func(work string) error {
		full := l.book.Standing(work, today)
		words[work], shown[work] = string(full.State), string(full.State)
		silent, err := l.silent(work, full, today)
		if silent {
			shown[work] = AskStudio
		}
		return err
	}
	const anyOther = "any other" // no work is called so
	for work := range l.book.Works() {
		if err := reckon(work); err != nil {
			return nil, nil, err
		}
	}
	if err := reckon(anyOther); err != nil {
		return nil, nil, err
	}
	return indexer.NewStanding(words, words[anyOther]), indexer.NewStanding(shown, shown[anyOther]), nil
}

// silent says whether a confidential grant plays a part in how a work stands: whether it would stand differently without.
func (l *ledger) silent(work string, full rights.Standing, today rights.Day) (bool, error) {
	if len(l.secret) == 0 {
		return false, nil
	}
	ids := l.book.Touching(work)
	if !slices.ContainsFunc(ids, func(id string) bool { return l.secret[id] }) {
		return false, nil
	}
	var told []rights.Grant
	for _, id := range ids {
		if g, ok := l.book.Grant(id); ok && !l.secret[id] {
			told = append(told, g)
		}
	}
	book, err := rights.NewBook(told)
	if err != nil {
		return false, fmt.Errorf("read the grants over %s: %w", work, err)
	}
	return book.Standing(work, today) != full, nil
}

// AskStudio is the rights standing that outsiders see where a confidential grant plays a part.
const AskStudio = "ask the studio"

// StandingText says in a line how a picture stands today: to staff, or as outsiders may learn it.
func (a *Archive) StandingText(picture string, outsider bool) (string, error) {
	today := rightsDay(a.Today())
	a.ledger.mu.RLock()
	defer a.ledger.mu.RUnlock()
	full := a.ledger.book.Standing(picture, today)
	if outsider {
		if silent, err := a.ledger.silent(picture, full, today); err != nil || silent {
			return AskStudio, err
		}
	}
	return full.Text, nil
}

// Secret says whether any of some grants is confidential.
func (a *Archive) Secret(grants []string) bool {
	a.ledger.mu.RLock()
	defer a.ledger.mu.RUnlock()
	return slices.ContainsFunc(grants, func(g string) bool { return a.ledger.secret[g] })
}

func rightsDay(t time.Time) rights.Day { return rights.DayOf(t.Year(), t.Month(), t.Day()) }
