package api

import (
	"context"
	"errors"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/rights"
)

type licensingService struct {
	pb.UnimplementedLicensingServiceServer
	*Server
}

func (s licensingService) GetParty(ctx context.Context, req *pb.GetPartyRequest) (*pb.Party, error) {
	if err := wantName("name", req.GetName(), archive.Parties); err != nil {
		return nil, err
	}
	return s.archive.GetParty(ctx, req.GetName())
}

func (s licensingService) ListParties(ctx context.Context, req *pb.ListPartiesRequest) (*pb.ListPartiesResponse, error) {
	page, err := pageOf(req, caller(ctx))
	if err != nil {
		return nil, err
	}
	found, more, err := s.archive.ListParties(page.after, page.size)
	if err != nil {
		return nil, err
	}
	res := &pb.ListPartiesResponse{Parties: found}
	if len(found) > 0 {
		res.NextPageToken = page.next(found[len(found)-1].GetName(), more)
	}
	return res, nil
}

func (s licensingService) CreateParty(ctx context.Context, req *pb.CreatePartyRequest) (*pb.Party, error) {
	if err := wantRecord("party", req.GetParty() == nil); err != nil {
		return nil, err
	}
	return s.archive.CreateParty(ctx, by(ctx, req.GetRequestId()), req.GetParty(), req.GetPartyId())
}

func (s licensingService) UpdateParty(ctx context.Context, req *pb.UpdatePartyRequest) (*pb.Party, error) {
	if err := wantName("party.name", req.GetParty().GetName(), archive.Parties); err != nil {
		return nil, err
	}
	return s.archive.UpdateParty(ctx, by(ctx, req.GetRequestId()), req.GetParty(), req.GetUpdateMask().GetPaths())
}

func (s licensingService) DeleteParty(ctx context.Context, req *pb.DeletePartyRequest) (*pb.DeletePartyResponse, error) {
	if err := wantName("name", req.GetName(), archive.Parties); err != nil {
		return nil, err
	}
	return &pb.DeletePartyResponse{}, s.archive.DeleteParty(ctx, by(ctx, req.GetRequestId()), req.GetName(), req.GetEtag())
}

func (s licensingService) ForgetParty(ctx context.Context, req *pb.ForgetPartyRequest) (*pb.Party, error) {
	if err := wantName("name", req.GetName(), archive.Parties); err != nil {
		return nil, err
	}
	return s.archive.ForgetParty(ctx, by(ctx, req.GetRequestId()), req.GetName())
}

// GetGrant shows a publisher only grants that it is a party to.
func (s licensingService) GetGrant(ctx context.Context, req *pb.GetGrantRequest) (*pb.Grant, error) {
	if err := wantName("name", req.GetName(), archive.Grants); err != nil {
		return nil, err
	}
	p := caller(ctx)
	g, err := s.archive.GetGrant(req.GetName())
	if err != nil {
		return nil, err
	}
	if p.outsider() && !isParty(p, g) {
		return nil, notFound(req.GetName())
	}
	return s.shownGrant(p, g), nil
}

func (s licensingService) ListGrants(ctx context.Context, req *pb.ListGrantsRequest) (*pb.ListGrantsResponse, error) {
	p := caller(ctx)
	page, err := pageOf(req, p)
	if err != nil {
		return nil, err
	}
	if err := wantOptional("picture", req.GetPicture(), archive.Pictures); err != nil {
		return nil, err
	}
	if err := wantOptional("party", req.GetParty(), archive.Parties); err != nil {
		return nil, err
	}
	found, more, err := s.archive.ListGrants(page.after, page.size, func(g *pb.Grant) bool {
		return (!p.outsider() || isParty(p, g)) && (req.GetPicture() == "" || touches(g.GetScope(), req.GetPicture())) &&
			(req.GetParty() == "" || g.GetLicensee() == req.GetParty() || slices.Contains(g.GetAffiliates(), req.GetParty()))
	})
	if err != nil {
		return nil, err
	}
	res := &pb.ListGrantsResponse{}
	for _, g := range found {
		res.Grants = append(res.Grants, s.shownGrant(p, g))
		res.NextPageToken = page.next(g.GetName(), more)
	}
	return res, nil
}

