package archive

import (
	"context"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// CreateGrant makes a grant, over any number of works, in one commit. An executed one that collides with another is refused with a *CollisionError.
func (a *Archive) CreateGrant(ctx context.Context, by Caller, g *pb.Grant, id string) (*pb.Grant, error) {
	build, err := a.grantCreation(g, id, false)
	if err != nil {
		return nil, err
	}
	if err := a.haveOriginals(ctx, g); err != nil {
		build = refusal(err)
	}
	return first[*pb.Grant](a.submit(ctx, "CreateGrant", by, []proto.Message{g, &pb.GetGrantRequest{Name: id}}, build))
}

// TryGrant validates a grant as CreateGrant would, and stores nothing.
func (a *Archive) TryGrant(ctx context.Context, g *pb.Grant, id string) (*pb.Grant, error) {
	return a.tryGrant(ctx, g, id, false)
}

func (a *Archive) tryGrant(ctx context.Context, g *pb.Grant, id string, collide bool) (*pb.Grant, error) {
	build, err := a.grantCreation(g, id, collide)
	if err != nil {
		return nil, err
	}
	if err := a.haveOriginals(ctx, g); err != nil {
		return nil, err
	}
	var tried *pb.Grant
	err = a.dry(func(v *View) error {
		if err := build(v); err != nil {
			return err
		}
		tried = v.changes[len(v.changes)-1].GetGrant()
		return nil
	})
	return tried, err
}

// grantCreation prepares a creation; collide records one that collides all the same.
func (a *Archive) grantCreation(g *pb.Grant, id string, collide bool) (func(*View) error, error) {
	name, err := a.newName(Grants, id)
	if err != nil {
		return nil, err
	}
	next := proto.Clone(g).(*pb.Grant)
	clearOwned(next, nil)
	clearExpansion(next)
	next.PublicLicence = rights.CanonicalURI(next.GetPublicLicence())
	return func(v *View) error {
		made := proto.Clone(next).(*pb.Grant)
		made.Name = name
		if err := v.validGrant(made, collide); err != nil {
			return err
		}
		return v.create(made, name)
	}, nil
}

// afterSignature are the fields of an executed grant that may still change: what happens to it, not what was agreed.
var afterSignature = []string{"ended_on", "ended_reason", "paid_on", "evidence_received_on", "first_published_on", "term_event", "document_sha256", "disclosure", "notes"}

// UpdateGrant changes the masked fields of a grant. What was agreed in an executed one isn't changed but amended by another grant.
func (a *Archive) UpdateGrant(ctx context.Context, by Caller, g *pb.Grant, mask []string) (*pb.Grant, error) {
	given := only(g, mask)
	clearExpansion(given)
	given.PublicLicence = rights.CanonicalURI(given.GetPublicLicence())
	build := func(v *View) error {
		return update(v, given, mask, nil, func(v *View, next, old *pb.Grant) error {
			if old.GetStatus() == pb.GrantStatus_GRANT_STATUS_EXECUTED {
				if err := onlyAfterSignature(next, old); err != nil {
					return err
				}
				next.Scope = proto.Clone(old.GetScope()).(*pb.Scope)
			}
			return v.validGrant(next, false)
		})
	}
	if err := a.haveOriginals(ctx, given); err != nil {
		build = refusal(err)
	}
	return first[*pb.Grant](a.submit(ctx, "UpdateGrant", by, []proto.Message{g, maskMessage(mask)}, build))
}

func onlyAfterSignature(next, old *pb.Grant) error {
	var c checks
	a, b := proto.Clone(next).(*pb.Grant), proto.Clone(old).(*pb.Grant)
	clearExpansion(a)
	clearExpansion(b)
	for _, field := range changedFields(a, b) {
		if !slices.ContainsFunc(afterSignature, func(s string) bool { return jsonName(s) == field }) {
			c.add(field, "was agreed in an executed grant; make a new one with amends or supersedes set to %s", old.GetName())
		}
	}
	return c.err()
}

func jsonName(field string) string {
	return (&pb.Grant{}).ProtoReflect().Descriptor().Fields().ByTextName(field).JSONName()
}

// EndGrant records that a grant is out of force from a day on.
func (a *Archive) EndGrant(ctx context.Context, by Caller, name, endedOn, reason string) (*pb.Grant, error) {
	var c checks
	if _, ok := c.day("ended_on", endedOn); !ok && endedOn == "" {
		c.add("ended_on", "is missing; want the first day no longer in force, such as 2026-03-31")
	}
	c.text("reason", reason, maxTitle)
	if err := c.err(); err != nil {
		return nil, err
	}
	request := &pb.EndGrantRequest{Name: name, EndedOn: endedOn, Reason: reason}
	return first[*pb.Grant](a.submit(ctx, "EndGrant", by, []proto.Message{request}, func(v *View) error {
		old, ok, err := record[*pb.Grant](v, name)
		if err != nil {
			return err
		}
		if !ok {
			return wrapName(ErrNotFound, name)
		}
		if old.GetKind() == pb.GrantKind_GRANT_KIND_PUBLIC {
			return &InvalidError{[]Violation{{"name", "is a public licence, which can't be taken back"}}}
		}
		next := proto.Clone(old).(*pb.Grant)
		next.EndedOn, next.EndedReason = endedOn, reason
		if old.GetEndedOn() != "" { // an end moved to a later day may meet what was granted since
			if err := v.validGrant(next, false); err != nil {
				return err
			}
		}
		return v.replace(next, old)
	}))
}

func clearExpansion(g *pb.Grant) {
	if s := g.GetScope(); s != nil {
		s.ExpandedTerritories, s.ExpandedMedia, s.Tables = nil, nil, ""
	}
}

// validGrant verifies a grant, freezes its groups once it is executed, and refuses one that collides, unless it is to be recorded with its collisions.
func (v *View) validGrant(g *pb.Grant, collide bool) error {
	var c checks
	c.grant(g)
	if err := v.grantRefs(&c, g); err != nil {
		return err
	}
	rg := rightsGrant(&c, g)
	if len(c.found) == 0 {
		c.rights(rights.CheckGrant(rg))
	}
	if err := c.err(); err != nil {
		return err
	}
	executed := g.GetStatus() == pb.GrantStatus_GRANT_STATUS_EXECUTED
	frozen, err := rights.Freeze(rg)
	if err != nil {
		return InvalidRights(err)
	}
	clashes, err := v.clashes(frozen)
	if err != nil {
		return err
	}
	if !executed {
		return v.originalsPresent(g) // a draft may collide: it promises nothing yet
	}
	g.Scope.ExpandedTerritories, g.Scope.ExpandedMedia, g.Scope.Tables = frozen.Frozen.Territory, frozen.Frozen.Media, frozen.Frozen.Tables
	if clashes, err = v.unrecorded(g, clashes); err != nil {
		return err
	}
	if len(clashes) > 0 && !collide {
		return collisionOf(g.GetName(), clashes)
	}
	recordCollisions(g, clashes)
	return v.originalsPresent(g)
}

func collisionOf(name string, clashes []rights.Clash) error {
	e := &CollisionError{}
	for _, clash := range clashes {
		e.With = append(e.With, Collision{Grant: otherThan(name, clash), Witness: clash.Witness.String()})
	}
	return e
}

// clashes tries a grant against those that stand over the same works, with their amendments, heads and sublicences.
func (v *View) clashes(g rights.Grant) ([]rights.Clash, error) {
	book, err := v.bookAround(g)
	if err != nil {
		return nil, err
	}
	clashes, err := book.Try(g)
	return clashes, InvalidRights(err)
}

// bookAround gathers the grants that have to do with g.
func (v *View) bookAround(g rights.Grant) (*rights.Book, error) {
	found := map[string]rights.Grant{}
	queue := append([]string{g.Amends, g.Head}, g.Supersedes...)
	for _, w := range append([]string{"*"}, g.Scope.Works...) {
		name, _, _ := strings.Cut(strings.TrimPrefix(w, "-"), "#")
		v.state.referrers(name, func(source string) bool {
			queue = append(queue, source)
			return true
		})
		if w == "*" && slices.Contains(g.Scope.Works, "*") {
			queue = append(queue, v.allGrants()...)
		}
	}
	for len(queue) > 0 {
		name := queue[0]
		queue = queue[1:]
		if _, done := found[name]; done || name == g.ID || !strings.HasPrefix(name, Grants+"/") {
			continue
		}
		old, ok, err := record[*pb.Grant](v, name)
		if err != nil {
			return nil, err
		}
		if !ok {
			continue
		}
		var c checks
		found[name] = rightsGrant(&c, old)
		queue = append(queue, old.GetAmends(), old.GetHead(), old.GetSupersedes())
		v.state.referrers(name, func(source string) bool {
			queue = append(queue, source)
			return true
		})
	}
	list := make([]rights.Grant, 0, len(found))
	for _, old := range found {
		list = append(list, old)
	}
	return rights.NewBook(list)
}

func (v *View) allGrants() (names []string) {
	prefix := Grants + "/"
	c := v.state.bucket(recordBucket).Cursor()
	for k, _ := c.Seek([]byte(prefix)); strings.HasPrefix(string(k), prefix); k, _ = c.Next() {
		names = append(names, string(k))
	}
	return names
}
