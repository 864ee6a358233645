package api

import (
	"context"
	"errors"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
)

// grantStatement writes one grant in full, with what was published under it, for staff and its parties.
func (s licensingService) grantStatement(ctx context.Context, p principal, req *pb.GetStatementRequest) (*pb.Statement, error) {
	if _, err := s.GetGrant(ctx, &pb.GetGrantRequest{Name: req.GetGrant()}); err != nil {
		return nil, err
	}
	past, err := s.archive.At(ctx, req.GetSequence())
	if err != nil {
		return nil, err
	}
	g, err := past.GetGrant(req.GetGrant())
	seq := past.Position().Seq
	past.Close()
	if err == nil && p.outsider() && !isParty(p, g) {
		err = notFound(req.GetGrant())
	}
	if err != nil {
		return nil, err
	}
	if past, err = s.archive.At(ctx, seq, picturesIn(g.GetScope())...); err != nil { // now that the pictures are known
		return nil, err
	}
	defer past.Close()
	content, err := grantContent(teller{past, p, past.Day()}, past, g)
	if err != nil {
		return nil, err
	}
	return s.sealed(past, strings.TrimPrefix(g.GetName(), archive.Grants+"/"), content)
}

// grantContent gathers all but the commit.
func grantContent(t teller, past *archive.Past, g *pb.Grant) (map[string]any, error) {
	content, err := grantTexts(t, past, g)
	if err != nil {
		return nil, err
	}
	works, err := worksOf(t, past, g.GetScope().GetWorks())
	if err != nil {
		return nil, err
	}
	uses, copies, err := usesUnder(t, past, g.GetName())
	if err != nil {
		return nil, err
	}
	for key, value := range map[string]any{
		"audience": audience(t.p), "works": works, "uses": uses, "copies_used": count(copies), "deliveries": deliveryTexts(t.shownGrant(g).GetDeliveries()),
	} {
		content[key] = value
	}
	return filled(content), nil
}

// grantTexts is a grant in full, but for its works and what came of it.
func grantTexts(t teller, past *archive.Past, g *pb.Grant) (map[string]any, error) {
	later, err := laterGrants(t, past, g.GetName())
	if err != nil {
		return nil, err
	}
	state := stateOn(g, t.day)
	g = t.shownGrant(g)
	content := agreedTexts(g)
	for key, value := range map[string]any{
		"grant": g.GetName(), "licensee": t.licensee(g), "licensee_id": g.GetLicensee(), "affiliates": textList(partyNames(t, g.GetAffiliates())), "state": state, "later": later,
		"collides_with": textList(g.GetCollidesWith()),
	} {
		content[key] = value
	}
	return filled(content), nil
}

// agreedTexts is what was agreed, as a statement has it.
func agreedTexts(g *pb.Grant) map[string]any {
	sc := g.GetScope()
	alteration := "not allowed"
	if g.GetAlterationAllowed() {
		alteration = "allowed"
	}
	payment := ""
	if g.GetPaymentIsCondition() {
		payment = "before use"
	}
	term := ""
	if e := g.GetTermEvent(); e.GetAnchor() != "" {
		term = count(int64(e.GetMonths())) + " months from " + e.GetAnchor()
		if e.GetHappenedOn() != "" {
			term += ", which was on " + e.GetHappenedOn()
		}
	}
	return map[string]any{
		"terms": termsOf(g), "media": textList(sc.GetMedia()), "reserved_media": textList(g.GetReservedMedia()), "territories": textList(sc.GetTerritories()),
		"expanded_territories": textList(sc.GetExpandedTerritories()), "tables": sc.GetTables(), "languages": textList(sc.GetLanguages()), "purposes": textList(sc.GetPurposes()),
		"from": sc.GetFrom(), "to": sc.GetTo(), "exclusive_to": g.GetExclusiveTo(), "embargo_until": g.GetEmbargoUntil(), "selloff_to": g.GetSelloffTo(), "term_event": term,
		"signed_on": g.GetSignedOn(), "effective_on": g.GetEffectiveOn(), "ended_on": g.GetEndedOn(), "ended_reason": g.GetEndedReason(), "credit_line": g.GetCreditLine(),
		"fee": g.GetFee().GetAmount(), "currency": g.GetFee().GetCurrency(), "payment": payment, "paid_on": g.GetPaidOn(), "copies_max": count(g.GetCopiesMax()), "uses_max": count(g.GetUsesMax()),
		"product": g.GetProduct(), "alteration": alteration, "evidence_due_on": g.GetEvidenceDueOn(), "evidence_received_on": g.GetEvidenceReceivedOn(),
		"first_published_on": g.GetFirstPublishedOn(), "first_publication_deadline": g.GetFirstPublicationDeadline(), "holdback_mode": g.GetHoldbackMode(), "option_until": g.GetOptionUntil(),
		"public_licence": g.GetPublicLicence(), "amends": g.GetAmends(), "supersedes": g.GetSupersedes(), "head_grant": g.GetHead(), "subject_to": textList(g.GetSubjectTo()),
		"document_sha256": g.GetDocumentSha256(),
	}
}

