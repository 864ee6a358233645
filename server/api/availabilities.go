package api

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
)

// maxAsked is how many pictures one request may ask about: what an outsider may ask at once.
const maxAsked = outsiderBurst

// CheckAvailabilities answers for each picture as CheckAvailability would. What is wrong with the question refuses it whole; what is wrong with one picture is
// that picture's problem.
func (s licensingService) CheckAvailabilities(req *pb.CheckAvailabilitiesRequest, stream pb.LicensingService_CheckAvailabilitiesServer) error {
	ctx := stream.Context()
	p := caller(ctx)
	if err := s.checkQuestion(p, req); err != nil {
		return err
	}
	if p.outsider() && !s.limits.take(p.key, len(req.GetWorks())) {
		return errTooOften
	}
	for _, w := range req.GetWorks() {
		if err := ctx.Err(); err != nil {
			return err
		}
		one := &pb.CheckAvailabilityRequest{Requester: req.GetRequester(), Exclusivity: req.GetExclusivity(), Scope: scopeOf(req.GetScope(), []string{w})}
		res := &pb.CheckAvailabilitiesResponse{Work: w}
		answer, err := s.CheckAvailability(ctx, one)
		switch {
		case err == nil:
			res.Availability = answer
		case internal(statusOf(err)):
			return fmt.Errorf("answer for %s: %w", w, err)
		default:
			res.Problem = problemOf(err)
		}
		if err := stream.Send(res); err != nil {
			return err
		}
	}
	return nil
}

// checkQuestion verifies what is the same for all pictures.
func (s licensingService) checkQuestion(p principal, req *pb.CheckAvailabilitiesRequest) error {
	works := req.GetWorks()
	if len(works) == 0 || len(works) > maxAsked {
		return field("works", "found %d pictures; want 1 to %d", len(works), maxAsked)
	}
	for i, w := range works {
		name, _, _ := strings.Cut(w, "#")
		if err := wantName(fmt.Sprintf("works[%d]", i), name, archive.Pictures); err != nil {
			return err
		}
		if slices.Contains(works[:i], w) {
			return field(fmt.Sprintf("works[%d]", i), "found %q a second time; want each picture once", w)
		}
	}
	if len(req.GetScope().GetWorks()) > 0 {
		return field("scope.works", "is given; want the pictures in works")
	}
	if p.outsider() && req.GetRequester() != "" && req.GetRequester() != p.party {
		return field("requester", "found %q; a publisher's key asks for its own party only", req.GetRequester())
	}
	if err := wantOptional("requester", req.GetRequester(), archive.Parties); err != nil {
		return err
	}
	_, err := archive.RightsScope(scopeOf(req.GetScope(), works), s.archive.Today())
	return err
}

// scopeOf is a scope over other works.
func scopeOf(scope *pb.Scope, works []string) *pb.Scope {
	out := &pb.Scope{}
	if scope != nil {
		out = proto.Clone(scope).(*pb.Scope)
	}
	out.Works = works
	return out
}
