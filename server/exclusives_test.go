package server

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// signing is what is asked of the servers: to sign this grant.
type signing struct{ grant string }

// oneSigned says what signing must do if it happens in some order: the first is taken, every other refused for its sake.
var oneSigned = porcupine.Model{
	Init: func() any { return "" },
	Step: func(state, input, output any) (bool, any) {
		signed, asked, inTheWay := state.(string), input.(signing).grant, output.(string)
		if signed == "" {
			return inTheWay == "", asked
		}
		return inTheWay == signed, signed
	},
}

// TestOneOfAHundredExclusives: drafts of one exclusive use are signed at once through two servers over one bucket, half of them made so, half executed later.
func TestOneOfAHundredExclusives(t *testing.T) {
	one := desk(t)
	conf := one.conf
	conf.Cache = t.TempDir()
	two := start(t, conf)
	plate := one.picture(t, "plate", nil)
	const houses = 100
	requests := make([]*pb.CreateGrantRequest, houses)
	var made sync.WaitGroup
	for n := range requests {
		house := fmt.Sprintf("house-%d", n)
		requests[n] = exclusively(agreement(fmt.Sprintf("grant-%d", n), "parties/"+house, plate))
		made.Go(func() {
			_, err := one.owner.Licensing.CreateParty(t.Context(), &pb.CreatePartyRequest{Party: &pb.Party{DisplayName: house}, PartyId: house})
			if err == nil && n%2 == 1 {
				draft := exclusively(agreement(requests[n].GetGrantId(), "parties/"+house, plate))
				draft.Grant.Status = pb.GrantStatus_GRANT_STATUS_OFFERED
				_, err = one.owner.Licensing.CreateGrant(t.Context(), draft)
			}
			if err != nil {
				t.Errorf("prepare %s: %v", house, err)
			}
		})
	}
	made.Wait()
	servers := []*running{one, two}
	two.eventually(t, func() bool {
		status := func(r *running) *pb.Status {
			return ok[*pb.Status](t)(r.owner.Admin.GetStatus(t.Context(), &pb.GetStatusRequest{}))
		}
		return status(one).GetSequence() == status(two).GetSequence()
	}, "the second server follows the first")
	var mu sync.Mutex
	var events []porcupine.Operation
	var all sync.WaitGroup
	begun := time.Now()
	for n, req := range requests {
		all.Go(func() {
			c, name := servers[n/2%2].owner, "grants/"+req.GetGrantId()
			called := time.Since(begun)
			var err error
			if n%2 == 1 {
				_, err = c.Licensing.UpdateGrant(t.Context(), &pb.UpdateGrantRequest{
					Grant: &pb.Grant{Name: name, Status: pb.GrantStatus_GRANT_STATUS_EXECUTED}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"status"}},
				})
			} else {
				_, err = c.Licensing.CreateGrant(t.Context(), req)
			}
			returned := time.Since(begun)
			inTheWay := ""
			if err != nil {
				inTheWay = "grants/" + collidesWith(t, err)
			}
			mu.Lock()
			defer mu.Unlock()
			events = append(events, porcupine.Operation{ClientId: n, Input: signing{name}, Call: int64(called), Output: inTheWay, Return: int64(returned)})
		})
	}
	all.Wait()
	signed := 0
	for _, e := range events {
		if e.Output == "" {
			signed++
		}
	}
	if signed != 1 || len(events) != houses {
		t.Errorf("%d of %d exclusives were signed; want one", signed, len(events))
	}
	if !porcupine.CheckOperations(oneSigned, events) {
		t.Error("no order of the signings explains the answers")
	}
}

// collidesWith is the id of the one grant that an error names as being in the way.
func collidesWith(t *testing.T, err error) string {
	t.Helper()
	wantReason(t, err, "GRANT_COLLISION")
	return subjectOf(err)
}
