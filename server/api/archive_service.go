package api

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
)

type archiveService struct {
	pb.UnimplementedArchiveServiceServer
	*Server
}

// wantName refuses what can't be a resource name of a collection.
func wantName(fieldName, name, collection string) error {
	if got, _, ok := archive.SplitName(name); !ok || got != collection {
		return field(fieldName, "found %q; want %s/{id}", name, collection)
	}
	return nil
}

func notFound(name string) error { return fmt.Errorf("%w: %s", archive.ErrNotFound, name) }

// wantRecord refuses a request without its record.
func wantRecord(fieldName string, missing bool) error {
	if missing {
		return field(fieldName, "is missing")
	}
	return nil
}

func (s archiveService) GetPicture(ctx context.Context, req *pb.GetPictureRequest) (*pb.Picture, error) {
	pic, err := s.visiblePicture(caller(ctx), req.GetName())
	if err != nil {
		return nil, err
	}
	return shownPicture(caller(ctx), pic), nil
}

func (s archiveService) ListPictures(ctx context.Context, req *pb.ListPicturesRequest) (*pb.ListPicturesResponse, error) {
	p := caller(ctx)
	page, err := pageOf(req, p)
	if err != nil {
		return nil, err
	}
	var found []*pb.Picture
	var more bool
	if from := req.GetDerivedFrom(); from != "" {
		found, more, err = s.madeFrom(p, from, page)
	} else {
		found, more, err = s.archive.ListPictures(page.after, page.size, func(pic *pb.Picture) bool { return maySee(p, pic) })
	}
	if err != nil {
		return nil, err
	}
	res := &pb.ListPicturesResponse{}
	for _, pic := range found {
		res.Pictures = append(res.Pictures, shownPicture(p, pic))
		res.NextPageToken = page.next(pic.GetName(), more)
	}
	return res, nil
}

// madeFrom lists the pictures made from one, as far as the caller may see them. They are found by the records that name it, without a walk through all.
func (s archiveService) madeFrom(p principal, from string, page page) (found []*pb.Picture, more bool, err error) {
	if _, err := s.visiblePicture(p, from); err != nil {
		return nil, false, err
	}
	names, err := s.archive.Referrers(from, archive.Pictures)
	if err != nil {
		return nil, false, err
	}
	for _, name := range names {
		if name <= page.after {
			continue
		}
		pic, err := s.archive.GetPicture(name)
		if errors.Is(err, archive.ErrNotFound) { // deleted meanwhile
			continue
		}
		if err != nil {
			return nil, false, err
		}
		if !maySee(p, pic) {
			continue
		}
		if len(found) == page.size {
			return found, true, nil
		}
		found = append(found, pic)
	}
	return found, false, nil
}

func (s archiveService) CreatePicture(ctx context.Context, req *pb.CreatePictureRequest) (*pb.Picture, error) {
	if err := wantRecord("picture", req.GetPicture() == nil); err != nil {
		return nil, err
	}
	p, err := s.archive.CreatePicture(ctx, by(ctx, req.GetRequestId()), req.GetPicture(), req.GetPictureId())
	if err != nil {
		return nil, err
	}
	return s.remarkedPicture(p)
}

// mostInBatch is the largest number of records made at once.
const mostInBatch = 1000

func (s archiveService) BatchCreatePictures(ctx context.Context, req *pb.BatchCreatePicturesRequest) (*pb.BatchCreatePicturesResponse, error) {
	if n := len(req.GetRequests()); n > mostInBatch {
		return nil, field("requests", "has %d entries; want at most %d", n, mostInBatch)
	}
	list := make([]archive.Creation[*pb.Picture], len(req.GetRequests()))
	for i, r := range req.GetRequests() {
		if err := wantRecord(fmt.Sprintf("requests[%d].picture", i), r.GetPicture() == nil); err != nil {
			return nil, err
		}
		list[i] = archive.Creation[*pb.Picture]{Record: r.GetPicture(), ID: r.GetPictureId(), RequestID: r.GetRequestId()}
	}
	outcomes, seq := s.archive.BatchCreatePictures(ctx, caller(ctx).key, list, req.GetAtomic(), req.GetValidateOnly())
	res := &pb.BatchCreatePicturesResponse{Sequence: seq}
	for _, o := range outcomes {
		if o.Err != nil {
			res.Outcomes = append(res.Outcomes, &pb.PictureOutcome{Outcome: &pb.PictureOutcome_Error{Error: problemOf(o.Err)}})
			continue
		}
		res.Outcomes = append(res.Outcomes, &pb.PictureOutcome{Outcome: &pb.PictureOutcome_Picture{Picture: o.Record}})
	}
	return res, nil
}

