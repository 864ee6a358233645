package archive

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"platarium/indexer"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// collides says which grants a grant was refused for.
func collides(err error) []string {
	var c *CollisionError
	if !errors.As(err, &c) {
		return nil
	}
	var names []string
	for _, with := range c.With {
		names = append(names, with.Grant)
	}
	return names
}

// Rule 1: a grant over forty pictures is one commit.
func TestRule01GrantOverFortyPicturesIsOneCommit(t *testing.T) {
	s := newStudio(t)
	client := s.party(t, "client")
	var list []Creation[*pb.Picture]
	var works []string
	for i := range 40 {
		list = append(list, Creation[*pb.Picture]{Record: plate(), ID: fmt.Sprintf("plate-%02d", i)})
		works = append(works, fmt.Sprintf("pictures/plate-%02d", i))
	}
	out, _ := s.BatchCreatePictures(t.Context(), "owner-key", list, true, false)
	if out[0].Err != nil {
		t.Fatal(out[0].Err)
	}
	before := s.Journal().Position().Seq
	must[*pb.Grant](t)(s.CreateGrant(t.Context(), owner, exclusive(client, works...), "forty"))
	if got := s.Journal().Position().Seq; got != before+1 {
		t.Errorf("commits %d to %d; want one", before+1, got)
	}
	rival := s.party(t, "rival")
	for _, w := range []string{works[0], works[39]} {
		_, err := s.CreateGrant(t.Context(), owner, licence(rival, w), "")
		if got := collides(err); !slices.Equal(got, []string{"grants/forty"}) {
			t.Errorf("a licence of %s collides with %v", w, got)
		}
		if g := must[[]*pb.Grant](t)(s.GrantsOver(w)); len(g) != 1 {
			t.Errorf("%d grants over %s", len(g), w)
		}
	}
}

func TestCollisions(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	s.picture(t, "subject", nil)
	a, b := s.party(t, "party-a"), s.party(t, "party-b")
	try := func(g *pb.Grant) []string {
		t.Helper()
		_, err := s.TryGrant(ctx, g, "")
		if err != nil && collides(err) == nil {
			t.Fatal(err)
		}
		return collides(err)
	}
	seq := s.Journal().Position().Seq
	if got := try(exclusive(a, "pictures/subject")); got != nil || s.Journal().Position().Seq != seq {
		t.Fatalf("trial of a free one: %v", got)
	}
	held := must[*pb.Grant](t)(s.CreateGrant(ctx, owner, exclusive(a, "pictures/subject"), "held"))
	if len(held.GetScope().GetExpandedTerritories()) != 2 || held.GetScope().GetTables() == "" || len(held.GetScope().GetExpandedMedia()) == 0 {
		t.Errorf("groups of an executed grant aren't frozen: %v", held.GetScope())
	}
	change := func(f func(*pb.Grant)) *pb.Grant {
		g := licence(b, "pictures/subject")
		f(g)
		return g
	}
	for name, c := range map[string]struct {
		grant *pb.Grant
		hits  bool
	}{
		"same":               {change(func(*pb.Grant) {}), true},
		"a part":             {change(func(g *pb.Grant) { g.Scope.Works[0] += "#tail" }), true},
		"all works":          {change(func(g *pb.Grant) { g.Scope.Works[0] = "*" }), true},
		"other medium":       {change(func(g *pb.Grant) { g.Scope.Media[0] = "digital.web" }), false},
		"narrower medium":    {change(func(g *pb.Grant) { g.Scope.Media[0] = "print.book.hardback" }), true},
		"other country":      {change(func(g *pb.Grant) { g.Scope.Territories = []string{"FR"} }), false},
		"a group around":     {change(func(g *pb.Grant) { g.Scope.Territories = []string{"150"} }), true},
		"world without":      {change(func(g *pb.Grant) { g.Scope.Territories = []string{"WORLD", "-DE", "-AT"} }), false},
		"after the last day": {change(func(g *pb.Grant) { g.Scope.From, g.Scope.To = "2028-01-15", "" }), false},
		"on the last day":    {change(func(g *pb.Grant) { g.Scope.From, g.Scope.To = "2028-01-14", "" }), true},
		"subject to it": {change(func(g *pb.Grant) {
			g.Exclusivity, g.SubjectTo = pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE, []string{"grants/held"}
		}), true},
		"to the same party": {change(func(g *pb.Grant) { g.Licensee = a }), false},
	} {
		if got := try(c.grant); (len(got) > 0) != c.hits {
			t.Errorf("%s: collides with %v; want %v", name, got, c.hits)
		}
	}
	// A draft promises nothing yet; signing it is refused.
	draft := change(func(g *pb.Grant) { g.Status, g.SignedOn = pb.GrantStatus_GRANT_STATUS_DRAFT, "" })
	d := must[*pb.Grant](t)(s.CreateGrant(ctx, owner, draft, "draft"))
	d.Status, d.SignedOn = pb.GrantStatus_GRANT_STATUS_EXECUTED, "2026-02-01"
	_, err := s.UpdateGrant(ctx, owner, d, []string{"status", "signed_on"})
	if got := collides(err); !slices.Equal(got, []string{"grants/held"}) {
		t.Errorf("signing the draft collides with %v: %v", got, err)
	}
	d.Scope.Media = []string{"digital.web"}
	must[*pb.Grant](t)(s.UpdateGrant(ctx, owner, d, []string{"status", "signed_on", "scope.media"}))
}

