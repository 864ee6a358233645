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

// HasParty says whether a party was there.
func (p *Past) HasParty(name string) bool {
	_, err := past[*pb.Party](p, name)
	return err == nil
}

// GrantsTo lists the grants in which a party is licensee or affiliate, by name.
func (a *Archive) GrantsTo(party string) ([]*pb.Grant, error) { return grantsTo(a, party) }

// UsesBy lists the uses by a party, by name.
func (a *Archive) UsesBy(party string) ([]*pb.Use, error) { return usesBy(a, party) }

// GrantsTo is that of Archive, as of the commit.
func (p *Past) GrantsTo(party string) ([]*pb.Grant, error) { return grantsTo(p, party) }

// UsesBy is that of Archive, as of the commit.
func (p *Past) UsesBy(party string) ([]*pb.Use, error) { return usesBy(p, party) }

func grantsTo(from shelf, party string) ([]*pb.Grant, error) {
	names, err := from.Referrers(party, Grants)
	if err != nil {
		return nil, err
	}
	var out []*pb.Grant
	for _, n := range names {
		g, err := from.GetGrant(n)
		if err := ignoreNotFound(err); err != nil {
			return nil, err
		}
		if g.GetLicensee() == party || slices.Contains(g.GetAffiliates(), party) {
			out = append(out, g)
		}
	}
	return out, nil
}

func usesBy(from shelf, party string) ([]*pb.Use, error) {
	names, err := from.Referrers(party, Uses)
	if err != nil {
		return nil, err
	}
	var out []*pb.Use
	for _, n := range names {
		u, err := from.GetUse(n)
		if err := ignoreNotFound(err); err != nil {
			return nil, err
		}
		if u.GetUser() == party {
			out = append(out, u)
		}
	}
	return out, nil
}
