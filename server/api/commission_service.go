package api

import (
	"context"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/commission"
)

type commissionService struct {
	pb.UnimplementedCommissionServiceServer
	*Server
}

func (s commissionService) GetBrief(_ context.Context, req *pb.GetBriefRequest) (*pb.Brief, error) {
	if err := wantName("name", req.GetName(), archive.Briefs); err != nil {
		return nil, err
	}
	return s.archive.GetBrief(req.GetName())
}

func (s commissionService) ListBriefs(ctx context.Context, req *pb.ListBriefsRequest) (*pb.ListBriefsResponse, error) {
	page, err := pageOf(req, caller(ctx))
	if err != nil {
		return nil, err
	}
	found, more, err := s.archive.ListBriefs(page.after, page.size)
	if err != nil {
		return nil, err
	}
	res := &pb.ListBriefsResponse{Briefs: found}
	if len(found) > 0 {
		res.NextPageToken = page.next(found[len(found)-1].GetName(), more)
	}
	return res, nil
}

func (s commissionService) CreateBrief(ctx context.Context, req *pb.CreateBriefRequest) (*pb.Brief, error) {
	if err := wantRecord("brief", req.GetBrief() == nil); err != nil {
		return nil, err
	}
	return s.archive.CreateBrief(ctx, by(ctx, req.GetRequestId()), req.GetBrief(), req.GetBriefId())
}

func (s commissionService) UpdateBrief(ctx context.Context, req *pb.UpdateBriefRequest) (*pb.Brief, error) {
	if err := wantName("brief.name", req.GetBrief().GetName(), archive.Briefs); err != nil {
		return nil, err
	}
	return s.archive.UpdateBrief(ctx, by(ctx, req.GetRequestId()), req.GetBrief(), req.GetUpdateMask().GetPaths())
}

func (s commissionService) DeleteBrief(ctx context.Context, req *pb.DeleteBriefRequest) (*pb.DeleteBriefResponse, error) {
	if err := wantName("name", req.GetName(), archive.Briefs); err != nil {
		return nil, err
	}
	return &pb.DeleteBriefResponse{}, s.archive.DeleteBrief(ctx, by(ctx, req.GetRequestId()), req.GetName(), req.GetEtag())
}

func (s commissionService) DeliverBrief(ctx context.Context, req *pb.DeliverBriefRequest) (*pb.Brief, error) {
	if err := wantName("name", req.GetName(), archive.Briefs); err != nil {
		return nil, err
	}
	if err := wantName("plate", req.GetPlate(), archive.Pictures); err != nil {
		return nil, err
	}
	return s.archive.DeliverBrief(ctx, by(ctx, req.GetRequestId()), req)
}

func (s commissionService) GetChecklist(_ context.Context, req *pb.GetChecklistRequest) (*pb.Checklist, error) {
	if req.GetTaxon() == "" {
		return nil, field("taxon", "is missing; want taxa/{id} or a scientific name")
	}
	return s.planner().Checklist(req.GetTaxon())
}

func (s commissionService) MakePlan(ctx context.Context, req *pb.MakePlanRequest) (*pb.Plan, error) {
	if err := wantBrief(req); err != nil {
		return nil, err
	}
	return s.planner().MakePlan(ctx, req)
}

func (s commissionService) CheckPicture(_ context.Context, req *pb.CheckPictureRequest) (*pb.PictureCheck, error) {
	if err := wantName("name", req.GetName(), archive.Pictures); err != nil {
		return nil, err
	}
	return s.planner().CheckPicture(req.GetName())
}

func (s commissionService) planner() *commission.Planner {
	return commission.New(s.archive, s.archive.Index())
}

// mostCandidates is the largest number of candidates for each structure of a plan.
const mostCandidates = 20

// wantBrief verifies that a plan is asked for one brief, kept or not.
func wantBrief(req *pb.MakePlanRequest) error {
	switch n := req.GetCandidates(); {
	case n < 0 || n > mostCandidates:
		return field("candidates", "found %d; want 1 to %d, or 0 for 5", n, mostCandidates)
	case req.GetBrief() == "" && req.GetDraft() == nil:
		return field("brief", "is missing; want briefs/{id}, or a draft")
	case req.GetBrief() != "" && req.GetDraft() != nil:
		return field("draft", "stands beside a brief; want one of them")
	case req.GetBrief() != "":
		return wantName("brief", req.GetBrief(), archive.Briefs)
	}
	return nil
}
