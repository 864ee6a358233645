package web

import (
	"net/http"

	pb "platarium/proto/platarium/v1"
)

// revised is what the page of a record's past shows.
type revised struct {
	Name      string
	Title     string
	Revisions []*pb.Revision
	Next      string
}

// record shows who changed a picture, and when.
func (s *Site) record(v *visit) error {
	name := v.named("pictures")
	p, err := s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: name})
	if err != nil {
		return err
	}
	res, err := s.services.archive.ListRevisions(v.ctx(), &pb.ListRevisionsRequest{Name: name, PageSize: 50, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		return err
	}
	return v.show(http.StatusOK, "record.html", "Record history", revised{name, p.GetTitle(), res.GetRevisions(), res.GetNextPageToken()})
}
