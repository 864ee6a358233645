package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// choosing is what the page that adds a picture to a brief shows.
type choosing struct {
	*form
	Picture    *pb.Picture
	Name       string // accepted scientific name
	Briefs     []option
	Structures []string // offered: those wanted by the brief, or shown by the picture
}

// choosing is the address of the page that adds a picture to a brief, for the structure asked for, if it is one.
func (q question) choosing(picture string) string {
	_, id, _ := strings.Cut(picture, "/")
	fields := map[string]string{"picture": id}
	if list := listed(q.Structures); len(list) == 1 {
		fields["structure"] = list[0]
	}
	return "/choose?" + query(fields)
}

// choose adds a picture to a brief, with the structure that it serves, or leaves it out there.
func (s *Site) choose(v *visit) error {
	f := v.sent()
	if v.r.Method == http.MethodGet {
		f = v.blank(v.r.URL.Query())
		return s.showChoose(v, http.StatusOK, f)
	}
	if f.Value("do") == "brief" { // another brief wants other structures
		return s.showChoose(v, http.StatusOK, f)
	}
	name, structure := in("briefs", f.Value("brief")), f.Value("structure")
	if other := f.Value("other"); other != "" {
		structure = other
	}
	if name == "" {
		f.blame("brief", "is empty; want the brief that it is to serve")
	}
	if structure == "" {
		f.blame("structure", "is empty; want the structure that it serves")
	}
	if !f.Faults() {
		err := s.amendBrief(v, name, "choices", func(b *pb.Brief) {
			amendChoice(b, structure, in("pictures", f.Value("picture")), f.Value("do"), f.Value("note"))
		})
		if err := f.refused(err, map[string]string{"choices": "structure"}); err != nil {
			return err
		}
	}
	if f.Faults() {
		return s.showChoose(v, http.StatusBadRequest, f)
	}
	if f.Value("back") == "plan" {
		return v.redirect("/" + name + "/plan#" + anchor(structure))
	}
	return v.redirect("/" + name + "#choices")
}

// amendChoice chooses a picture for a structure, leaves it out, or lets the plan decide again.
func amendChoice(b *pb.Brief, structure, picture, do, note string) {
	b.Choices = slices.DeleteFunc(b.Choices, func(ch *pb.Choice) bool {
		same := sameStructure(ch.GetStructure(), structure)
		return same && (ch.GetPicture() == picture || do == "choose" && !ch.GetLeftOut()) // one is chosen for a structure
	})
	if do != "undo" {
		b.Choices = append(b.Choices, &pb.Choice{Structure: structure, Picture: picture, LeftOut: do == "leave out", Note: note})
	}
}

func (s *Site) showChoose(v *visit, code int, f *form) error {
	p, err := s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: in("pictures", f.Value("picture"))})
	if err != nil {
		return err
	}
	page := choosing{form: f, Picture: p}
	if page.Name, err = s.accepted(v, p.GetIdentification().GetTaxon(), p.GetIdentification().GetScientificName()); err != nil {
		return err
	}
	all, err := s.allBriefs(v)
	if err != nil {
		return err
	}
	var wanted *pb.Brief
	for _, b := range all {
		if b.GetPlate() != "" {
			continue
		}
		page.Briefs = append(page.Briefs, option{b.GetName(), b.GetTitle() + ", " + animalWords(b.GetIdentification()), false})
		same := b.GetIdentification().GetTaxon() == p.GetIdentification().GetTaxon()
		if b.GetName() == f.Value("brief") || f.Value("brief") == "" && (wanted == nil || same) { // one for the same species is the likeliest
			wanted = b
		}
	}
	if wanted != nil {
		f.typed.Set("brief", wanted.GetName())
		if page.Structures, _, err = s.structuresOf(v, wanted); err != nil {
			return err
		}
	}
	return v.show(code, "choose.html", "Add to a brief", page)
}

// anchor is the place of a structure on a page.
func anchor(structure string) string {
	return "part-" + strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, strings.ToLower(structure))
}

// pathOf is the path of an entry's field in the contract.
func pathOf(list string, n int, field string) string {
	path := list + "[" + strconv.Itoa(n) + "]"
	if field != "" {
		path += "." + field
	}
	return path
}