func (s archiveService) UpdatePicture(ctx context.Context, req *pb.UpdatePictureRequest) (*pb.Picture, error) {
	if err := wantName("picture.name", req.GetPicture().GetName(), archive.Pictures); err != nil {
		return nil, err
	}
	p, err := s.archive.UpdatePicture(ctx, by(ctx, req.GetRequestId()), req.GetPicture(), req.GetUpdateMask().GetPaths())
	if err != nil {
		return nil, err
	}
	return s.remarkedPicture(p)
}

func (s archiveService) DeletePicture(ctx context.Context, req *pb.DeletePictureRequest) (*pb.DeletePictureResponse, error) {
	if err := wantName("name", req.GetName(), archive.Pictures); err != nil {
		return nil, err
	}
	return &pb.DeletePictureResponse{}, s.archive.DeletePicture(ctx, by(ctx, req.GetRequestId()), req.GetName(), req.GetEtag())
}

func (s archiveService) GetSpecimen(_ context.Context, req *pb.GetSpecimenRequest) (*pb.Specimen, error) {
	if err := wantName("name", req.GetName(), archive.Specimens); err != nil {
		return nil, err
	}
	return s.archive.GetSpecimen(req.GetName())
}

func (s archiveService) ListSpecimens(ctx context.Context, req *pb.ListSpecimensRequest) (*pb.ListSpecimensResponse, error) {
	page, err := pageOf(req, caller(ctx))
	if err != nil {
		return nil, err
	}
	found, more, err := s.archive.ListSpecimens(page.after, page.size)
	if err != nil {
		return nil, err
	}
	res := &pb.ListSpecimensResponse{Specimens: found}
	if len(found) > 0 {
		res.NextPageToken = page.next(found[len(found)-1].GetName(), more)
	}
	return res, nil
}

func (s archiveService) CreateSpecimen(ctx context.Context, req *pb.CreateSpecimenRequest) (*pb.Specimen, error) {
	if err := wantRecord("specimen", req.GetSpecimen() == nil); err != nil {
		return nil, err
	}
	return s.archive.CreateSpecimen(ctx, by(ctx, req.GetRequestId()), req.GetSpecimen(), req.GetSpecimenId())
}

func (s archiveService) UpdateSpecimen(ctx context.Context, req *pb.UpdateSpecimenRequest) (*pb.Specimen, error) {
	if err := wantName("specimen.name", req.GetSpecimen().GetName(), archive.Specimens); err != nil {
		return nil, err
	}
	return s.archive.UpdateSpecimen(ctx, by(ctx, req.GetRequestId()), req.GetSpecimen(), req.GetUpdateMask().GetPaths())
}

func (s archiveService) DeleteSpecimen(ctx context.Context, req *pb.DeleteSpecimenRequest) (*pb.DeleteSpecimenResponse, error) {
	if err := wantName("name", req.GetName(), archive.Specimens); err != nil {
		return nil, err
	}
	return &pb.DeleteSpecimenResponse{}, s.archive.DeleteSpecimen(ctx, by(ctx, req.GetRequestId()), req.GetName(), req.GetEtag())
}

func (s archiveService) ListRevisions(ctx context.Context, req *pb.ListRevisionsRequest) (*pb.ListRevisionsResponse, error) {
	collection, _, ok := archive.SplitName(req.GetName())
	if !ok || !slices.Contains(archive.Collections(), collection) {
		return nil, field("name", "found %q; want a resource name such as pictures/{id}", req.GetName())
	}
	if collection == archive.Keys && caller(ctx).role != pb.Role_ROLE_OWNER {
		return nil, notFound(req.GetName())
	}
	page, err := pageOf(req, caller(ctx))
	if err != nil {
		return nil, err
	}
	var before int64
	if page.after != "" {
		if before, err = strconv.ParseInt(page.after, 10, 64); err != nil {
			return nil, errPageToken
		}
	}
	revisions, more, err := s.archive.Revisions(ctx, req.GetName(), before, page.size)
	if err != nil {
		return nil, err
	}
	res := &pb.ListRevisionsResponse{Revisions: revisions}
	for _, r := range revisions {
		if k := r.GetChange().GetKey(); k != nil {
			k.SecretSha256 = ""
		}
		if p := r.GetChange().GetParty(); p != nil {
			p.SealedContact = nil
		}
		res.NextPageToken = page.next(strconv.FormatInt(r.GetSequence(), 10), more)
	}
	return res, nil
}
