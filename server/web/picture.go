package web

import (
	"errors"
	"io"
	"net/http"
	"strconv"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

// pictured is what a picture's page shows.
type pictured struct {
	Picture  *pb.Picture
	Name     string // accepted scientific name
	Specimen *pb.Specimen
	Derived  *pb.Derived
	History  *pb.History
	Verdicts []*pb.CountVerdict
	Check    *pb.PictureCheck // proportions, lengths and scale; staff only
	Sources  []source
	Studies  []source // what was made from it
}

// source is a picture that another was made from, or that was made from another.
type source struct {
	Picture *pb.Picture
	Words   string // for one outside the archive
	Role    string
}

func (s *Site) picture(v *visit) error {
	name := v.named("pictures")
	p, err := s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: name})
	if err != nil {
		return err
	}
	page := pictured{Picture: p, Name: p.GetIdentification().GetScientificName()}
	if t := p.GetIdentification().GetTaxon(); t != "" {
		if page.Name, err = s.accepted(v, t, page.Name); err != nil {
			return err
		}
		if f := p.GetCounts().GetFormula(); f != "" {
			res, err := s.services.taxa.CheckCounts(v.ctx(), &pb.CheckCountsRequest{Taxon: t, Formula: f})
			if err := missing(err); err != nil {
				return err
			}
			page.Verdicts = res.GetVerdicts()
		}
	}
	if page.Derived, err = s.services.transfer.GetDerived(v.ctx(), &pb.GetDerivedRequest{Picture: name}); missing(err) != nil {
		return err
	}
	if page.History, err = s.services.licensing.GetHistory(v.ctx(), &pb.GetHistoryRequest{Picture: name}); missing(err) != nil {
		return err
	}
	if v.staff() {
		if err := s.behind(v, &page); err != nil {
			return err
		}
	}
	return v.show(http.StatusOK, "picture.html", p.GetTitle(), page)
}

// behind adds what the studio alone may see.
func (s *Site) behind(v *visit, page *pictured) (err error) {
	if name := page.Picture.GetSpecimen(); name != "" {
		if page.Specimen, err = s.services.archive.GetSpecimen(v.ctx(), &pb.GetSpecimenRequest{Name: name}); missing(err) != nil {
			return err
		}
	}
	if page.Check, err = s.services.commission.CheckPicture(v.ctx(), &pb.CheckPictureRequest{Name: page.Picture.GetName()}); missing(err) != nil {
		return err
	}
	for _, d := range page.Picture.GetDerivedFrom() {
		from := source{Words: d.GetSource(), Role: word(d.GetRole())}
		if d.GetPicture() != "" {
			if from.Picture, err = s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: d.GetPicture()}); missing(err) != nil {
				return err
			}
		}
		page.Sources = append(page.Sources, from)
	}
	return nil
}

// accepted is the accepted name of a taxon.
func (s *Site) accepted(v *visit, taxon, otherwise string) (string, error) {
	t, err := s.services.taxa.GetTaxon(v.ctx(), &pb.GetTaxonRequest{Name: taxon})
	if err := missing(err); err != nil {
		return "", err
	}
	if a := t.GetAccepted(); a != "" && t.GetStatus() == pb.TaxonStatus_TAXON_STATUS_SYNONYM {
		if t, err = s.services.taxa.GetTaxon(v.ctx(), &pb.GetTaxonRequest{Name: a}); missing(err) != nil {
			return "", err
		}
	}
	if t.GetScientificName() == "" {
		return otherwise, nil
	}
	return t.GetScientificName(), nil
}

// missing passes over what isn't there, or isn't to be had as things stand: the page is shown without it.
func missing(err error) error {
	switch status.Code(err) {
	case codes.NotFound, codes.FailedPrecondition, codes.Unimplemented, codes.InvalidArgument:
		return nil
	}
	return err
}

// file sends an original or a derived image, as far as the visitor may have it.
func (s *Site) file(v *visit) error {
	stream, err := s.services.transfer.Download(v.ctx(), &pb.DownloadRequest{Picture: v.named("pictures"), Variant: v.r.PathValue("variant")})
	if err != nil {
		return err
	}
	first, err := stream.Recv()
	if err != nil {
		return err
	}
	head := first.GetHeader()
	etag := strconv.Quote(head.GetSha256())
	h := v.w.Header()
	h.Set("Cache-Control", "private, no-cache") // kept, and asked for again: the key may end
	h.Set("ETag", etag)
	if v.r.Header.Get("If-None-Match") == etag {
		v.w.WriteHeader(http.StatusNotModified)
		return nil
	}
	h.Set("Content-Type", head.GetMediaType())
	h.Set("Content-Length", strconv.FormatInt(head.GetSize(), 10))
	disposition := "inline"
	if v.r.PathValue("variant") == "original" {
		disposition = "attachment" // whatever it holds, it doesn't run here
	}
	h.Set("Content-Disposition", disposition+"; filename="+strconv.Quote(safeName(head.GetFileName())))
	for {
		part, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			s.conf.Log.Warn("a download broke off", "picture", v.named("pictures"), "error", err)
			panic(http.ErrAbortHandler) // the length was promised: the visitor must notice
		}
		if _, err := v.w.Write(part.GetChunk()); err != nil {
			return nil // the visitor has gone
		}
	}
}

// safeName is a file name of plain ASCII, as headers want it.
func safeName(s string) string {
	out := []rune{}
	for _, r := range s {
		if r > ' ' && r < 0x7f && r != '"' && r != '\\' && r != '/' {
			out = append(out, r)
		} else {
			out = append(out, '-')
		}
	}
	if len(out) == 0 {
		return "picture"
	}
	return string(out)
}

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

func (s *Site) specimen(v *visit) error {
	sp, err := s.services.archive.GetSpecimen(v.ctx(), &pb.GetSpecimenRequest{Name: v.named("specimens")})
	if err != nil {
		return err
	}
	return v.show(http.StatusOK, "specimen.html", sp.GetCatalogNumber(), sp)
}
