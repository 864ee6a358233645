package archive

import (
	"cmp"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// Verdict says whether a recorded use was licensed, by the grants on record. Copies and uses count against a grant in the order of publication.
func (a *Archive) Verdict(u *pb.Use) (rights.Ruling, error) {
	names := map[string]bool{}
	for _, w := range append(works(u.GetScope()), "*") {
		found, err := a.Referrers(w, Grants)
		if err != nil {
			return rights.Ruling{}, err
		}
		for _, n := range found {
			names[n] = true
		}
	}
	var list []rights.Grant
	for len(names) > 0 {
		more := map[string]bool{}
		for n := range names {
			if slices.ContainsFunc(list, func(g rights.Grant) bool { return g.ID == n }) {
				continue
			}
			g, err := a.GetGrant(n)
			if err != nil {
				if err := ignoreNotFound(err); err != nil {
					return rights.Ruling{}, err
				}
				continue
			}
			rg := rightsGrant(new(checks), g)
			if rg.CopiesDone, rg.UsesDone, err = a.madeBefore(n, u); err != nil {
				return rights.Ruling{}, err
			}
			list = append(list, rg)
			for _, other := range []string{g.GetAmends(), g.GetHead(), g.GetSupersedes()} {
				if other != "" {
					more[other] = true
				}
			}
		}
		names = more
	}
	use := rights.Use{
		ID: u.GetName(), By: u.GetUser(), Copies: u.GetCopies(), Product: productOf(u), Credit: u.GetCreditAsPrinted(), Altered: u.GetAltered(),
	}
	use.Scope = rightsScope(dates{new(checks)}, "scope", u.GetScope())
	if use.Scope.To.IsZero() {
		use.Scope.To = use.Scope.From // a publication happens on its day
	}
	r, err := rights.LicensedUse(use, list, rightsDay(a.Today()))
	return r, InvalidRights(err)
}

// productOf is what a use counts as against the product that a grant may name: the edition if stated, else the title.
func productOf(u *pb.Use) string {
	if u.GetEdition() != "" {
		return u.GetTitle() + ", " + u.GetEdition()
	}
	return u.GetTitle()
}

// madeBefore adds up the copies and uses under a grant that were published before u.
func (a *Archive) madeBefore(grant string, u *pb.Use) (copies, uses int64, err error) {
	names, err := a.Referrers(grant, Uses)
	if err != nil {
		return 0, 0, err
	}
	for _, n := range names {
		other, err := a.GetUse(n)
		if err != nil {
			return 0, 0, err
		}
		order := cmp.Or(strings.Compare(other.GetScope().GetFrom(), u.GetScope().GetFrom()), strings.Compare(n, u.GetName()))
		if order < 0 {
			copies += other.GetCopies()
			uses++
		}
	}
	return copies, uses, nil
}
