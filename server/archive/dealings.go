package archive

import (
	"slices"

	pb "platarium/proto/platarium/v1"
)

// HasParty says whether a party is there.
func (a *Archive) HasParty(name string) bool {
	_, err := get[*pb.Party](a, name)
	return err == nil
}

// GrantsTo lists the grants in which a party is licensee or affiliate, by name.
func (a *Archive) GrantsTo(party string) ([]*pb.Grant, error) {
	names, err := a.Referrers(party, Grants)
	if err != nil {
		return nil, err
	}
	var out []*pb.Grant
	for _, n := range names {
		g, err := a.GetGrant(n)
		if err := ignoreNotFound(err); err != nil {
			return nil, err
		}
		if g.GetLicensee() == party || slices.Contains(g.GetAffiliates(), party) {
			out = append(out, g)
		}
	}
	return out, nil
}

// UsesBy lists the uses by a party, by name.
func (a *Archive) UsesBy(party string) ([]*pb.Use, error) {
	names, err := a.Referrers(party, Uses)
	if err != nil {
		return nil, err
	}
	var out []*pb.Use
	for _, n := range names {
		u, err := a.GetUse(n)
		if err := ignoreNotFound(err); err != nil {
			return nil, err
		}
		if u.GetUser() == party {
			out = append(out, u)
		}
	}
	return out, nil
}
