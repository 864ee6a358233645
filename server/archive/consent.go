package archive

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights/media"
)

// consents verifies what a picture says of others' say in it: co-owners, lenders' approvals, rival claims.
func (v *View) consents(c *checks, p *pb.Picture) error {
	var errs []error
	for _, list := range []struct {
		field string
		n     int
	}{{"co_owners", len(p.GetCoOwners())}, {"approvals", len(p.GetApprovals())}, {"rival_claims", len(p.GetRivalClaims())}} {
		if list.n > maxList {
			c.add(list.field, "has %d entries; want at most %d", list.n, maxList)
		}
	}
	for i, o := range p.GetCoOwners() {
		field := indexed("co_owners", i)
		errs = append(errs, v.mustExist(c, field+".party", o.GetParty(), Parties, true))
		c.text(field+".role", o.GetRole(), maxWord)
		c.day(field+".consented_on", o.GetConsentedOn())
	}
	for i, ap := range p.GetApprovals() {
		field := indexed("approvals", i)
		errs = append(errs, v.mustExist(c, field+".lender", ap.GetLender(), Parties, true))
		if c.day(field+".approved_on", ap.GetApprovedOn()); ap.GetApprovedOn() == "" {
			c.add(field+".approved_on", "is missing; want the day of approval, such as 2026-03-31")
		}
		c.approvalWords(field+".covers", ap.GetCovers())
		c.text(field+".reference", ap.GetReference(), maxTitle)
	}
	for i, claim := range p.GetRivalClaims() {
		field := indexed("rival_claims", i)
		c.claim(field, claim)
		if strings.HasPrefix(claim.GetClaimant(), Parties+"/") {
			errs = append(errs, v.mustExist(c, field+".claimant", claim.GetClaimant(), Parties, true))
		}
	}
	return errors.Join(errs...)
}

func (c *checks) claim(field string, claim *pb.RivalClaim) {
	if strings.TrimSpace(claim.GetClaimant()) == "" {
		c.add(field+".claimant", "is missing; want who claims, in words or as parties/{id}")
	}
	c.text(field+".claimant", claim.GetClaimant(), maxWord)
	c.text(field+".note", claim.GetNote(), maxText)
	c.text(field+".outcome", claim.GetOutcome(), maxText)
	raised, isRaised := c.day(field+".raised_on", claim.GetRaisedOn())
	closed, isClosed := c.day(field+".closed_on", claim.GetClosedOn())
	if isRaised && isClosed && closed.Before(raised) {
		c.add(field+".closed_on", "found %s; want a day not before %s", claim.GetClosedOn(), claim.GetRaisedOn())
	}
}

// approvalWords verifies what a lender wants to be asked about, or has approved.
func (c *checks) approvalWords(field string, words []string) {
	if len(words) > maxList {
		c.add(field, "has %d entries; want at most %d", len(words), maxList)
	}
	for i, w := range words {
		if slices.Contains([]string{"commercial", "noncommercial", "exclusive", "*"}, w) {
			continue
		}
		if err := media.Check(w); err != nil {
			c.add(indexed(field, i), "found %q; want a medium such as print.book, commercial, noncommercial, exclusive, or * for everything", w)
		}
	}
}

// lenderPolicy verifies what a lender wants to be asked about.
func (c *checks) lenderPolicy(p *pb.LenderPolicy) {
	c.approvalWords("lender_policy.needs_approval_for", p.GetNeedsApprovalFor())
	c.text("lender_policy.terms", p.GetTerms(), maxText)
	c.text("lender_policy.version", p.GetVersion(), maxWord)
	c.day("lender_policy.noted_on", p.GetNotedOn())
}

// sourcePermission verifies what is known of the permission of a source.
func (v *View) sourcePermission(c *checks, field string, d *pb.Derivation) error {
	perm := d.GetPermission()
	if d.GetPicture() != "" && d.GetHolder() != "" {
		c.add(field+".holder", "is given beside a picture of the archive, which names its rights holder itself; want one for a source outside only")
	}
	c.text(field+".permission.reference", perm.GetReference(), maxTitle)
	if s := perm.GetScope(); s != nil {
		c.permissionScope(field+".permission", perm, v.today())
	}
	return v.mustExist(c, field+".holder", d.GetHolder(), Parties, false)
}

func (c *checks) permissionScope(field string, perm *pb.SourcePermission, today time.Time) {
	s := perm.GetScope()
	switch {
	case perm.GetFree():
		c.add(field+".scope", "is given although the source is free; want one or the other")
	case len(s.GetWorks()) > 0:
		c.add(field+".scope.works", "is given; want none: the permission is for this picture")
	case len(s.GetMedia()) == 0:
		c.add(field+".scope.media", "is missing; want the media allowed, or * for all")
	case len(s.GetTerritories()) == 0:
		c.add(field+".scope.territories", "is missing; want the territories allowed, or WORLD")
	case len(s.GetLanguages()) == 0:
		c.add(field+".scope.languages", "is missing; want the languages allowed, or * for all")
	}
	var inner checks
	inner.scope("scope", s, today)
	for _, f := range inner.found {
		if !strings.HasPrefix(f.Field, "scope.works") {
			c.add(field+"."+f.Field, "%s", f.Description)
		}
	}
}

// lendersOf are the parties whose policies count for a picture: who lent the specimen, and who holds the sources it was copied from.
func (a *Archive) lendersOf(p *pb.Picture) ([]string, error) {
	var out []string
	if p.GetSpecimen() != "" {
		s, err := a.GetSpecimen(p.GetSpecimen())
		if err := ignoreNotFound(err); err != nil {
			return nil, fmt.Errorf("read the specimen of %s: %w", p.GetName(), err)
		}
		out = append(out, s.GetLender())
	}
	for _, d := range p.GetDerivedFrom() { // a lender may want to be asked even where only facts were taken
		out = append(out, d.GetHolder())
	}
	ties, err := a.upstream(p)
	if err != nil {
		return nil, err
	}
	for _, t := range ties {
		if out = append(out, t.how.GetHolder()); t.source != nil && a.foreign(p, t.source) != "" && strings.HasPrefix(t.source.GetRightsHolder(), Parties+"/") {
			out = append(out, t.source.GetRightsHolder())
		}
	}
	return slices.DeleteFunc(unique(out), func(s string) bool { return s == "" }), nil
}