// worksOf is what a grant covers, each as it is named in it, with the title and name of what the caller may see.
func worksOf(t teller, past *archive.Past, list []string) ([]any, error) {
	out := make([]any, 0, len(list))
	for _, w := range list {
		name, _, _ := strings.Cut(strings.TrimPrefix(w, "-"), "#")
		work, err := pictureTexts(t, past, name)
		if err != nil {
			return nil, err
		}
		work["work"] = w
		out = append(out, filled(work))
	}
	return out, nil
}

// pictureTexts says what a picture was, if the caller may see it.
func pictureTexts(t teller, past *archive.Past, name string) (map[string]any, error) {
	pic, err := past.GetPicture(name)
	if errors.Is(err, archive.ErrNotFound) || err == nil && !maySee(t.p, pic) {
		return map[string]any{}, nil
	}
	if err != nil {
		return nil, err
	}
	species, err := past.AcceptedName(pic.GetIdentification())
	return map[string]any{"title": pic.GetTitle(), "scientific_name": species, "description": description(pic), "rights_holder": holderIn(past, pic)}, err
}

// usesUnder is what was published under a grant, as far as the caller may know it, and how many copies of it.
func usesUnder(t teller, past *archive.Past, grant string) (out []any, copies int64, _ error) {
	uses, err := past.UsesUnder(grant)
	if err != nil {
		return nil, 0, err
	}
	slices.SortStableFunc(uses, func(a, b *pb.Use) int { return strings.Compare(a.GetScope().GetFrom(), b.GetScope().GetFrom()) })
	for _, u := range uses {
		e, err := t.use(u)
		if err != nil {
			return nil, 0, err
		}
		if e != nil {
			out = append(out, entryText(e))
			copies += e.GetCopies()
		}
	}
	return out, copies, nil
}

// laterGrants lists the grants that amend or replace a grant or hang on it, as far as the caller may know them.
func laterGrants(t teller, past *archive.Past, grant string) (out []any, _ error) {
	grants, err := past.GrantsBesides(grant)
	if err != nil {
		return nil, err
	}
	for _, g := range grants {
		if t.p.outsider() && !isParty(t.p, g) {
			continue
		}
		bond := "amended by"
		switch grant {
		case g.GetSupersedes():
			bond = "replaced by"
		case g.GetHead():
			bond = "sublicensed by"
		}
		out = append(out, filled(map[string]any{"grant": g.GetName(), "bond": bond, "effective_on": g.GetEffectiveOn(), "state": stateOn(g, t.day)}))
	}
	return out, nil
}

func partyNames(t teller, names []string) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = t.PartyName(n)
	}
	return out
}

func deliveryTexts(list []*pb.Delivery) []any {
	out := make([]any, len(list))
	for i, d := range list {
		out[i] = filled(map[string]any{"day": d.GetDay(), "picture": d.GetPicture(), "variant": d.GetVariant(), "sha256": d.GetSha256(), "asked": askedWords(d)})
	}
	return out
}
