package archive

import (
	"errors"
	"fmt"
	"strings"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
	"platarium/server/rights/money"
)

// dates reads the dates of a record and gathers what is wrong with them.
type dates struct{ checks *checks }

func (d dates) read(field, s string) rights.Date {
	date, err := rights.ParseDate(s)
	if err != nil {
		d.checks.add(field, "found %q; want a day, month or year such as 2026-03-31, 2026-03 or 2026", s)
	}
	return date
}

var grantKinds = map[pb.GrantKind]rights.Kind{
	pb.GrantKind_GRANT_KIND_UNSPECIFIED: rights.Licence, pb.GrantKind_GRANT_KIND_LICENCE: rights.Licence,
	pb.GrantKind_GRANT_KIND_SUBLICENCE: rights.Sublicence, pb.GrantKind_GRANT_KIND_ASSIGNMENT: rights.Assignment,
	pb.GrantKind_GRANT_KIND_HOLDBACK: rights.Holdback, pb.GrantKind_GRANT_KIND_OPTION: rights.Option, pb.GrantKind_GRANT_KIND_PUBLIC: rights.Public,
}

var exclusivities = map[pb.Exclusivity]rights.Exclusivity{
	pb.Exclusivity_EXCLUSIVITY_UNSPECIFIED: rights.NonExclusive, pb.Exclusivity_EXCLUSIVITY_NON_EXCLUSIVE: rights.NonExclusive,
	pb.Exclusivity_EXCLUSIVITY_SOLE: rights.Sole, pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE: rights.Exclusive, pb.Exclusivity_EXCLUSIVITY_FIRST_RIGHTS: rights.FirstRights,
}

var grantStatuses = map[pb.GrantStatus]rights.Status{
	pb.GrantStatus_GRANT_STATUS_UNSPECIFIED: rights.Draft, pb.GrantStatus_GRANT_STATUS_DRAFT: rights.Draft,
	pb.GrantStatus_GRANT_STATUS_OFFERED: rights.Offered, pb.GrantStatus_GRANT_STATUS_EXECUTED: rights.Executed, pb.GrantStatus_GRANT_STATUS_VOID: rights.Void,
}

// RightsExclusivity gives the degree of exclusivity in the terms of package rights.
func RightsExclusivity(e pb.Exclusivity) rights.Exclusivity { return exclusivities[e] }

// rightsGrant converts a grant record; what is wrong with it goes to c. Copies and uses made so far are the caller's to fill in.
func rightsGrant(c *checks, g *pb.Grant) rights.Grant {
	d := dates{c}
	out := rights.Grant{
		ID: g.GetName(), To: g.GetLicensee(), Affiliates: g.GetAffiliates(), Kind: grantKinds[g.GetKind()], Exclusivity: exclusivities[g.GetExclusivity()],
		ExclusiveTo: d.read("exclusive_to", g.GetExclusiveTo()), Scope: rightsScope(d, "scope", g.GetScope()),
		Reserved:       g.GetReservedMedia(),
		FirstPublished: d.read("first_published_on", g.GetFirstPublishedOn()), FirstDeadline: d.read("first_publication_deadline", g.GetFirstPublicationDeadline()),
		EmbargoUntil: d.read("embargo_until", g.GetEmbargoUntil()), Status: grantStatuses[g.GetStatus()], Signed: d.read("signed_on", g.GetSignedOn()),
		Amends: g.GetAmends(), Effective: d.read("effective_on", g.GetEffectiveOn()), Ended: d.read("ended_on", g.GetEndedOn()), EndReason: g.GetEndedReason(),
		SellOffTo: d.read("selloff_to", g.GetSelloffTo()), Head: g.GetHead(), Survives: g.GetSurvivesHead(), Until: d.read("option_until", g.GetOptionUntil()),
		URI: g.GetPublicLicence(), SubjectTo: g.GetSubjectTo(), CopiesMax: g.GetCopiesMax(), UsesMax: g.GetUsesMax(), Product: g.GetProduct(), Credit: g.GetCreditLine(),
		MayAlter: g.GetAlterationAllowed(), EvidenceDue: d.read("evidence_due_on", g.GetEvidenceDueOn()), EvidenceReceived: d.read("evidence_received_on", g.GetEvidenceReceivedOn()),
		PaymentCondition: g.GetPaymentIsCondition(), Paid: g.GetPaidOn() != "",
	}
	if s := g.GetScope(); len(s.GetExpandedTerritories()) > 0 || len(s.GetExpandedMedia()) > 0 {
		out.Frozen = rights.Frozen{Territory: s.GetExpandedTerritories(), Media: s.GetExpandedMedia(), Tables: s.GetTables()}
	}
	if g.GetSupersedes() != "" {
		out.Supersedes = []string{g.GetSupersedes()}
	}
	if e := g.GetTermEvent(); e != nil {
		out.Term = &rights.TermEvent{Anchor: e.GetAnchor(), Months: int(e.GetMonths()), Date: d.read("term_event.happened_on", e.GetHappenedOn())}
	}
	switch g.GetHoldbackMode() {
	case "", "third-party":
	case "all":
		out.Mode = rights.Everyone
	default:
		c.add("holdback_mode", "found %q; want third-party or all", g.GetHoldbackMode())
	}
	if f := g.GetFee(); f != nil {
		amount, err := money.Parse(f.GetAmount(), f.GetCurrency())
		if err != nil {
			c.add("fee", "%s", err)
		}
		out.Fee = amount
	}
	d.read("paid_on", g.GetPaidOn())
	return out
}

