package archive

import (
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// shelf is where grants and uses are read from: the archive as it stands, or as it stood after a commit.
type shelf interface {
	// Referrers lists the records of a collection that name target, in order.
	Referrers(target, collection string) ([]string, error)
	// GetGrant and GetUse give a record, or ErrNotFound.
	GetGrant(name string) (*pb.Grant, error)
	GetUse(name string) (*pb.Use, error)
}

// GrantsOver lists the grants over a picture or a part of it by name, and after them those over everything.
func (a *Archive) GrantsOver(picture string) ([]*pb.Grant, error) { return grantsOver(a, picture) }

// UsesOf lists the uses of a picture or a part of it, by name.
func (a *Archive) UsesOf(picture string) ([]*pb.Use, error) { return usesNaming(a, picture) }

// UsesUnder lists the uses that are said to rest on a grant, by name.
func (a *Archive) UsesUnder(grant string) ([]*pb.Use, error) { return usesNaming(a, grant) }

// GrantsBesides lists the grants that amend or replace a grant or hang on it, by name.
func (a *Archive) GrantsBesides(grant string) ([]*pb.Grant, error) { return grantsBesides(a, grant) }

// GrantsOver is that of Archive, as of the commit.
func (p *Past) GrantsOver(picture string) ([]*pb.Grant, error) { return grantsOver(p, picture) }

// UsesOf is that of Archive, as of the commit.
func (p *Past) UsesOf(picture string) ([]*pb.Use, error) { return usesNaming(p, picture) }

// UsesUnder is that of Archive, as of the commit.
func (p *Past) UsesUnder(grant string) ([]*pb.Use, error) { return usesNaming(p, grant) }

// GrantsBesides is that of Archive, as of the commit.
func (p *Past) GrantsBesides(grant string) ([]*pb.Grant, error) { return grantsBesides(p, grant) }

// VerdictOn is that of Archive, by the grants and uses as of the commit.
func (p *Past) VerdictOn(u *pb.Use, day time.Time) (rights.Ruling, error) {
	return verdictOn(p, u, day)
}

func grantsOver(from shelf, picture string) ([]*pb.Grant, error) {
	var out []*pb.Grant
	seen := map[string]bool{}
	for _, work := range []string{picture, "*"} {
		names, err := from.Referrers(work, Grants)
		if err != nil {
			return nil, err
		}
		for _, n := range names {
			if seen[n] {
				continue
			}
			seen[n] = true
			g, err := from.GetGrant(n)
			if err != nil {
				return nil, err
			}
			out = append(out, g)
		}
	}
	return out, nil
}

func usesNaming(from shelf, target string) ([]*pb.Use, error) {
	names, err := from.Referrers(target, Uses)
	if err != nil {
		return nil, err
	}
	out := make([]*pb.Use, 0, len(names))
	for _, n := range names {
		u, err := from.GetUse(n)
		if err != nil {
			return nil, err
		}
		out = append(out, u)
	}
	return out, nil
}

func grantsBesides(from shelf, grant string) ([]*pb.Grant, error) {
	names, err := from.Referrers(grant, Grants)
	if err != nil {
		return nil, err
	}
	var out []*pb.Grant
	for _, n := range names {
		g, err := from.GetGrant(n)
		if err != nil {
			return nil, err
		}
		if g.GetAmends() == grant || g.GetSupersedes() == grant || g.GetHead() == grant {
			out = append(out, g)
		}
	}
	return out, nil
}
