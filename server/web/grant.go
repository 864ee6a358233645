package web

import (
	"net/http"
	"net/url"
	"slices"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

func encoded(values url.Values) string { return values.Encode() }

// grantsPage is how many grants stand on a page.
const grantsPage = 50

// grantList is what the list of grants shows.
type grantList struct {
	*form
	Staff   bool
	Grants  []grantLine
	Parties []option
	States  []option
	Next    string
}

// grantLine is a grant in a list.
type grantLine struct {
	*pb.Grant
	Party, State, Scope string
	Works               int
}

// grants lists grants, all or those that touch a picture, a party or a state.
func (s *Site) grants(v *visit) error {
	q := v.r.URL.Query()
	f := v.blank(q)
	page := grantList{form: f, Staff: v.staff(), States: chosen[pb.GrantStatus]()}
	page.States = append(page.States, option{Value: "ended", Label: "ended"})
	names, err := s.partyNames(v)
	if err != nil {
		return err
	}
	if page.Parties, err = s.partyOptions(v); err != nil {
		return err
	}
	req := &pb.ListGrantsRequest{Picture: in("pictures", f.Value("picture")), Party: f.Value("party"), PageSize: grantsPage, PageToken: q.Get("page")}
	for len(page.Grants) < grantsPage {
		res, err := s.services.licensing.ListGrants(v.ctx(), req)
		if err := f.refused(err, map[string]string{"picture": "picture", "party": "party"}); err != nil {
			return err
		}
		for _, g := range res.GetGrants() {
			line := grantLine{Grant: g, Party: partyWords(names, g.GetLicensee(), v), State: stateOf(g, s.today()), Scope: scopeWords(g.GetScope()), Works: len(g.GetScope().GetWorks())}
			if want := f.Value("state"); want == "" || want == word(g.GetStatus()) && g.GetEndedOn() == "" || want == "ended" && g.GetEndedOn() != "" {
				page.Grants = append(page.Grants, line)
			}
		}
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
			break
		}
	}
	if req.GetPageToken() != "" {
		page.Next = "/grants?" + query(map[string]string{"picture": f.Value("picture"), "party": f.Value("party"), "state": f.Value("state"), "page": req.GetPageToken()})
	}
	code := http.StatusOK
	if f.Faults() {
		code = http.StatusBadRequest
	}
	return v.show(code, "grants.html", "Grants", page)
}

func (s *Site) today() string { return s.conf.Now().Format("2006-01-02") }

// partyWords is what a party is called; to a publisher its own is "you", since it may not read the book of parties.
func partyWords(names map[string]string, party string, v *visit) string {
	switch {
	case party == "":
		return "everybody"
	case names[party] != "":
		return names[party]
	case party == v.party:
		return "your house"
	}
	return party
}

// stateOf is how a grant stands today, in words.
func stateOf(g *pb.Grant, today string) string {
	switch to := g.GetScope().GetTo(); {
	case g.GetStatus() == pb.GrantStatus_GRANT_STATUS_UNSPECIFIED:
		return "draft"
	case g.GetStatus() != pb.GrantStatus_GRANT_STATUS_EXECUTED:
		return word(g.GetStatus())
	case g.GetEndedOn() != "" && g.GetEndedOn() <= today:
		return "ended on " + g.GetEndedOn()
	case to != "" && len(to) <= len(today) && to < today[:len(to)]:
		return "expired on " + to
	case g.GetScope().GetFrom() != "" && g.GetScope().GetFrom() > today:
		return "agreed, begins on " + g.GetScope().GetFrom()
	}
	return "in force"
}

// granted is what the page of a grant shows.
type granted struct {
	*pb.Grant
	Party, State, Token string
	Affiliates          []string
	Works               []work
	Uses                []*pb.Use
	UsesMore            bool
	Draft, Offered      bool
	Executed            bool
	Step                *form
	Staff, Owner        bool
	Warned              []string
}

func (s *Site) grant(v *visit) error { return s.showGrant(v, http.StatusOK, v.blank(nil)) }

// showGrant shows a grant in full words, with the forms of its life.
func (s *Site) showGrant(v *visit, code int, step *form) error {
	g, err := s.services.licensing.GetGrant(v.ctx(), &pb.GetGrantRequest{Name: v.named("grants")})
	if err != nil {
		return err
	}
	names, err := s.partyNames(v)
	if err != nil {
		return err
	}
	page := granted{
		Grant: g, Party: partyWords(names, g.GetLicensee(), v), State: stateOf(g, s.today()), Token: v.token, Step: step, Staff: v.staff(), Owner: v.role == pb.Role_ROLE_OWNER,
		Draft:   slices.Contains([]pb.GrantStatus{pb.GrantStatus_GRANT_STATUS_UNSPECIFIED, pb.GrantStatus_GRANT_STATUS_DRAFT}, g.GetStatus()),
		Offered: g.GetStatus() == pb.GrantStatus_GRANT_STATUS_OFFERED, Executed: g.GetStatus() == pb.GrantStatus_GRANT_STATUS_EXECUTED,
		Warned: v.r.URL.Query()["warned"],
	}
	if page.Works, err = s.worksOf(v, g.GetScope()); err != nil {
		return err
	}
	for _, a := range g.GetAffiliates() {
		page.Affiliates = append(page.Affiliates, partyWords(names, a, v))
	}
	res, err := s.services.licensing.ListUses(v.ctx(), &pb.ListUsesRequest{Grant: g.GetName(), PageSize: grantsPage})
	if err != nil && status.Code(err) != codes.NotFound {
		return err
	}
	page.Uses, page.UsesMore = res.GetUses(), res.GetNextPageToken() != ""
	return v.show(code, "grant.html", "Grant to "+page.Party, page)
}

// grantFile sends a grant in a format of others, or its statement.
func (s *Site) grantFile(v *visit) error {
	var kind, file string
	var content []byte
	switch v.r.PathValue("what") {
	case "odrl":
		res, err := s.services.licensing.ExportGrant(v.ctx(), &pb.ExportGrantRequest{Name: v.named("grants"), Format: "odrl"})
		if err != nil {
			return err
		}
		kind, file, content = res.GetMediaType(), res.GetFileName(), res.GetContent()
	case "statement":
		res, err := s.services.licensing.GetStatement(v.ctx(), &pb.GetStatementRequest{Grant: v.named("grants")})
		if err != nil {
			return err
		}
		kind, file, content = "application/json", res.GetFileName(), res.GetContent()
	default:
		return errNoPage
	}
	h := v.w.Header()
	h.Set("Content-Type", kind)
	h.Set("Content-Disposition", `attachment; filename="`+safeName(file)+`"`)
	_, _ = v.w.Write(content) // the visitor may have gone
	return nil
}

// useOf shows a use.
func (s *Site) useOf(v *visit) error {
	u, err := s.services.licensing.GetUse(v.ctx(), &pb.GetUseRequest{Name: v.named("uses")})
	if err != nil {
		return err
	}
	party, err := s.partyName(v, u.GetUser())
	if err != nil {
		return err
	}
	works, err := s.worksOf(v, u.GetScope())
	if err != nil {
		return err
	}
	return v.show(http.StatusOK, "use.html", u.GetTitle(), struct {
		*pb.Use
		Party, Scope string
		Works        []work
		Verdict      string
		Why          []string
	}{u, party, scopeWords(u.GetScope()), works, v.r.URL.Query().Get("verdict"), v.r.URL.Query()["why"]})
}
