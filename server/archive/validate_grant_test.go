package archive

import (
	"math"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

func TestGrantRules(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	right := func() *pb.Grant {
		g := licence("parties/client", "pictures/subject", "-pictures/subject#tail")
		g.Fee = &pb.Money{Amount: "450.00", Currency: "EUR"}
		return g
	}
	scope := func(spoil func(*pb.Scope)) func(*pb.Grant) { return func(g *pb.Grant) { spoil(g.Scope) } }
	fee := func(amount, currency string) func(*pb.Grant) {
		return func(g *pb.Grant) { g.Fee = &pb.Money{Amount: amount, Currency: currency} }
	}
	cases := []wrong[*pb.Grant]{
		{"licensee", func(g *pb.Grant) { g.Licensee = "" }},
		{"licensee", func(g *pb.Grant) { g.Licensee = "parties/none-such" }},
		{"licensee", func(g *pb.Grant) { g.Licensee = "pictures/subject" }},
		{"affiliates[0]", func(g *pb.Grant) { g.Affiliates = []string{"parties/none-such"} }},
		{"amends", func(g *pb.Grant) { g.Amends = "grants/none-such" }},
		{"supersedes", func(g *pb.Grant) { g.Supersedes = "grants/none-such" }},
		{"subject_to[0]", func(g *pb.Grant) { g.SubjectTo = []string{"grants/none-such"} }},
		{"head", func(g *pb.Grant) { g.Kind = pb.GrantKind_GRANT_KIND_SUBLICENCE }},
		{"kind", func(g *pb.Grant) { g.Kind = 44 }},
		{"exclusivity", func(g *pb.Grant) { g.Exclusivity = 44 }},
		{"status", func(g *pb.Grant) { g.Status = 44 }},
		{"disclosure", func(g *pb.Grant) { g.Disclosure = 44 }},
		{"scope.works", func(g *pb.Grant) { g.Scope = nil }},
		{"scope.works", scope(func(sc *pb.Scope) { sc.Works = nil })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works[0] = "pictures/none-such" })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works[0] = "pictures/subject#" })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works[0] = "specimens/subject" })},
		{"scope.media", scope(func(sc *pb.Scope) { sc.Media = nil })},
		{"scope.media[0]", scope(func(sc *pb.Scope) { sc.Media = []string{"print.bok"} })},
		{"scope.territories", scope(func(sc *pb.Scope) { sc.Territories = nil })},
		{"scope.territories[1]", scope(func(sc *pb.Scope) { sc.Territories = []string{"DE", "QQ"} })},
		{"scope.languages", scope(func(sc *pb.Scope) { sc.Languages = nil })},
		{"scope.languages[0]", scope(func(sc *pb.Scope) { sc.Languages = []string{"not a tag"} })},
		{"scope.purposes[0]", scope(func(sc *pb.Scope) { sc.Purposes = []string{"charity"} })},
		{"scope.from", scope(func(sc *pb.Scope) { sc.From = "soon" })},
		{"scope.to", scope(func(sc *pb.Scope) { sc.To = "2026-02-30" })},
		{"scope.to", scope(func(sc *pb.Scope) { sc.To = "2025-01-01" })},
		{"reserved_media", func(g *pb.Grant) { g.ReservedMedia = []string{"digital.web"} }},
		{"reserved_media[0]", func(g *pb.Grant) {
			g.Exclusivity, g.ReservedMedia = pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE, []string{"print.bok"}
		}},
		{"signed_on", func(g *pb.Grant) { g.SignedOn = "" }},
		{"signed_on", func(g *pb.Grant) { g.SignedOn = "10.1.2026" }},
		{"exclusive_to", func(g *pb.Grant) { g.ExclusiveTo = "later" }},
		{"ended_on", func(g *pb.Grant) { g.EndedOn = "later" }},
		{"paid_on", func(g *pb.Grant) { g.PaidOn = "yes" }},
		{"embargo_until", func(g *pb.Grant) { g.EmbargoUntil = "x" }},
		{"first_published_on", func(g *pb.Grant) { g.FirstPublishedOn = "x" }},
		{"first_publication_deadline", func(g *pb.Grant) { g.FirstPublicationDeadline = "x" }},
		{"effective_on", func(g *pb.Grant) { g.EffectiveOn = "x" }},
		{"selloff_to", func(g *pb.Grant) { g.SelloffTo = "x" }},
		{"option_until", func(g *pb.Grant) { g.OptionUntil = "x" }},
		{"evidence_due_on", func(g *pb.Grant) { g.EvidenceDueOn = "x" }},
		{"evidence_received_on", func(g *pb.Grant) { g.EvidenceReceivedOn = "x" }},
		{"holdback_mode", func(g *pb.Grant) { g.HoldbackMode = "some" }},
		{"term_event.happened_on", func(g *pb.Grant) { g.TermEvent = &pb.TermEvent{HappenedOn: "x"} }},
		{"term_event.months", func(g *pb.Grant) { g.TermEvent = &pb.TermEvent{Anchor: "publication", Months: -1} }},
		{"term_event.months", func(g *pb.Grant) { g.TermEvent = &pb.TermEvent{Anchor: "publication", Months: math.MaxInt32} }},
		{"fee", fee("NaN", "EUR")},
		{"fee", fee("1e3", "EUR")},
		{"fee", fee("450.00", "GOLD")},
		{"fee", fee("450.001", "EUR")},
		{"copies_max", func(g *pb.Grant) { g.CopiesMax = -1 }},
		{"uses_max", func(g *pb.Grant) { g.UsesMax = -1 }},
		{"document_sha256", func(g *pb.Grant) { g.DocumentSha256 = noDigest }},
		{"public_licence", func(g *pb.Grant) { g.Kind, g.Licensee = pb.GrantKind_GRANT_KIND_PUBLIC, "" }},
		{"public_licence", func(g *pb.Grant) {
			g.Kind, g.Licensee, g.PublicLicence = pb.GrantKind_GRANT_KIND_PUBLIC, "", "https://example.org/licence"
		}},
		{"credit_line", func(g *pb.Grant) { g.CreditLine = long(maxTitle) }},
		{"product", func(g *pb.Grant) { g.Product = long(maxTitle) }},
		{"ended_reason", func(g *pb.Grant) { g.EndedReason = long(maxTitle) }},
		{"notes", func(g *pb.Grant) { g.Notes = long(maxText) }},
	}
	refuses(t, s, right, func(g *pb.Grant) error { _, err := s.CreateGrant(t.Context(), owner, g, ""); return err }, cases)
	for _, c := range cases { // a trial says the same
		g := right()
		c.spoil(g)
		_, err := s.TryGrant(t.Context(), g, "")
		wantViolation(t, err, c.field)
	}
	g := right()
	g.DocumentSha256 = strings.Repeat("0", 64)
	_, err := s.CreateGrant(t.Context(), owner, g, "")
	wantIs(t, err, ErrNoOriginal)
}