func wantOptional(fieldName, name, collection string) error {
	if name == "" {
		return nil
	}
	return wantName(fieldName, name, collection)
}

// touches says whether a scope covers a picture or a part of it.
func touches(s *pb.Scope, picture string) bool {
	covered := false
	for _, w := range s.GetWorks() {
		taken, isTaken := strings.CutPrefix(w, "-")
		name, _, parted := strings.Cut(taken, "#")
		switch {
		case isTaken && name == picture && !parted:
			return false
		case !isTaken && (name == picture || name == "*"):
			covered = true
		}
	}
	return covered
}

func (s licensingService) CreateGrant(ctx context.Context, req *pb.CreateGrantRequest) (*pb.Grant, error) {
	if err := wantRecord("grant", req.GetGrant() == nil); err != nil {
		return nil, err
	}
	g, err := s.makeGrant(ctx, req)
	if err != nil {
		return nil, err
	}
	return s.remarkedGrant(g)
}

func (s licensingService) UpdateGrant(ctx context.Context, req *pb.UpdateGrantRequest) (*pb.Grant, error) {
	if err := wantName("grant.name", req.GetGrant().GetName(), archive.Grants); err != nil {
		return nil, err
	}
	g, err := s.archive.UpdateGrant(ctx, by(ctx, req.GetRequestId()), req.GetGrant(), req.GetUpdateMask().GetPaths())
	if err != nil {
		return nil, err
	}
	return s.remarkedGrant(g)
}

func (s licensingService) EndGrant(ctx context.Context, req *pb.EndGrantRequest) (*pb.Grant, error) {
	if err := wantName("name", req.GetName(), archive.Grants); err != nil {
		return nil, err
	}
	return s.archive.EndGrant(ctx, by(ctx, req.GetRequestId()), req.GetName(), req.GetEndedOn(), req.GetReason())
}

func (s licensingService) CreateUse(ctx context.Context, req *pb.CreateUseRequest) (*pb.CreateUseResponse, error) {
	if err := wantRecord("use", req.GetUse() == nil); err != nil {
		return nil, err
	}
	u, err := s.archive.CreateUse(ctx, by(ctx, req.GetRequestId()), req.GetUse(), req.GetUseId())
	if err != nil {
		return nil, err
	}
	ruling, err := s.archive.Verdict(u)
	if err != nil {
		return nil, err
	}
	return &pb.CreateUseResponse{Use: u, Verdict: verdictWord(ruling.Verdict), Explanations: explain(ruling)}, nil
}

func verdictWord(v rights.Verdict) string {
	return strings.ToLower(strings.ReplaceAll(string(v), "_", " "))
}

func explain(r rights.Ruling) []string {
	var out []string
	if r.Text != "" {
		out = append(out, r.Text)
	}
	if len(r.By) > 0 {
		out = append(out, "by "+strings.Join(r.By, ", "))
	}
	return out
}

// GetUse shows a publisher only its own uses.
func (s licensingService) GetUse(ctx context.Context, req *pb.GetUseRequest) (*pb.Use, error) {
	if err := wantName("name", req.GetName(), archive.Uses); err != nil {
		return nil, err
	}
	p := caller(ctx)
	u, err := s.archive.GetUse(req.GetName())
	if err != nil {
		return nil, err
	}
	if p.outsider() && u.GetUser() != p.party {
		return nil, notFound(req.GetName())
	}
	return s.shownUse(p, u), nil
}