// What was agreed in a signed grant isn't changed; what happens to it is.
func TestExecutedGrant(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	prepare(t, s)
	g := must[*pb.Grant](t)(s.CreateGrant(ctx, owner, exclusive("parties/client", "pictures/subject"), "signed"))
	allowed := map[string]bool{}
	for _, f := range afterSignature {
		allowed[f] = true
	}
	fields := g.ProtoReflect().Descriptor().Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		if serverOwned[string(f.Name())] || allowed[string(f.Name())] {
			continue
		}
		next := proto.Clone(g).(*pb.Grant)
		next.ProtoReflect().Clear(f)
		if !g.ProtoReflect().Has(f) {
			filled(next.ProtoReflect(), f)
		}
		if proto.Equal(next, g) || f.Kind().String() == "message" && proto.Size(next.ProtoReflect().Get(f).Message().Interface()) == 0 && !g.ProtoReflect().Has(f) {
			continue // an empty message is as good as none
		}
		_, err := s.UpdateGrant(ctx, owner, next, []string{string(f.Name())})
		wantViolation(t, err, f.JSONName())
	}
	_, err := s.UpdateGrant(ctx, owner, &pb.Grant{Name: g.GetName(), Scope: &pb.Scope{To: "2030"}}, []string{"scope.to"})
	wantViolation(t, err, "scope")
	next := &pb.Grant{
		Name: g.GetName(), PaidOn: "2026-02-01", EvidenceReceivedOn: "2026-05-01", Disclosure: pb.Disclosure_DISCLOSURE_FULL, Notes: "paid",
		TermEvent: &pb.TermEvent{Anchor: "publication", Months: 12, HappenedOn: "2026-04-01"}, FirstPublishedOn: "2026-04-01", EndedReason: "x",
	}
	changed := must[*pb.Grant](t)(s.UpdateGrant(ctx, owner, next, []string{"paid_on", "evidence_received_on", "disclosure", "notes", "term_event", "first_published_on", "ended_reason"}))
	same(t, "scope", changed.GetScope(), g.GetScope())
	if changed.GetPaidOn() != "2026-02-01" || changed.GetNotes() != "paid" || changed.GetRevision() != 2 {
		t.Errorf("changed to %v", changed)
	}
	// The whole of it again by "*" is no change of what was agreed.
	changed.Notes = "all again"
	must[*pb.Grant](t)(s.UpdateGrant(ctx, owner, changed, []string{"*"}))
}

