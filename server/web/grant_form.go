package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// grantFields finds the form's fields of a grant's.
var grantFields = map[string]string{
	"licensee": "licensee", "affiliates": "affiliates", "kind": "kind", "exclusivity": "exclusivity", "exclusive_to": "exclusiveto", "scope.works": "works", "scope.media": "media", "scope.territories": "territories",
	"scope.languages": "languages", "scope.purposes": "purpose", "scope.from": "from", "scope.to": "to", "scope": "works", "reserved_media": "reserved", "signed_on": "signed", "credit_line": "credit", "fee": "fee",
	"payment_is_condition": "paymentfirst", "paid_on": "paid", "copies_max": "copies", "uses_max": "uses", "product": "product", "disclosure": "disclosure", "effective_on": "effective", "embargo_until": "embargo",
	"evidence_due_on": "evidence", "notes": "notes", "subject_to": "subject", "option_until": "optionuntil", "holdback_mode": "holdback", "public_licence": "publiclicence", "alteration_allowed": "alteration",
}

// grantMask are the fields of a draft that the form sets.
var grantMask = []string{
	"licensee", "affiliates", "kind", "exclusivity", "exclusive_to", "scope", "reserved_media", "credit_line", "fee", "payment_is_condition", "paid_on", "copies_max", "uses_max", "product", "disclosure", "embargo_until",
	"evidence_due_on", "notes", "subject_to", "option_until", "holdback_mode", "public_licence", "alteration_allowed",
}

// granting is what the form of a grant shows.
type granting struct {
	*form
	Name    string // of the draft that is changed; empty for a new one
	Amends  string // of the grant that is amended; empty if none is
	Parties []option
	Owner   bool
	Checked bool // only looked through: nothing is in the way, nothing was stored
}

// Kinds are the kinds of grants.
func (f *form) Kinds() []option { return chosen[pb.GrantKind]() }

// Disclosures say how much others may learn.
func (f *form) Disclosures() []option {
	return []option{{Value: "summary", Label: "medium, territory, term and exclusivity, unnamed"}, {Value: "full", Label: "that, and the licensee's name"}, {Value: "confidential", Label: "nothing: it only blocks"}}
}

// grantForm shows the form of a new grant, of a draft, or of what amends an executed one, and takes it in.
func (s *Site) grantForm(v *visit) error {
	page := granting{Owner: v.role == pb.Role_ROLE_OWNER}
	if v.r.PathValue("id") != "" {
		page.Name = v.named("grants")
	}
	if strings.HasSuffix(v.r.URL.Path, "/amend") {
		page.Name, page.Amends = "", page.Name
	}
	if v.r.Method == http.MethodGet {
		values := url.Values{"languages": {"*"}, "works": {in("pictures", v.r.URL.Query().Get("picture"))}, "once": {randomHex()[:32]}}
		if old := page.Name + page.Amends; old != "" {
			g, err := s.services.licensing.GetGrant(v.ctx(), &pb.GetGrantRequest{Name: old})
			if err != nil {
				return err
			}
			values = typedGrant(g)
			values.Set("once", randomHex()[:32])
		}
		page.form = v.blank(values)
		return s.showGrantForm(v, http.StatusOK, page)
	}
	page.form = v.sent()
	made, err := s.keepGrant(v, &page)
	if err != nil {
		return err
	}
	if page.Faults() {
		return s.showGrantForm(v, http.StatusBadRequest, page)
	}
	if page.Value("do") == "check" {
		page.Checked = true
		return s.showGrantForm(v, http.StatusOK, page)
	}
	return v.redirect("/" + made.GetName() + warnedQuery(made))
}

// warnedQuery carries what a service remarked on a write to the page that is shown next.
func warnedQuery(g *pb.Grant) string {
	if len(g.GetWarnings()) == 0 {
		return ""
	}
	return "?" + url.Values{"warned": g.GetWarnings()}.Encode()
}

// keepGrant makes or changes a grant, or only looks it through; the form says what is wrong.
func (s *Site) keepGrant(v *visit, page *granting) (made *pb.Grant, err error) {
	f := page.form
	g := f.grant()
	if page.Amends != "" {
		g.Amends, g.EffectiveOn, g.Status = page.Amends, f.Value("effective"), pb.GrantStatus_GRANT_STATUS_DRAFT
	}
	if f.Value("signed") != "" && page.Name == "" {
		g.SignedOn, g.Status = f.Value("signed"), pb.GrantStatus_GRANT_STATUS_EXECUTED
	}
	if f.Faults() {
		return nil, nil
	}
	check := f.Value("do") == "check"
	if page.Name == "" {
		req := &pb.CreateGrantRequest{Grant: g, ValidateOnly: check, AllowCollision: page.Owner && f.Value("collides") != ""}
		if !check {
			req.RequestId = f.Value("once")
		}
		made, err = s.services.licensing.CreateGrant(v.ctx(), req)
	} else {
		g.Name, g.Etag = page.Name, f.Value("etag")
		made, err = s.services.licensing.UpdateGrant(v.ctx(), &pb.UpdateGrantRequest{Grant: g, UpdateMask: &fieldmaskpb.FieldMask{Paths: grantMask}})
	}
	return made, f.refused(err, grantFields)
}

