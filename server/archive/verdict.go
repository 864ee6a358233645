package archive

import (
	"fmt"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// Verdict says whether a recorded use was licensed, by the grants on record. Copies and uses count against a grant in the order of publication.
func (a *Archive) Verdict(u *pb.Use) (rights.Ruling, error) { return a.VerdictOn(u, a.Today()) }

// VerdictOn is Verdict as of a calendar day.
func (a *Archive) VerdictOn(u *pb.Use, day time.Time) (rights.Ruling, error) {
	return verdictOn(a, u, day)
}

func verdictOn(from shelf, u *pb.Use, day time.Time) (rights.Ruling, error) {
	grants, err := grantsAround(from, u)
	if err != nil {
		return rights.Ruling{}, err
	}
	uses, err := usesAround(from, u, grants)
	if err != nil {
		return rights.Ruling{}, err
	}
	book, err := rights.NewBook(grants)
	if err != nil {
		return rights.Ruling{}, fmt.Errorf("read the grants around %s: %w", u.GetName(), err)
	}
	findings, err := book.Audit(uses, rightsDay(day))
	if err != nil {
		return rights.Ruling{}, InvalidRights(err)
	}
	for _, f := range findings {
		if f.Use == u.GetName() {
			return f.Ruling, nil
		}
	}
	return rights.Ruling{}, fmt.Errorf("%s was not judged", u.GetName())
}

// grantsAround gathers the grants over the works of a use, with what they amend, replace or hang on.
func grantsAround(from shelf, u *pb.Use) ([]rights.Grant, error) {
	queue := []string{u.GetGrant()}
	for _, w := range append(works(u.GetScope()), "*") {
		found, err := from.Referrers(w, Grants)
		if err != nil {
			return nil, err
		}
		queue = append(queue, found...)
	}
	var list []rights.Grant
	seen := map[string]bool{"": true}
	for len(queue) > 0 {
		name := queue[0]
		queue = queue[1:]
		if seen[name] {
			continue
		}
		seen[name] = true
		g, err := from.GetGrant(name)
		if err := ignoreNotFound(err); err != nil {
			return nil, err
		}
		if g == nil {
			continue
		}
		list = append(list, rightsGrant(new(checks), g))
		queue = append(queue, g.GetAmends(), g.GetHead(), g.GetSupersedes())
	}
	return list, nil
}

// usesAround gathers the uses that may have used up what the grants allow: those of the same works, and those said to rest on one of the grants.
func usesAround(from shelf, u *pb.Use, grants []rights.Grant) ([]rights.Use, error) {
	targets := works(u.GetScope())
	for i := range grants {
		targets = append(targets, grants[i].ID)
	}
	list, seen := []rights.Use{rightsUse(u)}, map[string]bool{u.GetName(): true}
	for _, target := range targets {
		names, err := from.Referrers(target, Uses)
		if err != nil {
			return nil, err
		}
		for _, n := range names {
			if seen[n] {
				continue
			}
			seen[n] = true
			other, err := from.GetUse(n)
			if err != nil {
				return nil, err
			}
			list = append(list, rightsUse(other))
		}
	}
	return list, nil
}

// rightsUse converts a use record that has been verified.
func rightsUse(u *pb.Use) rights.Use {
	use := rights.Use{
		ID: u.GetName(), By: u.GetUser(), Copies: u.GetCopies(), Product: productOf(u), Credit: u.GetCreditAsPrinted(), Altered: u.GetAltered(), Grant: u.GetGrant(),
	}
	use.Scope = rightsScope(dates{new(checks)}, "scope", u.GetScope())
	if u.GetOwn() {
		use.By = rights.Studio // one without a last day goes on
	} else if use.Scope.To.IsZero() {
		use.Scope.To = use.Scope.From // a publication happens on its day
	}
	return use
}

// productOf is what a use counts as against the product that a grant may name: the edition if stated, else the title.
func productOf(u *pb.Use) string {
	if u.GetEdition() != "" {
		return u.GetTitle() + ", " + u.GetEdition()
	}
	return u.GetTitle()
}