func rightsScope(d dates, field string, s *pb.Scope) rights.Scope {
	return rights.Scope{
		Works: s.GetWorks(), Media: s.GetMedia(), Territory: s.GetTerritories(), Languages: s.GetLanguages(), Purposes: s.GetPurposes(),
		From: d.read(field+".from", s.GetFrom()), To: d.read(field+".to", s.GetTo()),
	}
}

// RightsScope converts a scope as asked for; the error is an *InvalidError. A word that the vocabularies don't have is refused: it would meet no grant, and so
// look free.
func RightsScope(s *pb.Scope, day time.Time) (rights.Scope, error) {
	var c checks
	out := c.scope("scope", s, day)
	return out, c.err()
}

// scope reads a scope, of which a side may be left empty.
func (c *checks) scope(field string, s *pb.Scope, day time.Time) rights.Scope {
	out := rightsScope(dates{c}, field, s)
	for _, e := range rights.CheckScope(out, "scope.", day.Format(time.DateOnly)) {
		if e.Found != "" || e.Field == "scope.works" {
			c.rights(rights.FieldErrors{e})
		}
	}
	return out
}

// InvalidRights turns the field errors of package rights into violations; another error stays as it is.
func InvalidRights(err error) error {
	var c checks
	if !c.rights(err) {
		return err
	}
	return c.err()
}

// recordFields maps the field names of package rights to those of the record. A question has the scope's fields among its own.
var recordFields = map[string]string{
	"works": "scope.works", "media": "scope.media", "territory": "scope.territories", "languages": "scope.languages", "purposes": "scope.purposes", "from": "scope.from", "to": "scope.to",
	"scope.territory": "scope.territories", "reserved": "reserved_media", "signed": "signed_on", "ended": "ended_on", "uri": "public_licence", "term.months": "term_event.months",
}

// rights adds the field errors of package rights; false if err is something else.
func (c *checks) rights(err error) bool {
	if err == nil {
		return true
	}
	var one *rights.FieldError
	var many rights.FieldErrors
	switch {
	case errors.As(err, &many):
	case errors.As(err, &one):
		many = rights.FieldErrors{*one}
	default:
		return false
	}
	for _, e := range many {
		head, rest := e.Field, ""
		if i := strings.IndexByte(head, '['); i >= 0 {
			head, rest = head[:i], head[i:]
		}
		if mapped, ok := recordFields[head]; ok {
			head = mapped
		}
		description := fmt.Sprintf("found %q; want %s", e.Found, e.Wanted)
		if e.Found == "" {
			description = "is missing; want " + e.Wanted
		}
		c.add(head+rest, "%s", description)
	}
	return true
}
