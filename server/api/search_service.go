package api

import (
	"context"
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	"platarium/indexer"
	pb "platarium/proto/platarium/v1"
)

type searchService struct {
	pb.UnimplementedSearchServiceServer
	*Server
}

// longestWait is how long a search waits for a commit that isn't there.
const longestWait = 20 * time.Second

// SearchPictures finds pictures. A publisher finds plates only, and nothing by words that it may not read.
func (s searchService) SearchPictures(ctx context.Context, req *pb.SearchPicturesRequest) (*pb.SearchPicturesResponse, error) {
	p := caller(ctx)
	if seq := req.GetMinSequence(); seq > 0 {
		wait, cancel := context.WithTimeout(ctx, longestWait)
		err := s.archive.Journal().WaitFor(wait, seq)
		cancel()
		if err != nil {
			return nil, fmt.Errorf("wait for commit %d: %w", seq, err)
		}
	}
	if p.outsider() {
		var err error
		if req, err = outsiderQuestion(req); err != nil {
			return nil, err
		}
	}
	standing, err := s.archive.Standing(p.outsider())
	if err != nil {
		return nil, err
	}
	answer, err := s.archive.Index().Search(ctx, indexer.Query{Request: req, Standing: standing, Outsider: p.outsider()})
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
		rights, err := s.archive.StandingText(h.Name, p.outsider())
		if err != nil {
			return nil, err
		}
		res.Hits = append(res.Hits, &pb.Hit{
			Picture: shownPicture(p, pic), Score: h.Score, Reasons: h.Reasons, Highlights: h.Highlights, Rights: rights, AcceptedName: h.AcceptedName,
		})
	}
	return res, nil
}

// outsiderQuestion narrows a question to what a publisher may know of: totals, facets and pages count nothing else.
func outsiderQuestion(req *pb.SearchPicturesRequest) (*pb.SearchPicturesRequest, error) {
	plate := []pb.Kind{pb.Kind_KIND_PLATE}
	f := req.GetFilter()
	if f.GetSpecimen() != "" {
		return nil, field("filter.specimen", "found a specimen; want none: specimens are open to the studio alone")
	}
	if len(f.GetKinds()) > 0 && !slices.Contains(f.GetKinds(), pb.Kind_KIND_PLATE) {
		return nil, field("filter.kinds", "found kinds without plates; want KIND_PLATE or none: other kinds are open to the studio alone")
	}
	req, _ = proto.Clone(req).(*pb.SearchPicturesRequest)
	if req.Filter == nil {
		req.Filter = &pb.PictureFilter{}
	}
	req.Filter.Kinds = plate
	return req, nil
}