func TestEndGrant(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	s.picture(t, "subject", nil)
	a, b := s.party(t, "party-a"), s.party(t, "party-b")
	must[*pb.Grant](t)(s.CreateGrant(ctx, owner, exclusive(a, "pictures/subject"), "first"))
	for _, day := range []string{"", "2026-02-30", "2026-02", "soon"} {
		_, err := s.EndGrant(ctx, owner, "grants/first", day, "")
		wantViolation(t, err, "ended_on")
	}
	_, err := s.EndGrant(ctx, owner, "grants/first", "2026-03-01", long(maxTitle))
	wantViolation(t, err, "reason")
	_, err = s.EndGrant(ctx, owner, "grants/none-such", "2026-03-01", "")
	wantIs(t, err, ErrNotFound)
	ended := must[*pb.Grant](t)(s.EndGrant(ctx, owner, "grants/first", "2026-03-01", "reversion"))
	if ended.GetEndedOn() != "2026-03-01" || ended.GetEndedReason() != "reversion" {
		t.Errorf("ended as %v", ended)
	}
	second := exclusive(b, "pictures/subject")
	second.Scope.From = "2026-03-01"
	must[*pb.Grant](t)(s.CreateGrant(ctx, owner, second, "second"))
	// The end can't be moved into what was granted since.
	_, err = s.EndGrant(ctx, owner, "grants/first", "2026-03-02", "")
	if got := collides(err); !slices.Equal(got, []string{"grants/second"}) {
		t.Errorf("moving the end collides with %v: %v", got, err)
	}
	_, err = s.UpdateGrant(ctx, owner, &pb.Grant{Name: "grants/first"}, []string{"ended_on"})
	if got := collides(err); !slices.Equal(got, []string{"grants/second"}) {
		t.Errorf("taking the end back collides with %v: %v", got, err)
	}
	must[*pb.Grant](t)(s.EndGrant(ctx, owner, "grants/first", "2026-02-01", "earlier"))
	open := &pb.Grant{
		Kind: pb.GrantKind_GRANT_KIND_PUBLIC, PublicLicence: "https://creativecommons.org/licenses/by/4.0/", Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: "2026-01-01",
		Scope: &pb.Scope{Works: []string{"pictures/subject"}, Media: []string{"digital.web"}, Territories: []string{"WORLD"}, Languages: []string{"*"}},
	}
	must[*pb.Grant](t)(s.CreateGrant(ctx, owner, open, "open"))
	_, err = s.EndGrant(ctx, owner, "grants/open", "2026-03-01", "")
	wantViolation(t, err, "name")
}

// Rule 14: "today" is the studio's calendar day: an exclusive grant holds until its last day there is over.
func TestRule14TodayIsTheStudiosDay(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	east := must[*time.Location](t)(time.LoadLocation("Pacific/Auckland"))
	west := must[*time.Location](t)(time.LoadLocation("America/Los_Angeles"))
	g := exclusive("parties/client", "pictures/subject")
	g.Scope.To = "2026-05-04"
	must[*pb.Grant](t)(s.CreateGrant(t.Context(), owner, g, ""))
	there := map[string]*studio{
		"UTC":  s,
		"east": s.join(t, func(c *Config) { c.Location = east }),
		"west": s.join(t, func(c *Config) { c.Location = west }),
	}
	for _, c := range []struct {
		at    string
		holds map[string]bool
	}{
		{"2026-05-04T06:00:00Z", map[string]bool{"UTC": true, "east": true, "west": true}},
		{"2026-05-04T11:59:59Z", map[string]bool{"UTC": true, "east": true, "west": true}},
		{"2026-05-04T12:00:00Z", map[string]bool{"UTC": true, "east": false, "west": true}}, // midnight in Auckland
		{"2026-05-04T23:59:59Z", map[string]bool{"UTC": true, "east": false, "west": true}},
		{"2026-05-05T00:00:00Z", map[string]bool{"UTC": false, "east": false, "west": true}},
		{"2026-05-05T06:59:59Z", map[string]bool{"UTC": false, "east": false, "west": true}},
		{"2026-05-05T07:00:00Z", map[string]bool{"UTC": false, "east": false, "west": false}}, // midnight in Los Angeles
	} {
		s.clock.set(must[time.Time](t)(time.Parse(time.RFC3339, c.at)))
		for name, a := range there {
			words := must[string](t)(a.StandingText("pictures/subject", false))
			state, err := a.Standing(false)
			if err != nil {
				t.Fatal(err)
			}
			if got := strings.HasPrefix(words, "exclusive until 2026-05-04"); got != c.holds[name] || (state.Of("pictures/subject") == string(rights.Limited)) != got {
				t.Errorf("%s, %s: %q and %q; want exclusive %v", c.at, name, words, state.Of("pictures/subject"), c.holds[name])
			}
		}
	}
}

