package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// askMany asks about several pictures one by one and writes a line for each as its answer comes.
func (a *App) askMany(ctx context.Context, c *client.Client, req *pb.CheckAvailabilityRequest) error {
	scope := req.GetScope()
	works := scope.GetWorks()
	scope.Works = nil
	stream, err := c.Licensing.CheckAvailabilities(ctx, &pb.CheckAvailabilitiesRequest{
		Requester: req.GetRequester(), Works: works, Scope: scope, Exclusivity: req.GetExclusivity(),
	})
	if err != nil {
		return err
	}
	problems, caution := 0, ""
	for {
		res, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if res.GetProblem() != nil {
			problems++
		} else {
			caution = res.GetAvailability().GetCaution()
		}
		if a.json {
			err = a.printJSON(res)
		} else {
			a.availableLine(res)
		}
		if err != nil {
			return err
		}
	}
	if caution != "" && !a.json {
		a.notef("%s\n", caution)
	}
	if problems > 0 {
		return Code(Missing, fmt.Errorf("no answer for %d of %d pictures", problems, len(works)))
	}
	return nil
}

func (a *App) availableLine(res *pb.CheckAvailabilitiesResponse) {
	if p := res.GetProblem(); p != nil {
		a.printf("%s  problem  %s\n", res.GetWork(), p.GetMessage())
		return
	}
	answer := res.GetAvailability()
	a.printf("%s  %-7s  %s", res.GetWork(), answer.GetAnswer(), strings.Join(answer.GetExplanations(), "; "))
	if len(answer.GetFree()) > 0 {
		a.printf("; free: %s", strings.Join(answer.GetFree(), "; "))
	}
	a.printf("\n")
}

// severalWorks says whether a scope names more than one picture and takes nothing out, so that each can be asked about on its own.
func severalWorks(works []string) bool {
	for _, w := range works {
		if strings.HasPrefix(w, "-") {
			return false
		}
	}
	return len(works) > 1
}
