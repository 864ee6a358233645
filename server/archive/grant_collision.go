package archive

import (
	"context"
	"slices"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// RecordGrant makes a grant as CreateGrant does, but an executed one that collides is recorded with the grants that it collides with: an old contract is a fact.
func (a *Archive) RecordGrant(ctx context.Context, by Caller, g *pb.Grant, id string) (*pb.Grant, error) {
	build, err := a.grantCreation(g, id, true)
	if err != nil {
		return nil, err
	}
	if err := a.haveOriginals(ctx, g); err != nil {
		build = refusal(err)
	}
	request := &pb.CreateGrantRequest{GrantId: id, AllowCollision: true}
	return first[*pb.Grant](a.submit(ctx, "CreateGrant", by, []proto.Message{g, request}, build))
}

// TryCollidingGrant validates a grant as RecordGrant would, and stores nothing; what it would collide with stands in the answer.
func (a *Archive) TryCollidingGrant(ctx context.Context, g *pb.Grant, id string) (*pb.Grant, error) {
	return a.tryGrant(ctx, g, id, true)
}

// unrecorded leaves out the collisions that are on record, at either grant: they don't keep its payment or its end from being recorded.
func (v *View) unrecorded(g *pb.Grant, clashes []rights.Clash) ([]rights.Clash, error) {
	var out []rights.Clash
	for _, clash := range clashes {
		name := otherThan(g.GetName(), clash)
		if slices.Contains(g.GetCollidesWith(), name) {
			continue
		}
		other, _, err := record[*pb.Grant](v, name)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(other.GetCollidesWith(), g.GetName()) {
			out = append(out, clash)
		}
	}
	return out, nil
}

// recordCollisions notes at a grant what it collides with.
func recordCollisions(g *pb.Grant, clashes []rights.Clash) {
	for _, clash := range clashes {
		if name := otherThan(g.GetName(), clash); !slices.Contains(g.GetCollidesWith(), name) {
			g.CollidesWith = append(g.CollidesWith, name)
		}
	}
	slices.Sort(g.CollidesWith)
}

func otherThan(name string, clash rights.Clash) string {
	if clash.A == name {
		return clash.B
	}
	return clash.A
}
