package web

import (
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// staffOnly shows a page to the studio alone. What it changes is guarded by the services; this spares others forms that they can't send.
func staffOnly(page func(*visit) error) func(*visit) error {
	return func(v *visit) error {
		if !v.staff() {
			return errNoPage
		}
		return page(v)
	}
}

// allParties reads all parties; the studio alone may. Others get none.
func (s *Site) allParties(v *visit) ([]*pb.Party, error) {
	if !v.staff() {
		return nil, nil
	}
	var all []*pb.Party
	req := &pb.ListPartiesRequest{PageSize: 1000}
	for {
		res, err := s.services.licensing.ListParties(v.ctx(), req)
		if err != nil {
			return nil, err
		}
		all = append(all, res.GetParties()...)
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
			return all, nil
		}
	}
}

// partyNames are the names of parties by resource name.
func (s *Site) partyNames(v *visit) (map[string]string, error) {
	all, err := s.allParties(v)
	names := make(map[string]string, len(all))
	for _, p := range all {
		names[p.GetName()] = p.GetDisplayName()
	}
	return names, err
}

// partyOptions are the parties to choose from, by name.
func (s *Site) partyOptions(v *visit) ([]option, error) {
	all, err := s.allParties(v)
	var out []option
	for _, p := range all {
		out = append(out, option{Value: p.GetName(), Label: p.GetDisplayName()})
	}
	slices.SortFunc(out, func(a, b option) int { return strings.Compare(a.Label, b.Label) })
	return out, err
}

// partyName is what a party is called, as far as the visitor may know: else its resource name.
func (s *Site) partyName(v *visit, name string) (string, error) {
	if name == "" || !v.staff() {
		return name, nil
	}
	p, err := s.services.licensing.GetParty(v.ctx(), &pb.GetPartyRequest{Name: name})
	if err := missing(err); err != nil {
		return "", err
	}
	if p == nil {
		return name, nil
	}
	return p.GetDisplayName(), nil
}
