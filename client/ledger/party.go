package ledger

import (
	"context"
	"fmt"
	"strings"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// parties finds parties by what they are called.
type parties struct {
	names  map[string]string   // resource name -> display name
	called map[string][]string // folded display name -> resource names
}

func allParties(ctx context.Context, c *client.Client) (*parties, error) {
	p := &parties{names: map[string]string{}, called: map[string][]string{}}
	req := &pb.ListPartiesRequest{PageSize: 1000}
	for {
		res, err := c.Licensing.ListParties(ctx, req)
		if err != nil {
			return nil, fmt.Errorf("list the parties: %w", err)
		}
		for _, party := range res.GetParties() {
			p.names[party.GetName()] = party.GetDisplayName()
			key := fold(party.GetDisplayName())
			p.called[key] = append(p.called[key], party.GetName())
		}
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
			return p, nil
		}
	}
}

func fold(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// find gives the one party that a cell means: by resource name, by id, or by exactly what it is called but for case and spaces. Nothing near is taken.
func (p *parties) find(cell string) (string, error) {
	for _, name := range []string{cell, "parties/" + cell} {
		if _, ok := p.names[name]; ok {
			return name, nil
		}
	}
	switch found := p.called[fold(cell)]; len(found) {
	case 1:
		return found[0], nil
	case 0:
		var all []string
		for key := range p.called {
			all = append(all, key)
		}
		hint := ""
		if near := nearest(fold(cell), all); near != "" {
			hint = fmt.Sprintf("; near it: %s (%s)", p.names[p.called[near][0]], strings.Join(p.called[near], ", "))
		}
		return "", fmt.Errorf("licensee: found %q, which no party is called%s; want an id or the exact name, or make the party first", cell, hint)
	default:
		return "", fmt.Errorf("licensee: found %q, which %d parties are called: %s; want the id", cell, len(found), strings.Join(found, ", "))
	}
}
