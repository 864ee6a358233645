package web

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// briefsShown are read at once for the list and for choosing among them.
const briefsShown = 1000

// briefList is what the list of briefs shows: open ones by the day they are due, then those delivered, the last first.
type briefList struct {
	Open, Delivered []briefLine
}

// briefLine is a brief in a list.
type briefLine struct {
	*pb.Brief
	Client  string
	Overdue bool
}

func (s *Site) briefs(v *visit) error {
	all, err := s.allBriefs(v)
	if err != nil {
		return err
	}
	names, err := s.partyNames(v)
	if err != nil {
		return err
	}
	today := s.conf.Now().Format("2006-01-02")
	var page briefList
	for _, b := range all {
		line := briefLine{Brief: b, Client: names[b.GetClient()], Overdue: b.GetDueOn() != "" && b.GetDueOn() < today}
		if b.GetPlate() != "" {
			page.Delivered = append(page.Delivered, line)
		} else {
			page.Open = append(page.Open, line)
		}
	}
	slices.SortStableFunc(page.Open, func(a, b briefLine) int {
		return cmp.Or(strings.Compare(cmp.Or(a.GetDueOn(), "~"), cmp.Or(b.GetDueOn(), "~")), strings.Compare(a.GetTitle(), b.GetTitle())) // without a day come last
	})
	slices.SortStableFunc(page.Delivered, func(a, b briefLine) int { return strings.Compare(b.GetDeliveredOn(), a.GetDeliveredOn()) })
	return v.show(http.StatusOK, "briefs.html", "Briefs", page)
}

func (s *Site) allBriefs(v *visit) ([]*pb.Brief, error) {
	var all []*pb.Brief
	req := &pb.ListBriefsRequest{PageSize: briefsShown}
	for {
		res, err := s.services.commission.ListBriefs(v.ctx(), req)
		if err != nil {
			return nil, err
		}
		all = append(all, res.GetBriefs()...)
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
			return all, nil
		}
	}
}

// briefed is what the page of a brief shows.
type briefed struct {
	*pb.Brief
	Animal, Client   string
	Views            []string
	Structures       []string // wanted, or those of the usual checklist
	Usual            bool     // the structures are those of the checklist
	Specimen         *pb.Specimen
	Choices          []chosenFor
	Studies          []studied
	Use              string
	Study, Check     *form
	Deliver          *form
	Sources          []*pb.Picture // of what the plate may have been copied
	Plate            *pb.Picture
	Today, CheckedBy string
}

// chosenFor is a picture that a person chose or left out.
type chosenFor struct {
	*pb.Choice
	Of *pb.Picture
}

// studied is a picture drawn for the brief.
type studied struct {
	*pb.BriefStudy
	Of *pb.Picture
}

func (s *Site) brief(v *visit) error {
	return s.showBrief(v, http.StatusOK, v.blank(nil), v.blank(nil), v.blank(nil))
}

// showBrief shows a brief with the forms of the work on it.
func (s *Site) showBrief(v *visit, code int, study, check, deliver *form) error {
	b, err := s.services.commission.GetBrief(v.ctx(), &pb.GetBriefRequest{Name: v.named("briefs")})
	if err != nil {
		return err
	}
	page := briefed{Brief: b, Study: study, Check: check, Deliver: deliver, Use: scopeWords(b.GetUse())}
	for _, view := range b.GetViews() {
		page.Views = append(page.Views, word(view))
	}
	if page.Animal, err = s.accepted(v, b.GetIdentification().GetTaxon(), b.GetIdentification().GetScientificName()); err != nil {
		return err
	}
	if page.Client, err = s.partyName(v, b.GetClient()); err != nil {
		return err
	}
	if page.Structures, page.Usual, err = s.structuresOf(v, b); err != nil {
		return err
	}
	if b.GetSpecimen() != "" {
		if page.Specimen, err = s.services.archive.GetSpecimen(v.ctx(), &pb.GetSpecimenRequest{Name: b.GetSpecimen()}); missing(err) != nil {
			return err
		}
	}
	if err := s.briefPictures(v, &page); err != nil {
		return err
	}
	return v.show(code, "brief.html", b.GetTitle(), page)
}

// briefPictures reads the pictures that a brief names, each once.
func (s *Site) briefPictures(v *visit, page *briefed) error {
	known := map[string]*pb.Picture{}
	get := func(name string) (*pb.Picture, error) {
		if p, ok := known[name]; ok || name == "" {
			return p, nil
		}
		p, err := s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: name})
		if err := missing(err); err != nil {
			return nil, err
		}
		known[name] = p
		return p, nil
	}
	source := func(p *pb.Picture) {
		if p != nil && !slices.Contains(page.Sources, p) {
			page.Sources = append(page.Sources, p)
		}
	}
	body, err := get(page.GetBody())
	if err != nil {
		return err
	}
	source(body)
	for _, ch := range page.Brief.GetChoices() {
		p, err := get(ch.GetPicture())
		if err != nil {
			return err
		}
		page.Choices = append(page.Choices, chosenFor{ch, p})
		if !ch.GetLeftOut() {
			source(p)
		}
	}
	for _, st := range page.Brief.GetStudies() {
		p, err := get(st.GetPicture())
		if err != nil {
			return err
		}
		page.Studies = append(page.Studies, studied{st, p})
		source(p)
	}
	page.Plate, err = get(page.Brief.GetPlate())
	return err
}

// structuresOf are the structures of a brief, or of its animal's checklist.
func (s *Site) structuresOf(v *visit, b *pb.Brief) (names []string, usual bool, err error) {
	list := b.GetStructures()
	if len(list) == 0 {
		res, err := s.services.commission.GetChecklist(v.ctx(), &pb.GetChecklistRequest{Taxon: b.GetIdentification().GetTaxon()})
		if err := missing(err); err != nil {
			return nil, false, err
		}
		list, usual = res.GetStructures(), true
	}
	for _, w := range list {
		if !slices.Contains(names, w.GetStructure()) {
			names = append(names, w.GetStructure())
		}
	}
	return names, usual, nil
}

// amendTries is how often a change to a list of a brief is tried again because somebody else changed it meanwhile.
const amendTries = 5

// amendBrief reads a brief, changes one of its lists and writes it back, unless somebody else was faster: then it begins anew, so that no entry is lost.
func (s *Site) amendBrief(v *visit, name, field string, change func(*pb.Brief)) error {
	for try := 1; ; try++ {
		b, err := s.services.commission.GetBrief(v.ctx(), &pb.GetBriefRequest{Name: name})
		if err != nil {
			return err
		}
		change(b)
		_, err = s.services.commission.UpdateBrief(v.ctx(), &pb.UpdateBriefRequest{Brief: b, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{field}}})
		if status.Code(err) != codes.Aborted || try == amendTries {
			return err
		}
	}
}
