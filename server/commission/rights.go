package commission

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/plan"
	"platarium/server/rights"
)

// taken says how much may be taken from a picture.
type taken struct {
	text       string
	permission plan.Permission
}

// rightsOf says what may be taken from a picture for the use that the brief intends, once. Facts may always be taken; lines and tone are a use of the picture,
// about which the grants and all who have a say are asked.
func (j *job) rightsOf(s *sight) (*taken, error) {
	if s.rights != nil {
		return s.rights, nil
	}
	asks, err := j.lacking(s)
	if err != nil {
		return nil, err
	}
	copied, err := j.copiedFromOthers(s.Picture)
	if err != nil {
		return nil, err
	}
	asks = append(asks, copied...)
	holder := j.holder(s.Picture)
	out := &taken{text: "own work", permission: plan.Lines}
	switch {
	case rights.IsPublicLicence(s.GetRightsStatement()):
		out.text = "public licence " + s.GetRightsStatement()
	case s.GetKind() == pb.Kind_KIND_REFERENCE && j.own(s.GetRightsHolder()):
		if len(asks) > 0 {
			out.permission = plan.Ask
		}
	case s.GetKind() == pb.Kind_KIND_REFERENCE && holder != "":
		out.text, out.permission = "reference: take facts only, unless "+holder+" allows more", plan.FactsOnly
	case s.GetKind() == pb.Kind_KIND_REFERENCE:
		out.text, out.permission = "reference: take facts only until it is known who holds its rights", plan.FactsOnly
	case len(asks) > 0:
		out.permission = plan.Ask
	default:
	}
	if len(asks) > 0 {
		out.text += "; before more than facts are taken: " + strings.Join(asks, "; ")
	} else if out.permission == plan.Lines {
		standing, err := j.records.StandingText(s.GetName(), false)
		if err != nil {
			return nil, err
		}
		out.text += "; " + standing
	}
	s.rights = out
	return out, nil
}

// lacking lists in words what stands between a picture and the intended use.
func (j *job) lacking(s *sight) ([]string, error) {
	facts, err := j.records.Facts([]string{s.GetName()})
	if err != nil {
		return nil, err
	}
	scope := &pb.Scope{}
	if j.brief.GetUse() != nil {
		scope = proto.Clone(j.brief.GetUse()).(*pb.Scope)
	}
	scope.Works = []string{s.GetName()}
	wanted, err := archive.RightsScope(scope, j.records.Today())
	if err != nil {
		return nil, fmt.Errorf("read the use that the brief intends: %w", err)
	}
	facts.Published = nil // first rights are asked in the new plate, which hasn't appeared
	facts.Near = nil
	var answer rights.Answer
	err = j.records.WithBook(func(b *rights.Book, today rights.Day) error {
		if !wanted.To.IsZero() && wanted.To.Last() < today {
			wanted.From, wanted.To = rights.Date{}, rights.Date{} // of a use that is over there is nothing to ask
		}
		answer, err = b.Available(rights.Request{By: j.brief.GetClient(), Exclusivity: archive.RightsExclusivity(j.brief.GetExclusivity()), Scope: wanted}, facts, today)
		return err
	})
	if err != nil {
		return nil, archive.InvalidRights(err)
	}
	var out []string
	for _, r := range answer.Reasons {
		text := j.reason(s.Picture, r)
		if !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	return out, nil
}

// reason puts one ground into words that say whom to ask.
func (j *job) reason(p *pb.Picture, r rights.Reason) string {
	switch {
	case strings.HasPrefix(r.ID, partiesPrefix):
		return j.records.PartyName(r.ID) + ": " + r.Text
	case r.Holder != "" && r.Holder != rights.Studio:
		return r.Text + " for " + j.records.PartyName(r.Holder) + " (" + r.ID + ")"
	}
	for i, d := range p.GetDerivedFrom() {
		if r.ID == fmt.Sprintf("%s source %d", p.GetName(), i+1) {
			return "copied from " + d.GetSource() + ": " + r.Text
		}
	}
	for i, c := range p.GetRivalClaims() {
		if r.ID == fmt.Sprintf("%s claim %d", p.GetName(), i+1) {
			return j.named(c.GetClaimant()) + " claims it: " + r.Text
		}
	}
	return r.Text + " (" + r.ID + ")"
}

// copiedFromOthers lists the references of others that a picture of the archive was copied from.
func (j *job) copiedFromOthers(p *pb.Picture) ([]string, error) {
	var out []string
	for _, d := range p.GetDerivedFrom() {
		if d.GetPicture() == "" || d.GetRole() == pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE {
			continue
		}
		src, err := found(j.records.GetPicture(d.GetPicture()))
		if err != nil {
			return nil, err
		}
		if src.GetKind() == pb.Kind_KIND_REFERENCE && src.GetRightsHolder() != "" && src.GetRightsHolder() != p.GetRightsHolder() {
			out = append(out, fmt.Sprintf("copied from %s, whose rights are with %s", src.GetName(), j.holder(src)))
		}
	}
	return out, nil
}

// own says whether the rights are with whoever holds those of the studio's plates and studies, as far as they were looked at.
func (j *job) own(holder string) bool {
	if holder == "" {
		return false
	}
	for _, s := range j.seen {
		if s.GetKind() != pb.Kind_KIND_REFERENCE && s.GetRightsHolder() == holder {
			return true
		}
	}
	return false
}

func (j *job) holder(p *pb.Picture) string { return j.named(p.GetRightsHolder()) }

// named is the name of a party, or words as they stand.
func (j *job) named(who string) string {
	if strings.HasPrefix(who, partiesPrefix) {
		return j.records.PartyName(who)
	}
	return who
}
