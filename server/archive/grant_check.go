package archive

import (
	"errors"
	"fmt"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// grantRefs verifies that everything a grant names is there.
func (v *View) grantRefs(c *checks, g *pb.Grant) error {
	public := g.GetKind() == pb.GrantKind_GRANT_KIND_PUBLIC
	err := errors.Join(
		v.mustExist(c, "licensee", g.GetLicensee(), Parties, !public),
		v.mustExist(c, "amends", g.GetAmends(), Grants, false),
		v.mustExist(c, "supersedes", g.GetSupersedes(), Grants, false),
		v.mustExist(c, "head", g.GetHead(), Grants, g.GetKind() == pb.GrantKind_GRANT_KIND_SUBLICENCE),
		v.scopeRefs(c, "scope", g.GetScope()))
	for i, name := range g.GetAffiliates() {
		err = errors.Join(err, v.mustExist(c, indexed("affiliates", i), name, Parties, true))
	}
	for i, name := range g.GetSubjectTo() {
		err = errors.Join(err, v.mustExist(c, indexed("subject_to", i), name, Grants, true))
	}
	return err
}

// scopeRefs verifies that the works of a scope are pictures of the archive.
func (v *View) scopeRefs(c *checks, field string, s *pb.Scope) error {
	if len(s.GetWorks()) == 0 {
		c.add(field+".works", "is missing; want the pictures covered, pictures/{id}")
	}
	for i, w := range s.GetWorks() {
		name, part, parted := strings.Cut(strings.TrimPrefix(w, "-"), "#")
		if name == "*" {
			continue
		}
		if parted && part == "" {
			c.add(fmt.Sprintf("%s.works[%d]", field, i), "found %q; want a part after #", w)
		}
		if err := v.mustExist(c, fmt.Sprintf("%s.works[%d]", field, i), name, Pictures, true); err != nil {
			return err
		}
	}
	return nil
}

// maxMonths is longer than any term of copyright.
const maxMonths = 12 * 200

// grant verifies what can be seen from the record alone.
func (c *checks) grant(g *pb.Grant) {
	c.known("kind", int32(g.GetKind()), pb.GrantKind_name)
	c.known("exclusivity", int32(g.GetExclusivity()), pb.Exclusivity_name)
	c.known("status", int32(g.GetStatus()), pb.GrantStatus_name)
	c.known("disclosure", int32(g.GetDisclosure()), pb.Disclosure_name)
	if g.GetScope() == nil {
		g.Scope = &pb.Scope{}
	}
	if len(g.GetScope().GetMedia()) == 0 {
		c.add("scope.media", "is missing; want media such as print.book, or * for all")
	}
	if len(g.GetScope().GetTerritories()) == 0 {
		c.add("scope.territories", "is missing; want country codes such as DE, groups such as 150, or WORLD")
	}
	if len(g.GetScope().GetLanguages()) == 0 {
		c.add("scope.languages", "is missing; want language tags such as en, or * for all")
	}
	if g.GetStatus() == pb.GrantStatus_GRANT_STATUS_EXECUTED && g.GetSignedOn() == "" {
		c.add("signed_on", "is missing; want the day of signature of an executed grant")
	}
	if g.GetKind() == pb.GrantKind_GRANT_KIND_PUBLIC {
		c.rightsStatement("public_licence", g.GetPublicLicence())
		if g.GetPublicLicence() == "" {
			c.add("public_licence", "is missing; want the URI of the licence")
		}
	}
	if g.GetCopiesMax() < 0 {
		c.add("copies_max", "found %d; want the copies allowed, or 0 for no limit", g.GetCopiesMax())
	}
	if g.GetUsesMax() < 0 {
		c.add("uses_max", "found %d; want the uses allowed, or 0 for no limit", g.GetUsesMax())
	}
	if s := g.GetDocumentSha256(); s != "" {
		if _, err := storage.ParseDigest(s); err != nil {
			c.add("document_sha256", "%s", err)
		}
	}
	c.text("credit_line", g.GetCreditLine(), maxTitle)
	c.text("product", g.GetProduct(), maxTitle)
	c.text("ended_reason", g.GetEndedReason(), maxTitle)
	c.text("term_event.anchor", g.GetTermEvent().GetAnchor(), maxTitle)
	if n := g.GetTermEvent().GetMonths(); n < 0 || n > maxMonths {
		c.add("term_event.months", "found %d; want the months from the event on, at most %d", n, maxMonths)
	}
	c.text("notes", g.GetNotes(), maxText)
}
