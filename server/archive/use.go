package archive

import (
	"context"
	"errors"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
	"platarium/storage"
)

// CreateUse records a publication that happened, licensed or not.
func (a *Archive) CreateUse(ctx context.Context, by Caller, u *pb.Use, id string) (*pb.Use, error) {
	name, err := a.newName(Uses, id)
	if err != nil {
		return nil, err
	}
	next := proto.Clone(u).(*pb.Use)
	clearOwned(next, nil)
	if s := next.GetScope(); s != nil {
		s.ExpandedTerritories, s.ExpandedMedia, s.Tables = nil, nil, ""
	}
	build := func(v *View) error {
		if err := v.validUse(next); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Use), name)
	}
	if err := a.haveOriginals(ctx, next); err != nil {
		build = refusal(err)
	}
	return first[*pb.Use](a.submit(ctx, "CreateUse", by, []proto.Message{u, &pb.GetUseRequest{Name: id}}, build))
}

func (v *View) validUse(u *pb.Use) error {
	var c checks
	if strings.TrimSpace(u.GetTitle()) == "" {
		c.add("title", "is missing; want the title of the publication")
	}
	c.text("title", u.GetTitle(), maxTitle)
	c.text("identifier", u.GetIdentifier(), maxTitle)
	c.text("edition", u.GetEdition(), maxTitle)
	c.text("credit_as_printed", u.GetCreditAsPrinted(), maxTitle)
	c.text("locator", u.GetLocator(), maxTitle)
	c.text("notes", u.GetNotes(), maxText)
	if u.GetCopies() < 0 {
		c.add("copies", "found %d; want the copies made, 0 if unknown", u.GetCopies())
	}
	c.identifier("identifier", u.GetIdentifier())
	if s := u.GetEvidenceSha256(); s != "" {
		if _, err := storage.ParseDigest(s); err != nil {
			c.add("evidence_sha256", "%s", err)
		}
	}
	if u.GetScope().GetFrom() == "" {
		c.add("scope.from", "is missing; want the day, month or year of publication")
	}
	c.ownUse(u)
	c.readableUse(u, v.today())
	err := errors.Join(
		v.mustExist(&c, "user", u.GetUser(), Parties, !u.GetOwn()),
		v.mustExist(&c, "grant", u.GetGrant(), Grants, false),
		v.scopeRefs(&c, "scope", u.GetScope()))
	if err != nil {
		return err
	}
	if err := c.err(); err != nil {
		return err
	}
	return v.originalsPresent(u)
}

// ownUse verifies that a use by the studio itself names nobody else.
func (c *checks) ownUse(u *pb.Use) {
	if u.GetOwn() && u.GetUser() != "" {
		c.add("user", "found %q; want none for a use by the studio itself", u.GetUser())
	}
	if u.GetOwn() && u.GetGrant() != "" {
		c.add("grant", "found %q; want none for a use by the studio itself", u.GetGrant())
	}
}

// readableUse verifies that a use can be judged: one that can't must not be stored, since every history of its pictures would stumble over it.
func (c *checks) readableUse(u *pb.Use, today time.Time) {
	was := len(c.found)
	c.scope("scope", u.GetScope(), today)
	if len(c.found) > was {
		return
	}
	if _, err := rights.LicensedUse(rightsUse(u), nil, rightsDay(today)); err != nil && !c.rights(err) {
		c.add("scope", "%s", err)
	}
}

// identifier verifies the check digit of what looks like an ISBN (ISO 2108) or ISSN (ISO 3297), so that slips are noticed; an identifier of another kind, with a
// prefix such as "doi:", is taken as it is.
func (c *checks) identifier(field, s string) {
	if s == "" || strings.Contains(s, ":") {
		return
	}
	compact := strings.ToUpper(strings.NewReplacer("-", "", " ", "").Replace(s))
	ok := false
	switch len(compact) {
	case 8:
		ok = weighted(compact, 11, func(i int) int { return 8 - i })
	case 10:
		ok = weighted(compact, 11, func(i int) int { return 10 - i })
	case 13:
		ok = weighted(compact, 10, func(i int) int { return 1 + 2*(i%2) })
	}
	if !ok {
		c.add(field, "found %q; want an ISBN of 10 or 13 digits or an ISSN of 8 whose check digit is right, or another identifier with its kind before a colon", s)
	}
}

// weighted says whether the digits, each times its weight, add up to a multiple of m; a last X counts ten where m is 11.
func weighted(s string, m int, weight func(i int) int) bool {
	sum := 0
	for i, r := range s {
		d := int(r - '0')
		if r == 'X' && i == len(s)-1 && m == 11 {
			d = 10
		} else if d < 0 || d > 9 {
			return false
		}
		sum += d * weight(i)
	}
	return sum%m == 0
}
