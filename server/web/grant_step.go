package web

import (
	"net/http"
	"net/url"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// grantStep takes a grant a step further in its life: offered, executed, void, or ended; or notes a payment or evidence that came in.
func (s *Site) grantStep(v *visit) error {
	f := v.sent()
	g := &pb.Grant{Name: v.named("grants"), Etag: f.Value("etag")}
	var mask []string
	switch f.Value("do") {
	case "offer":
		g.Status, mask = pb.GrantStatus_GRANT_STATUS_OFFERED, []string{"status"}
	case "execute":
		g.Status, g.SignedOn, mask = pb.GrantStatus_GRANT_STATUS_EXECUTED, f.Value("signed"), []string{"status", "signed_on"}
	case "void":
		g.Status, mask = pb.GrantStatus_GRANT_STATUS_VOID, []string{"status"}
	case "paid":
		g.PaidOn, mask = f.Value("paidon"), []string{"paid_on"}
	case "evidence":
		g.EvidenceReceivedOn, mask = f.Value("received"), []string{"evidence_received_on"}
	case "end":
		return s.grantEnd(v, f)
	default:
		return errNoPage
	}
	made, err := s.services.licensing.UpdateGrant(v.ctx(), &pb.UpdateGrantRequest{Grant: g, UpdateMask: &fieldmaskpb.FieldMask{Paths: mask}})
	if err := f.refused(err, map[string]string{"signed_on": "signed", "paid_on": "paidon", "evidence_received_on": "received"}); err != nil {
		return err
	}
	if f.Faults() {
		return s.showGrant(v, http.StatusBadRequest, f)
	}
	return v.redirect("/" + made.GetName() + warnedQuery(made))
}

func (s *Site) grantEnd(v *visit, f *form) error {
	made, err := s.services.licensing.EndGrant(v.ctx(), &pb.EndGrantRequest{Name: v.named("grants"), EndedOn: f.Value("endedon"), Reason: f.Value("reason")})
	if err := f.refused(err, map[string]string{"ended_on": "endedon", "reason": "reason"}); err != nil {
		return err
	}
	if f.Faults() {
		return s.showGrant(v, http.StatusBadRequest, f)
	}
	return v.redirect("/" + made.GetName())
}

// useFields finds the form's fields of a use's.
var useFields = map[string]string{
	"user": "user", "grant": "grant", "scope.works": "works", "scope.media": "media", "scope.territories": "territories", "scope.languages": "languages", "scope.purposes": "purpose", "scope.from": "from", "scope.to": "to",
	"scope": "works", "title": "title", "identifier": "identifier", "edition": "edition", "copies": "copies", "credit_as_printed": "credit", "locator": "locator", "notes": "notes",
}

// using is what the form of a use shows.
type using struct {
	*form
	Parties []option
}

// useForm shows the form of a use that happened, filled in from a grant if one is named, and takes it in.
func (s *Site) useForm(v *visit) error {
	page := using{form: v.sent()}
	code := http.StatusOK
	if v.r.Method == http.MethodGet {
		values := url.Values{"languages": {"*"}, "works": {in("pictures", v.r.URL.Query().Get("picture"))}, "once": {randomHex()[:32]}}
		if name := in("grants", v.r.URL.Query().Get("grant")); name != "" {
			g, err := s.services.licensing.GetGrant(v.ctx(), &pb.GetGrantRequest{Name: name})
			if err != nil {
				return err
			}
			of := typedGrant(g)
			for _, field := range []string{"works", "media", "territories", "languages", "purpose", "credit"} {
				values.Set(field, of.Get(field))
			}
			values.Set("user", g.GetLicensee())
			values.Set("grant", name)
		}
		page.form = v.blank(values)
	} else {
		made, err := s.keepUse(v, page.form)
		if err != nil {
			return err
		}
		if !page.Faults() {
			return v.redirect("/" + made.GetUse().GetName() + "?" + url.Values{"verdict": {made.GetVerdict()}, "why": made.GetExplanations()}.Encode())
		}
		code = http.StatusBadRequest
	}
	var err error
	if page.Parties, err = s.partyOptions(v); err != nil {
		return err
	}
	return v.show(code, "use_form.html", "Record a use", page)
}

func (s *Site) keepUse(v *visit, f *form) (*pb.CreateUseResponse, error) {
	u := &pb.Use{
		User: f.Value("user"), Grant: in("grants", f.Value("grant")), Scope: f.scope(), Title: f.Value("title"), Identifier: f.Value("identifier"), Edition: f.Value("edition"),
		Copies: f.whole("copies", "a number of copies, or nothing if it isn't known"), CreditAsPrinted: f.Value("credit"), Locator: f.Value("locator"), Altered: f.Value("altered") != "", Own: f.Value("own") != "", Notes: f.Value("notes"),
	}
	if u.Scope == nil {
		u.Scope = &pb.Scope{}
	}
	u.Scope.Works = f.works("works")
	if f.Faults() {
		return nil, nil
	}
	made, err := s.services.licensing.CreateUse(v.ctx(), &pb.CreateUseRequest{Use: u, RequestId: f.Value("once")})
	return made, f.refused(err, useFields)
}
