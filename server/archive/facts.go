package archive

import (
	"fmt"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// Facts gathers what stands beside the grants of some works: others who have a say in them, sources they were copied from, what the studio and others have
// published, and the pictures that derivation ties them to.
func (a *Archive) Facts(list []string) (rights.Facts, error) {
	var f rights.Facts
	seen := map[string]bool{}
	for _, w := range list {
		name, _, _ := strings.Cut(strings.TrimPrefix(w, "-"), "#")
		if seen[name] {
			continue
		}
		seen[name] = true
		p, err := a.GetPicture(name)
		if err != nil {
			if err := ignoreNotFound(err); err != nil {
				return f, err
			}
			continue
		}
		sayOfOthers(&f, p)
		if err := a.sources(&f, p); err != nil {
			return f, err
		}
		if err := a.policiesOf(&f, p); err != nil {
			return f, err
		}
		if err := a.published(&f, name); err != nil {
			return f, err
		}
		kin, err := a.Kin(name)
		if err != nil {
			return f, err
		}
		for _, other := range kin {
			f.Near = append(f.Near, rights.Resemblance{Work: name, Other: other})
		}
	}
	return f, nil
}

func sayOfOthers(f *rights.Facts, p *pb.Picture) {
	works := []string{p.GetName()}
	for _, o := range p.GetCoOwners() {
		f.CoOwners = append(f.CoOwners, rights.CoOwned{ID: o.GetParty(), Role: o.GetRole(), Works: works, Consent: o.GetConsentedOn() != ""})
	}
	for i, c := range p.GetRivalClaims() {
		f.Adverse = append(f.Adverse, rights.Claim{ID: fmt.Sprintf("%s claim %d", p.GetName(), i+1), Works: works, Open: c.GetClosedOn() == ""})
	}
}

// policiesOf adds the policies of lenders, less what they have approved for this picture.
func (a *Archive) policiesOf(f *rights.Facts, p *pb.Picture) error {
	lenders, err := a.lendersOf(p)
	if err != nil {
		return err
	}
	for _, name := range lenders {
		lender, err := get[*pb.Party](a, name)
		if err := ignoreNotFound(err); err != nil {
			return err
		}
		asks := slices.Clone(lender.GetLenderPolicy().GetNeedsApprovalFor())
		if len(asks) == 0 {
			continue
		}
		approved := false
		for _, ap := range p.GetApprovals() {
			if ap.GetLender() != name {
				continue
			}
			approved = approved || len(ap.GetCovers()) == 0 || slices.Contains(ap.GetCovers(), "*")
			asks = slices.DeleteFunc(asks, func(w string) bool { return slices.Contains(ap.GetCovers(), w) })
		}
		f.Policies = append(f.Policies, rights.Approval{
			ID: name, Kind: lender.GetLenderPolicy().GetVersion(), Works: []string{p.GetName()}, NeedsFor: asks, Approved: approved || len(asks) == 0,
		})
	}
	return nil
}

// published adds the uses of a picture, and the studio's own, which go on until a last day is known.
func (a *Archive) published(f *rights.Facts, picture string) error {
	uses, err := a.UsesOf(picture)
	if err != nil {
		return err
	}
	for _, u := range uses {
		e := rights.Event{ID: u.GetName(), Scope: rightsUse(u).Scope}
		f.Published = append(f.Published, e)
		if u.GetOwn() {
			f.OwnUses = append(f.OwnUses, e)
		}
	}
	return nil
}

// Kin lists the pictures tied to one by derivation, either way and in any number of steps: what it was made from, what was made from it, and what else was
// made from the same. Ties of facts alone don't count, since nobody owns facts.
func (a *Archive) Kin(picture string) ([]string, error) {
	const most = 1000 // pictures; a family larger than this is no near copy of anything
	seen := map[string]bool{picture: true}
	queue := []string{picture}
	var out []string
	for len(queue) > 0 && len(out) < most {
		name := queue[0]
		queue = queue[1:]
		tied, err := a.tiedTo(name)
		if err != nil {
			return nil, err
		}
		for _, other := range tied {
			if !seen[other] {
				seen[other] = true
				out = append(out, other)
				queue = append(queue, other)
			}
		}
	}
	return out, nil
}

// tiedTo lists the pictures one step of derivation away.
func (a *Archive) tiedTo(name string) ([]string, error) {
	p, err := a.GetPicture(name)
	if err != nil {
		return nil, ignoreNotFound(err)
	}
	out := copiedFrom(p)
	later, err := a.Referrers(name, Pictures)
	if err != nil {
		return nil, err
	}
	for _, n := range later {
		q, err := a.GetPicture(n)
		if err := ignoreNotFound(err); err != nil {
			return nil, err
		}
		if slices.Contains(copiedFrom(q), name) {
			out = append(out, n)
		}
	}
	return out, nil
}

func copiedFrom(p *pb.Picture) (out []string) {
	for _, d := range p.GetDerivedFrom() {
		if d.GetPicture() != "" && d.GetRole() != pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE {
			out = append(out, d.GetPicture())
		}
	}
	return out
}
