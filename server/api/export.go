package api

import (
	"context"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/rights"
	"platarium/server/rights/odrl"
)

// ExportGrant writes a grant for the systems of others. A publisher gets only what GetGrant shows it.
func (s licensingService) ExportGrant(ctx context.Context, req *pb.ExportGrantRequest) (*pb.ExportGrantResponse, error) {
	if f := req.GetFormat(); f != "" && f != "odrl" {
		return nil, field("format", "found %q; want odrl", f)
	}
	g, err := s.GetGrant(ctx, &pb.GetGrantRequest{Name: req.GetName()})
	if err != nil {
		return nil, err
	}
	content, err := odrl.Marshal(s.paper(g))
	if err != nil {
		return nil, err
	}
	id := strings.TrimPrefix(g.GetName(), archive.Grants+"/")
	return &pb.ExportGrantResponse{MediaType: "application/ld+json", FileName: id + ".odrl.jsonld", Content: content}, nil
}

var paperKinds = map[pb.GrantKind]rights.Kind{
	pb.GrantKind_GRANT_KIND_SUBLICENCE: rights.Sublicence, pb.GrantKind_GRANT_KIND_ASSIGNMENT: rights.Assignment, pb.GrantKind_GRANT_KIND_HOLDBACK: rights.Holdback,
	pb.GrantKind_GRANT_KIND_OPTION: rights.Option, pb.GrantKind_GRANT_KIND_PUBLIC: rights.Public,
}

var paperStatuses = map[pb.GrantStatus]odrl.Status{
	pb.GrantStatus_GRANT_STATUS_OFFERED: odrl.Offered, pb.GrantStatus_GRANT_STATUS_EXECUTED: odrl.Executed,
}

// paper is a grant, cut down for the caller already, as package odrl takes it.
func (s *Server) paper(g *pb.Grant) odrl.Grant {
	sc := g.GetScope()
	out := odrl.Grant{
		Name: g.GetName(), Status: paperStatuses[g.GetStatus()], Kind: paperKinds[g.GetKind()], Exclusivity: archive.RightsExclusivity(g.GetExclusivity()), ExclusiveTo: g.GetExclusiveTo(),
		Studio: s.giver(g), Works: sc.GetWorks(), Media: sc.GetMedia(), Territories: sc.GetTerritories(), Languages: sc.GetLanguages(), Purposes: sc.GetPurposes(), Tables: sc.GetTables(),
		From: sc.GetFrom(), To: sc.GetTo(), EmbargoUntil: g.GetEmbargoUntil(), SelloffTo: g.GetSelloffTo(), EndedOn: g.GetEndedOn(), ReservedMedia: g.GetReservedMedia(),
		AlterationAllowed: g.GetAlterationAllowed(), CopiesMax: g.GetCopiesMax(), UsesMax: g.GetUsesMax(), Product: g.GetProduct(), CreditLine: g.GetCreditLine(), SignedOn: g.GetSignedOn(),
		FeeAmount: g.GetFee().GetAmount(), FeeCurrency: g.GetFee().GetCurrency(), PaymentFirst: g.GetPaymentIsCondition(), EvidenceDueOn: g.GetEvidenceDueOn(),
		FirstPublishedOn: g.GetFirstPublishedOn(), FirstPublicationDeadline: g.GetFirstPublicationDeadline(), HoldbackMode: g.GetHoldbackMode(), OptionUntil: g.GetOptionUntil(),
		PublicLicence: g.GetPublicLicence(), TermAnchor: g.GetTermEvent().GetAnchor(), TermMonths: int(g.GetTermEvent().GetMonths()),
		Amends: g.GetAmends(), Supersedes: g.GetSupersedes(), Head: g.GetHead(), EffectiveOn: g.GetEffectiveOn(), SurvivesHead: g.GetSurvivesHead(), SubjectTo: g.GetSubjectTo(),
	}
	if g.GetKind() == pb.GrantKind_GRANT_KIND_HOLDBACK && out.HoldbackMode == "" {
		out.HoldbackMode = "third-party"
	}
	// Others can't expand groups of countries, least of all as they were at signature; the whole world is told as one.
	if !slices.Contains(sc.GetTerritories(), "WORLD") && len(sc.GetExpandedTerritories()) > 0 {
		out.Territories = sc.GetExpandedTerritories()
	}
	for _, name := range append([]string{g.GetLicensee()}, g.GetAffiliates()...) {
		if name != "" {
			out.Licensees = append(out.Licensees, odrl.Party{Name: name, Label: s.archive.PartyName(name)})
		}
	}
	return out
}

// giver is who gives a grant: the studio, or for a sublicence the licensee of its head. A caller who may not know the head learns no name.
func (s *Server) giver(g *pb.Grant) odrl.Party {
	if g.GetKind() != pb.GrantKind_GRANT_KIND_SUBLICENCE {
		return odrl.Party{Name: "studio"}
	}
	head, err := s.archive.GetGrant(g.GetHead())
	if err != nil || head.GetLicensee() == "" {
		return odrl.Party{Name: "licensor"}
	}
	return odrl.Party{Name: head.GetLicensee(), Label: s.archive.PartyName(head.GetLicensee())}
}