// To outsiders the standing is silent where a confidential grant plays a part, and only there.
func TestConfidentialStanding(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	party := s.party(t, "client")
	secret := func(g *pb.Grant) *pb.Grant {
		g.Disclosure = pb.Disclosure_DISCLOSURE_CONFIDENTIAL
		return g
	}
	draft := func(g *pb.Grant) *pb.Grant {
		g.Status = pb.GrantStatus_GRANT_STATUS_DRAFT
		return g
	}
	past := func(g *pb.Grant) *pb.Grant {
		g.Scope.From, g.Scope.To, g.SignedOn = "2020", "2021", "2020"
		return g
	}
	longer := func(g *pb.Grant) *pb.Grant {
		g.Scope.To = "2040"
		return g
	}
	cases := map[string]struct {
		grants []func(work string) *pb.Grant
		silent bool
	}{
		"none":              {nil, false},
		"told":              {[]func(string) *pb.Grant{func(w string) *pb.Grant { return exclusive(party, w) }}, false},
		"secret":            {[]func(string) *pb.Grant{func(w string) *pb.Grant { return secret(exclusive(party, w)) }}, true},
		"secret draft":      {[]func(string) *pb.Grant{func(w string) *pb.Grant { return draft(secret(exclusive(party, w))) }}, false},
		"secret and over":   {[]func(string) *pb.Grant{func(w string) *pb.Grant { return past(secret(exclusive(party, w))) }}, false},
		"told and secret":   {[]func(string) *pb.Grant{func(w string) *pb.Grant { return exclusive(party, w) }, func(w string) *pb.Grant { return secret(longer(exclusive(party, w))) }}, true},
		"told, secret past": {[]func(string) *pb.Grant{func(w string) *pb.Grant { return exclusive(party, w) }, func(w string) *pb.Grant { return past(secret(exclusive(party, w))) }}, false},
		"secret licence":    {[]func(string) *pb.Grant{func(w string) *pb.Grant { return secret(licence(party, w)) }}, true},
	}
	id := func(name string) string { return strings.NewReplacer(" ", "-", ",", "").Replace(name) + "-pic" }
	for name, c := range cases {
		p := s.picture(t, id(name), nil)
		for _, g := range c.grants {
			must[*pb.Grant](t)(s.CreateGrant(ctx, owner, g(p.GetName()), ""))
		}
	}
	check := func(everywhere bool) {
		t.Helper()
		outside, staff := must[*indexer.Standing](t)(s.Standing(true)), must[*indexer.Standing](t)(s.Standing(false))
		for name, c := range cases {
			p := "pictures/" + id(name)
			text, inside := must[string](t)(s.StandingText(p, true)), must[string](t)(s.StandingText(p, false))
			silent := c.silent || everywhere
			if (text == AskStudio) != silent || (outside.Of(p) == AskStudio) != silent {
				t.Errorf("%s: outsiders read %q, find by %q; want silence %v", name, text, outside.Of(p), silent)
			}
			if inside == AskStudio || staff.Of(p) == AskStudio {
				t.Errorf("%s: staff reads %q, finds by %q", name, inside, staff.Of(p))
			}
		}
		if got := outside.Of("pictures/without-any-grant"); (got == AskStudio) != everywhere {
			t.Errorf("a picture without grants stands %q to outsiders", got)
		}
	}
	check(false)
	all := secret(exclusive(party, "*"))
	all.Scope.Media, all.Scope.Territories = []string{"digital.web"}, []string{"WORLD"}
	g := must[*pb.Grant](t)(s.CreateGrant(ctx, owner, all, "all-works"))
	check(true)
	must[*pb.Grant](t)(s.EndGrant(ctx, owner, g.GetName(), "2026-01-15", ""))
	check(false)
	s = s.reopen(t)
	check(false)
}

// Uses count against the caps of a grant in the order of publication, whatever the order of recording.
func TestVerdicts(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	prepare(t, s)
	g := licence("parties/client", "pictures/subject")
	g.CopiesMax = 1000
	g = must[*pb.Grant](t)(s.CreateGrant(ctx, owner, g, "capped"))
	use := func(id, from string, copies int64) *pb.Use {
		u := printed("parties/client", g.GetName(), "pictures/subject")
		u.Scope.From, u.Copies = from, copies
		return must[*pb.Use](t)(s.CreateUse(ctx, owner, u, id))
	}
	verdict := func(u *pb.Use) rights.Ruling {
		t.Helper()
		return must[rights.Ruling](t)(s.Verdict(u))
	}
	second := use("second", "2026-04-01", 600)
	if r := verdict(second); r.Verdict != rights.Licensed {
		t.Errorf("600 of 1,000: %v", r)
	}
	first := use("first-use", "2026-03-01", 500) // came out before, recorded after
	if r := verdict(first); r.Verdict != rights.Licensed {
		t.Errorf("the first 500: %v", r)
	}
	if r := verdict(second); r.Verdict == rights.Licensed || r.Code != rights.Overrun {
		t.Errorf("600 after 500 of 1,000: %v", r)
	}
	other := printed("parties/client", "", "pictures/subject")
	other.Scope.Media = []string{"digital.web"}
	if r := verdict(must[*pb.Use](t)(s.CreateUse(ctx, owner, other, ""))); r.Verdict != rights.NotLicensed || r.Code != rights.Medium {
		t.Errorf("another medium: %v", r)
	}
}
