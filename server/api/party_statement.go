package api

import (
	"context"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
)

// partyStatement writes all that was granted to a party and what it used: for staff of any party, for a publisher of its own.
func (s licensingService) partyStatement(ctx context.Context, p principal, req *pb.GetStatementRequest) (*pb.Statement, error) {
	party := req.GetParty()
	if err := wantName("party", party, archive.Parties); err != nil {
		return nil, err
	}
	if p.outsider() && party != p.party {
		return nil, notFound(party)
	}
	past, err := s.archive.At(ctx, req.GetSequence())
	if err != nil {
		return nil, err
	}
	seq, known := past.Position().Seq, past.HasParty(party)
	lines, err := teller{past, p, past.Day()}.partyLines(party)
	past.Close()
	if err == nil && !known {
		err = notFound(party)
	}
	if err == nil {
		err = s.stillParty(p, lines)
	}
	if err != nil {
		return nil, err
	}
	var pictures []string
	for _, l := range lines {
		pictures = append(pictures, l.picture)
	}
	if past, err = s.archive.At(ctx, seq, pictures...); err != nil { // now that the pictures are known
		return nil, err
	}
	defer past.Close()
	content, err := partyContent(teller{past, p, past.Day()}, past, party, lines)
	if err != nil {
		return nil, err
	}
	return s.sealed(past, strings.TrimPrefix(party, archive.Parties+"/"), content)
}

// stillParty refuses an outsider a statement with a grant that it is no party to any more, such as an offer that went to another house after all.
func (s licensingService) stillParty(p principal, lines []partyLine) error {
	if !p.outsider() {
		return nil
	}
	seen := map[string]bool{}
	for _, l := range lines {
		name := l.grant.GetName()
		if name == "" || seen[name] {
			continue
		}
		seen[name] = true
		g, err := s.archive.GetGrant(name)
		if err != nil {
			return err
		}
		if !isParty(p, g) {
			return errWithheld
		}
	}
	return nil
}

// partyContent gathers all but the commit: the entries as ListHistory gives them, and each grant once, in full.
func partyContent(t teller, past *archive.Past, party string, lines []partyLine) (map[string]any, error) {
	entries, grants := make([]any, 0, len(lines)), []any{}
	judged, told := map[string]*pb.HistoryEntry{}, map[string]bool{}
	for _, l := range lines {
		e, evidence, err := t.line(l, judged)
		if err != nil {
			return nil, err
		}
		about, err := pictureTexts(t, past, l.picture)
		if err != nil {
			return nil, err
		}
		about["picture"], about["entry"], about["evidence"] = l.picture, entryText(e), evidence
		entries = append(entries, filled(about))
		if l.grant == nil || told[l.grant.GetName()] {
			continue
		}
		told[l.grant.GetName()] = true
		g, err := grantTexts(t, past, l.grant)
		if err != nil {
			return nil, err
		}
		g["works"] = textList(l.grant.GetScope().GetWorks())
		grants = append(grants, g)
	}
	return filled(map[string]any{"audience": audience(t.p), "party": party, "party_name": t.PartyName(party), "entries": entries, "grants": grants}), nil
}