func (s *Site) showGrantForm(v *visit, code int, page granting) error {
	var err error
	if page.Parties, err = s.partyOptions(v); err != nil {
		return err
	}
	title := "New grant"
	switch {
	case page.Amends != "":
		title = "Amend a grant"
	case page.Name != "":
		title = "Change the draft"
	}
	return v.show(code, "grant_form.html", title, page)
}

// works reads a list of pictures, one a line or parted by commas or spaces; ids and addresses of this site do as well as names.
func (f *form) works(name string) []string {
	var out []string
	for _, s := range strings.FieldsFunc(f.Value(name), func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '\n' || r == '\r' || r == '\t' }) {
		out = append(out, in("pictures", s))
	}
	return out
}

// fee is an amount and a currency, such as 450.00 EUR.
var fee = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?)\s*([A-Z]{3})$`)

// grant reads the form as a draft.
func (f *form) grant() *pb.Grant {
	g := &pb.Grant{
		Licensee: f.Value("licensee"), Affiliates: f.values("affiliates"), Kind: valueOf[pb.GrantKind](f.Value("kind")), Exclusivity: valueOf[pb.Exclusivity](f.Value("exclusivity")), ExclusiveTo: f.Value("exclusiveto"),
		Scope: f.scope(), ReservedMedia: listed(f.Value("reserved")), Status: pb.GrantStatus_GRANT_STATUS_DRAFT, CreditLine: f.Value("credit"), PaymentIsCondition: f.Value("paymentfirst") != "", PaidOn: f.Value("paid"),
		CopiesMax: f.whole("copies", "a number of copies, or nothing for no limit"), UsesMax: f.whole("uses", "a number of uses, or nothing for no limit"), Product: f.Value("product"),
		Disclosure: valueOf[pb.Disclosure](f.Value("disclosure")), EmbargoUntil: f.Value("embargo"), EvidenceDueOn: f.Value("evidence"), Notes: f.Value("notes"), OptionUntil: f.Value("optionuntil"),
		HoldbackMode: f.Value("holdback"), PublicLicence: f.Value("publiclicence"), AlterationAllowed: f.Value("alteration") != "",
	}
	if g.Scope == nil {
		g.Scope = &pb.Scope{Languages: listed(f.Value("languages"))}
	}
	g.Scope.Works = f.works("works")
	for _, name := range listed(f.Value("subject")) {
		g.SubjectTo = append(g.SubjectTo, in("grants", name))
	}
	if s := f.Value("fee"); s != "" {
		if m := fee.FindStringSubmatch(s); m != nil {
			g.Fee = &pb.Money{Amount: m[1], Currency: m[2]}
		} else {
			f.blame("fee", "found "+strconv.Quote(s)+"; want an amount and a currency, such as 450.00 EUR")
		}
	}
	return g
}

// typedGrant is a grant as it stands in the form.
func typedGrant(g *pb.Grant) url.Values {
	values := url.Values{
		"licensee": {g.GetLicensee()}, "affiliates": g.GetAffiliates(), "kind": {word(g.GetKind())}, "exclusivity": {word(g.GetExclusivity())}, "exclusiveto": {g.GetExclusiveTo()}, "works": {strings.Join(g.GetScope().GetWorks(), "\n")},
		"reserved": {strings.Join(g.GetReservedMedia(), ", ")}, "credit": {g.GetCreditLine()}, "paid": {g.GetPaidOn()}, "product": {g.GetProduct()}, "disclosure": {word(g.GetDisclosure())}, "embargo": {g.GetEmbargoUntil()},
		"evidence": {g.GetEvidenceDueOn()}, "notes": {g.GetNotes()}, "etag": {g.GetEtag()}, "subject": {strings.Join(g.GetSubjectTo(), ", ")}, "optionuntil": {g.GetOptionUntil()}, "holdback": {g.GetHoldbackMode()},
		"publiclicence": {g.GetPublicLicence()},
	}
	typedScope(values, g.GetScope())
	if g.GetFee().GetAmount() != "" {
		values.Set("fee", g.GetFee().GetAmount()+" "+g.GetFee().GetCurrency())
	}
	for name, n := range map[string]int64{"copies": g.GetCopiesMax(), "uses": g.GetUsesMax()} {
		if n > 0 {
			values.Set(name, strconv.FormatInt(n, 10))
		}
	}
	for name, ticked := range map[string]bool{"paymentfirst": g.GetPaymentIsCondition(), "alteration": g.GetAlterationAllowed()} {
		if ticked {
			values.Set(name, "yes")
		}
	}
	return values
}
