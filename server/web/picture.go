package web

import (
	"encoding/json"
	"net/http"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

// pictured is what a picture's page shows.
type pictured struct {
	Picture  *pb.Picture
	Name     string // accepted scientific name
	Staff    bool
	Specimen *pb.Specimen
	Derived  *pb.Derived
	History  *pb.History
	Time     *timeline
	Verdicts []*pb.CountVerdict
	Check    *pb.PictureCheck // proportions, lengths and scale; staff only
	Sources  []source
	Made     []*pb.Picture // from it
	MoreMade bool
	Outlines string // structures with regions, for the script
	Rights   string // address of the rights statement
	Caution  string // of the taxon: protection
}

// source is what a picture was made from: another, or something outside the archive.
type source struct {
	Picture *pb.Picture
	Words   string
	Role    string
}

// madeShown is how many pictures made from one are shown.
const madeShown = 60

func (s *Site) picture(v *visit) error {
	name := v.named("pictures")
	p, err := s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: name})
	if err != nil {
		return err
	}
	page := pictured{Picture: p, Name: p.GetIdentification().GetScientificName(), Staff: v.staff(), Outlines: outlines(p)}
	if u := p.GetRightsStatement(); strings.HasPrefix(u, "https://") || strings.HasPrefix(u, "http://") {
		page.Rights = u
	}
	if err := s.animal(v, &page); err != nil {
		return err
	}
	if page.Derived, err = s.services.transfer.GetDerived(v.ctx(), &pb.GetDerivedRequest{Picture: name}); missing(err) != nil {
		return err
	}
	if page.History, err = s.services.licensing.GetHistory(v.ctx(), &pb.GetHistoryRequest{Picture: name}); missing(err) != nil {
		return err
	}
	page.Time = drawTimeline(page.History, s.conf.Now().UTC())
	made, err := s.services.archive.ListPictures(v.ctx(), &pb.ListPicturesRequest{DerivedFrom: name, PageSize: madeShown})
	if missing(err) != nil {
		return err
	}
	page.Made, page.MoreMade = made.GetPictures(), made.GetNextPageToken() != ""
	if v.staff() {
		if err := s.behind(v, &page); err != nil {
			return err
		}
	}
	return v.show(http.StatusOK, "picture.html", p.GetTitle(), page)
}

// animal adds what is known of the picture's taxon, and what its diagnosis says of the counts.
func (s *Site) animal(v *visit, page *pictured) error {
	name := page.Picture.GetIdentification().GetTaxon()
	if name == "" {
		return nil
	}
	t, err := s.services.taxa.GetTaxon(v.ctx(), &pb.GetTaxonRequest{Name: name})
	if err := missing(err); err != nil {
		return err
	}
	page.Caution = t.GetProtection()
	if page.Name, err = s.accepted(v, name, page.Name); err != nil {
		return err
	}
	f := page.Picture.GetCounts().GetFormula()
	if f == "" {
		return nil
	}
	res, err := s.services.taxa.CheckCounts(v.ctx(), &pb.CheckCountsRequest{Taxon: name, Formula: f})
	page.Verdicts = res.GetVerdicts()
	return missing(err)
}

// outlined is a structure's region as the script takes it, in fractions of the picture.
type outlined struct {
	Label string  `json:"label"`
	X     float64 `json:"x"`
	Y     float64 `json:"y"`
	W     float64 `json:"w"`
	H     float64 `json:"h"`
	Sound bool    `json:"sound"` // can be relied on; others are dashed, and named
}

func outlines(p *pb.Picture) string {
	list := []outlined{}
	for _, t := range p.GetStructures() {
		r := t.GetRegion()
		if r == nil {
			continue
		}
		o := outlined{t.GetStructure(), r.GetX(), r.GetY(), r.GetWidth(), r.GetHeight(), t.GetCompleteness() == pb.Completeness_COMPLETENESS_COMPLETE}
		if w := word(t.GetCompleteness()); w != "" && !o.Sound {
			o.Label += ", " + w
		}
		list = append(list, o)
	}
	b, _ := json.Marshal(list) // plain values never fail
	return string(b)
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
	default:
		return err
	}
}