func (s licensingService) ListUses(ctx context.Context, req *pb.ListUsesRequest) (*pb.ListUsesResponse, error) {
	p := caller(ctx)
	page, err := pageOf(req, p)
	if err != nil {
		return nil, err
	}
	err = errors.Join(wantOptional("picture", req.GetPicture(), archive.Pictures), wantOptional("party", req.GetParty(), archive.Parties), wantOptional("grant", req.GetGrant(), archive.Grants))
	if err != nil {
		return nil, err
	}
	found, more, err := s.archive.ListUses(page.after, page.size, func(u *pb.Use) bool {
		return (!p.outsider() || u.GetUser() == p.party) && (req.GetPicture() == "" || touches(u.GetScope(), req.GetPicture())) &&
			(req.GetParty() == "" || u.GetUser() == req.GetParty()) && (req.GetGrant() == "" || u.GetGrant() == req.GetGrant())
	})
	if err != nil {
		return nil, err
	}
	res := &pb.ListUsesResponse{}
	for _, u := range found {
		res.Uses = append(res.Uses, s.shownUse(p, u))
		res.NextPageToken = page.next(u.GetName(), more)
	}
	return res, nil
}

// CheckAvailability answers for a publisher's own party only, and names grants only to those who may know them.
func (s licensingService) CheckAvailability(ctx context.Context, req *pb.CheckAvailabilityRequest) (*pb.CheckAvailabilityResponse, error) {
	p := caller(ctx)
	requester := req.GetRequester()
	if p.outsider() {
		if requester != "" && requester != p.party {
			return nil, field("requester", "found %q; a publisher's key asks for its own party only", requester)
		}
		requester = p.party
	}
	if requester != "" {
		if err := wantName("requester", requester, archive.Parties); err != nil {
			return nil, err
		}
	}
	for i, w := range req.GetScope().GetWorks() {
		name, _, _ := strings.Cut(w, "#")
		if _, err := s.visiblePicture(p, name); err != nil {
			return nil, inField(err, "scope.works", i)
		}
	}
	scope, err := archive.RightsScope(req.GetScope(), s.archive.Today())
	if err != nil {
		return nil, err
	}
	answer, err := s.available(req, requester, scope)
	if err != nil {
		return nil, archive.InvalidRights(err)
	}
	return s.availability(p, answer), nil
}

func (s licensingService) available(req *pb.CheckAvailabilityRequest, requester string, scope rights.Scope) (answer rights.Answer, err error) {
	facts, err := s.facts(scope.Works)
	if err != nil {
		return answer, err
	}
	err = s.archive.WithBook(func(b *rights.Book, today rights.Day) error {
		answer, err = b.Available(rights.Request{By: requester, Exclusivity: archive.RightsExclusivity(req.GetExclusivity()), Scope: scope}, facts, today)
		return err
	})
	return minded(answer), err
}

// askFirst is the answer where the studio can't say by the record alone, or doesn't wish to.
const askFirst = "the studio has to be asked"

// availability puts an answer into words. An outsider learns the verdict, what is free, and grounds without names; of others' grants nothing else.
func (s licensingService) availability(p principal, a rights.Answer) *pb.CheckAvailabilityResponse {
	res := &pb.CheckAvailabilityResponse{Answer: strings.ToLower(string(a.Verdict)), Caution: rights.Caution}
	if a.FreeText != "" {
		res.Free = []string{a.FreeText}
	}
	if !p.outsider() {
		res.Code = string(a.Code)
		res.Grants = slices.DeleteFunc(slices.Clone(a.By), func(id string) bool { return !strings.HasPrefix(id, archive.Grants+"/") })
		for _, r := range append(slices.Clone(a.Reasons), a.Warnings...) {
			res.Explanations = append(res.Explanations, strings.TrimSpace(r.ID+": "+r.Text))
		}
		return res
	}
	if s.archive.Secret(a.By) { // it blocks, and nothing of it is shown
		return &pb.CheckAvailabilityResponse{Answer: strings.ToLower(string(rights.Check)), Caution: rights.Caution, Explanations: []string{askFirst}}
	}
	switch a.Verdict {
	case rights.Yes:
		res.Explanations = []string{"free as far as the record goes; ask the studio for an offer"}
	case rights.Part:
		res.Explanations = []string{"free in part; ask the studio about the rest"}
	case rights.Check:
		res.Explanations = []string{askFirst}
	default:
		res.Explanations = []string{"not free"}
	}
	return res
}
