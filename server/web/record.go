package web

import (
	"net/http"
	"regexp"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// revised is what the page of a record's past shows.
type revised struct {
	Name      string
	Title     string
	Revisions []change
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
	page := revised{Name: name, Title: p.GetTitle(), Next: res.GetNextPageToken()}
	for _, r := range res.GetRevisions() {
		c := change{Revision: r, What: "the record was made"}
		if r.GetChange().GetDeleted() {
			c.What = "the record was deleted"
		} else if r.GetChange().GetPicture().GetRevision() > 1 {
			c.What = strings.Join(spaced(r.GetChangedFields()), ", ")
		}
		page.Revisions = append(page.Revisions, c)
	}
	return v.show(http.StatusOK, "record.html", "Record history", page)
}

// change is one change of a record, in words.
type change struct {
	*pb.Revision
	What string
}

// spaced turns names of fields into words: creditParts into credit parts.
func spaced(fields []string) []string {
	out := make([]string, len(fields))
	for i, f := range fields {
		out[i] = capitals.ReplaceAllStringFunc(f, func(s string) string { return " " + strings.ToLower(s) })
	}
	return out
}

var capitals = regexp.MustCompile(`[A-Z]`)
