package api

import (
	"context"

	"platarium/indexer"
	pb "platarium/proto/platarium/v1"
)

type searchService struct {
	pb.UnimplementedSearchServiceServer
	*Server
}

// SearchPictures finds pictures. A publisher finds plates only, and nothing by words that it may not read.
func (s searchService) SearchPictures(ctx context.Context, req *pb.SearchPicturesRequest) (*pb.SearchPicturesResponse, error) {
	p := caller(ctx)
	if seq := req.GetMinSequence(); seq > 0 {
		if err := s.archive.Journal().WaitFor(ctx, seq); err != nil {
			return nil, err
		}
	}
	q := indexer.Query{Request: req, Standing: s.archive.Standing(), Outsider: p.outsider()}
	if p.outsider() {
		q.Standing = s.archive.OutsiderStanding()
	}
	answer, err := s.archive.Index().Search(ctx, q)
	if err != nil {
		return nil, err
	}
	res := &pb.SearchPicturesResponse{
		NextPageToken: answer.NextPageToken, Total: answer.Total, Facets: answer.Facets, Sequence: answer.Sequence, Remarks: answer.Remarks,
	}
	for _, h := range answer.Hits {
		pic, err := s.archive.GetPicture(h.Name)
		if err != nil || !maySee(p, pic) {
			continue // deleted since the index answered
		}
		res.Hits = append(res.Hits, &pb.Hit{
			Picture: shownPicture(p, pic), Score: h.Score, Reasons: h.Reasons, Highlights: h.Highlights, Rights: s.archive.StandingText(h.Name, p.outsider()), AcceptedName: h.AcceptedName,
		})
	}
	return res, nil
}