func TestUseRules(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	right := func() *pb.Use {
		u := printed("parties/client", "", "pictures/subject")
		u.Identifier = "978-3-16-148410-0" // the example of the ISBN manual
		return u
	}
	scope := func(spoil func(*pb.Scope)) func(*pb.Use) { return func(u *pb.Use) { spoil(u.Scope) } }
	refuses(t, s, right, func(u *pb.Use) error { _, err := s.CreateUse(t.Context(), owner, u, ""); return err }, []wrong[*pb.Use]{
		{"user", func(u *pb.Use) { u.User = "" }},
		{"user", func(u *pb.Use) { u.User = "parties/none-such" }},
		{"grant", func(u *pb.Use) { u.Grant = "grants/none-such" }},
		{"title", func(u *pb.Use) { u.Title = "" }},
		{"title", func(u *pb.Use) { u.Title = long(maxTitle) }},
		{"edition", func(u *pb.Use) { u.Edition = long(maxTitle) }},
		{"credit_as_printed", func(u *pb.Use) { u.CreditAsPrinted = long(maxTitle) }},
		{"locator", func(u *pb.Use) { u.Locator = long(maxTitle) }},
		{"notes", func(u *pb.Use) { u.Notes = long(maxText) }},
		{"copies", func(u *pb.Use) { u.Copies = -1 }},
		{"identifier", func(u *pb.Use) { u.Identifier = "978-3-16-148410-1" }},
		{"identifier", func(u *pb.Use) { u.Identifier = "page 12" }},
		{"evidence_sha256", func(u *pb.Use) { u.EvidenceSha256 = noDigest }},
		{"scope.from", scope(func(sc *pb.Scope) { sc.From = "" })},
		{"scope.from", scope(func(sc *pb.Scope) { sc.From = "soon" })},
		{"scope.to", scope(func(sc *pb.Scope) { sc.To = "2026-01-01" })},
		{"scope.works", scope(func(sc *pb.Scope) { sc.Works = nil })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works = []string{"pictures/none-such"} })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works = []string{"*"} })},
		{"scope.media[0]", scope(func(sc *pb.Scope) { sc.Media = []string{"print.bok"} })},
		{"scope.territories[0]", scope(func(sc *pb.Scope) { sc.Territories = []string{"QQ"} })},
		{"scope.languages[0]", scope(func(sc *pb.Scope) { sc.Languages = []string{"not a tag"} })},
		{"scope.purposes[0]", scope(func(sc *pb.Scope) { sc.Purposes = []string{"charity"} })},
	})
	// Whatever is stored can be judged, with and without its sides.
	for _, spoil := range []func(*pb.Scope){func(*pb.Scope) {}, func(sc *pb.Scope) { sc.Media, sc.Territories, sc.Languages = nil, nil, nil }, func(sc *pb.Scope) { sc.From = "2026" }} {
		u := right()
		spoil(u.Scope)
		made := must[*pb.Use](t)(s.CreateUse(t.Context(), owner, u, ""))
		if _, err := s.Verdict(made); err != nil {
			t.Errorf("stored, but not to be judged: %v", err)
		}
	}
}

// Check digits: published examples of the ISBN users' manual and of ISO 3297 (ISSN), and slips of them.
func TestIdentifiers(t *testing.T) {
	for id, ok := range map[string]bool{
		"978-3-16-148410-0": true, "9783161484100": true, "0-306-40615-2": true, "0317-8471": true, "2434-561X": true, "2434-561x": true,
		"978-3-16-148401-0": false, "0-306-40615-3": false, "0317-8472": false, "2434-5610": false, "X434-5610": false, "97831614841": false,
		"doi:10.1000/182": true, "": true, "12345678901234": false,
	} {
		var c checks
		c.identifier("identifier", id)
		if (c.err() == nil) != ok {
			t.Errorf("%q: %v; want right %v", id, c.err(), ok)
		}
	}
}
