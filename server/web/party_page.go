package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// parties lists whom the studio deals with.
func (s *Site) parties(v *visit) error {
	all, err := s.allParties(v)
	if err != nil {
		return err
	}
	slices.SortFunc(all, func(a, b *pb.Party) int { return strings.Compare(a.GetDisplayName(), b.GetDisplayName()) })
	return v.show(http.StatusOK, "parties.html", "Parties", all)
}

// partyForm is what the form of a party shows.
type partyForm struct {
	*form
	Name      string // empty for a new one
	Forgotten bool
}

// party shows the form of a party, and takes it in.
func (s *Site) party(v *visit) error {
	page := partyForm{form: v.sent()}
	if v.r.PathValue("id") != "" {
		page.Name = v.named("parties")
		p, err := s.services.licensing.GetParty(v.ctx(), &pb.GetPartyRequest{Name: page.Name})
		if err != nil {
			return err
		}
		page.Forgotten = p.GetForgotten()
		if v.r.Method == http.MethodGet {
			c := p.GetContact()
			page.form = v.blank(url.Values{"called": {p.GetDisplayName()}, "role": {p.GetRole()}, "person": {c.GetPerson()}, "email": {c.GetEmail()}, "telephone": {c.GetTelephone()}, "address": {c.GetAddress()},
				"notes": {p.GetNotes()}, "etag": {p.GetEtag()}})
		}
	}
	if v.r.Method == http.MethodGet {
		return v.show(http.StatusOK, "party.html", "Party", page)
	}
	f := page.form
	p := &pb.Party{Name: page.Name, Etag: f.Value("etag"), DisplayName: f.Value("called"), Role: f.Value("role"), Notes: f.Value("notes")}
	mask := []string{"display_name", "role", "notes"}
	contact := &pb.Contact{Person: f.Value("person"), Email: f.Value("email"), Telephone: f.Value("telephone"), Address: f.Value("address")}
	if !page.Forgotten {
		mask = append(mask, "contact")
		if f.Value("person")+f.Value("email")+f.Value("telephone")+f.Value("address") != "" {
			p.Contact = contact
		}
	}
	var made *pb.Party
	var err error
	if page.Name == "" {
		made, err = s.services.licensing.CreateParty(v.ctx(), &pb.CreatePartyRequest{Party: p, RequestId: f.Value("once")})
	} else {
		made, err = s.services.licensing.UpdateParty(v.ctx(), &pb.UpdatePartyRequest{Party: p, UpdateMask: &fieldmaskpb.FieldMask{Paths: mask}})
	}
	if err := f.refused(err, map[string]string{"display_name": "called", "role": "role", "notes": "notes", "contact.person": "person", "contact.email": "email", "contact.telephone": "telephone", "contact.address": "address"}); err != nil {
		return err
	}
	if f.Faults() {
		return v.show(http.StatusBadRequest, "party.html", "Party", page)
	}
	return v.redirect("/" + made.GetName())
}
