package api

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/rights"
)

// remarkedGrant adds to a grant just written what somebody should know: near copies of its pictures under exclusivity, and exclusive grants that a public
// licence would make hollow.
func (s *Server) remarkedGrant(g *pb.Grant) (*pb.Grant, error) {
	var remarks []string
	var err error
	switch {
	case g.GetKind() == pb.GrantKind_GRANT_KIND_PUBLIC && g.GetStatus() != pb.GrantStatus_GRANT_STATUS_VOID:
		remarks, err = s.hollowed(g.GetScope())
	case binding(g):
		remarks, err = s.nearRemarks(g)
	}
	if err != nil || len(remarks) == 0 {
		return g, err
	}
	g = proto.Clone(g).(*pb.Grant)
	g.Warnings = remarks
	return g, nil
}

// remarkedPicture adds to a picture just written the exclusive grants that its public licence would make hollow.
func (s *Server) remarkedPicture(p *pb.Picture) (*pb.Picture, error) {
	if !rights.IsPublicLicence(p.GetRightsStatement()) {
		return p, nil
	}
	remarks, err := s.hollowed(&pb.Scope{Works: []string{p.GetName()}})
	if err != nil || len(remarks) == 0 {
		return p, err
	}
	p = proto.Clone(p).(*pb.Picture)
	p.Warnings = remarks
	return p, nil
}

// hollowed lists the live exclusive grants in a scope in which everybody would be allowed.
func (s *Server) hollowed(scope *pb.Scope) ([]string, error) {
	answer, err := s.asked("", rights.NonExclusive, scope, rights.Facts{})
	var out []string
	for _, r := range answer.Reasons {
		out = append(out, r.ID+" shuts others out ("+r.Text+"), but a public licence is for everybody and can't be taken back")
	}
	return out, err
}

// nearRemarks lists the grants that keep others from near copies of a grant's pictures.
func (s *Server) nearRemarks(g *pb.Grant) ([]string, error) {
	facts, err := s.facts(g.GetScope().GetWorks())
	if err != nil {
		return nil, err
	}
	answer, err := s.asked(g.GetLicensee(), archive.RightsExclusivity(g.GetExclusivity()), g.GetScope(), rights.Facts{Near: facts.Near})
	var out []string
	for _, w := range answer.Warnings {
		out = append(out, w.ID+": "+w.Text)
	}
	return out, err
}

// asked puts a scope of a record to the grants. One over all works is asked of the works that grants name.
func (s *Server) asked(by string, excl rights.Exclusivity, scope *pb.Scope, facts rights.Facts) (answer rights.Answer, err error) {
	wanted, err := archive.RightsScope(scope, s.archive.Today())
	if err != nil {
		return answer, err
	}
	err = s.archive.WithBook(func(b *rights.Book, today rights.Day) error {
		if slices.Contains(wanted.Works, "*") {
			wanted.Works = slices.DeleteFunc(wanted.Works, func(w string) bool { return !strings.HasPrefix(w, "-") })
			for work := range b.Works() {
				wanted.Works = append(wanted.Works, work)
			}
			if !slices.ContainsFunc(wanted.Works, func(w string) bool { return !strings.HasPrefix(w, "-") }) {
				return nil
			}
		}
		if wanted.To.IsZero() || wanted.To.Last() >= today { // of a grant that is over there is nothing to say
			answer, err = b.Available(rights.Request{By: by, Exclusivity: excl, Scope: wanted}, facts, today)
		}
		return err
	})
	return answer, archive.InvalidRights(err)
}

// makeGrant makes or tries a grant. Only an owner records one that collides.
func (s *Server) makeGrant(ctx context.Context, req *pb.CreateGrantRequest) (*pb.Grant, error) {
	collide := req.GetAllowCollision()
	if collide && caller(ctx).role != pb.Role_ROLE_OWNER {
		return nil, fmt.Errorf("%w: allow_collision is for owners", errRole)
	}
	switch {
	case req.GetValidateOnly() && collide:
		return s.archive.TryCollidingGrant(ctx, req.GetGrant(), req.GetGrantId())
	case req.GetValidateOnly():
		return s.archive.TryGrant(ctx, req.GetGrant(), req.GetGrantId())
	case collide:
		return s.archive.RecordGrant(ctx, by(ctx, req.GetRequestId()), req.GetGrant(), req.GetGrantId())
	default:
		return s.archive.CreateGrant(ctx, by(ctx, req.GetRequestId()), req.GetGrant(), req.GetGrantId())
	}
}
