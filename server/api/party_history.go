package api

import (
	"context"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/rights"
)

// partyLine is one grant or use of one picture, before it is put into words.
type partyLine struct {
	picture string
	grant   *pb.Grant
	use     *pb.Use
}

func (l partyLine) scope() *pb.Scope {
	if l.grant != nil {
		return l.grant.GetScope()
	}
	return l.use.GetScope()
}

// key is the place of a line: by day, picture, kind and name.
func (l partyLine) key() string {
	day, kind, name := l.scope().GetFrom(), "use", l.use.GetName()
	if l.grant != nil {
		kind, name = "grant", l.grant.GetName()
		if day == "" {
			day = l.grant.GetSignedOn()
		}
	}
	return strings.Join([]string{day, l.picture, kind, name}, "\x00")
}

// ListHistory tells staff of any party, a publisher of its own. Only what stands on the page is judged and put into words.
func (s licensingService) ListHistory(ctx context.Context, req *pb.ListHistoryRequest) (*pb.ListHistoryResponse, error) {
	p := caller(ctx)
	page, err := pageOf(req, p)
	if err != nil {
		return nil, err
	}
	party, err := s.partyAsked(p, req.GetParty())
	if err != nil {
		return nil, err
	}
	at := s.archive.Journal().Position()
	t := s.teller(p)
	lines, err := t.partyLines(party)
	if err != nil {
		return nil, err
	}
	res := &pb.ListHistoryResponse{Party: party, PartyName: s.archive.PartyName(party), Sequence: at.Seq, Head: at.Head.String(), Caution: rights.Caution}
	lines, res.NextPageToken = slice(page, lines, partyLine.key)
	judged := map[string]*pb.HistoryEntry{}
	for _, l := range lines {
		e, err := s.partyEntry(t, l, judged)
		if err != nil {
			return nil, err
		}
		res.Entries = append(res.Entries, e)
	}
	return res, nil
}

// partyAsked is the party that a caller may ask about; of another a publisher doesn't learn whether it is there.
func (s licensingService) partyAsked(p principal, name string) (string, error) {
	if p.outsider() && name == "" {
		name = p.party
	}
	if err := wantName("party", name, archive.Parties); err != nil {
		return "", err
	}
	if p.outsider() && name != p.party || !s.archive.HasParty(name) {
		return "", notFound(name)
	}
	return name, nil
}

// partyLines lists what was granted to a party and what it used, a line for each picture.
func (t teller) partyLines(party string) ([]partyLine, error) {
	var lines []partyLine
	grants, err := t.GrantsTo(party)
	if err != nil {
		return nil, err
	}
	for _, g := range grants {
		if t.p.outsider() && !isParty(t.p, g) {
			continue
		}
		for _, w := range picturesIn(g.GetScope()) {
			lines = append(lines, partyLine{picture: w, grant: g})
		}
	}
	uses, err := t.UsesBy(party)
	if err != nil {
		return nil, err
	}
	for _, u := range uses {
		for _, w := range picturesIn(u.GetScope()) {
			lines = append(lines, partyLine{picture: w, use: u})
		}
	}
	slices.SortFunc(lines, func(a, b partyLine) int { return strings.Compare(a.key(), b.key()) })
	return lines, nil
}

// picturesIn lists the pictures of a scope, each once, whole or in part.
func picturesIn(s *pb.Scope) (out []string) {
	for _, w := range s.GetWorks() {
		name, _, _ := strings.Cut(w, "#")
		if !strings.HasPrefix(w, "-") && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return out
}

func (s licensingService) partyEntry(t teller, l partyLine, judged map[string]*pb.HistoryEntry) (*pb.PartyHistoryEntry, error) {
	e, evidence, err := t.line(l, judged)
	if err != nil {
		return nil, err
	}
	out := &pb.PartyHistoryEntry{Picture: l.picture, Entry: e, Evidence: evidence}
	if pic, err := s.visiblePicture(t.p, l.picture); err == nil {
		out.Title, out.ScientificName, out.Description = pic.GetTitle(), s.archive.AcceptedName(pic.GetIdentification()), description(pic)
		out.RightsHolder = s.holder(pic)
	}
	return out, nil
}

// line puts a line into words, with how it stands with evidence of publication. Uses over many pictures are judged once: judged keeps them.
func (t teller) line(l partyLine, judged map[string]*pb.HistoryEntry) (e *pb.HistoryEntry, evidence string, err error) {
	if l.grant != nil {
		return t.grant(l.grant), proofOfGrant(l.grant), nil
	}
	if e = judged[l.use.GetName()]; e == nil {
		if e, err = t.use(l.use); err != nil {
			return nil, "", err
		}
		judged[l.use.GetName()] = e
	}
	if l.use.GetEvidenceSha256() != "" {
		evidence = "on file"
	}
	return e, evidence, nil
}

// description says in words what a picture is.
func description(p *pb.Picture) string {
	words := func(e interface{ String() string }, prefix string) string {
		w := strings.TrimPrefix(e.String(), prefix)
		if w == "UNSPECIFIED" {
			return ""
		}
		return strings.ToLower(strings.ReplaceAll(w, "_", " "))
	}
	parts := []string{words(p.GetKind(), "KIND_"), words(p.GetView(), "VIEW_"), p.GetTechnique()}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ", ")
}

// proofOfGrant says how it stands with voucher copies or other proof of publication.
func proofOfGrant(g *pb.Grant) string {
	switch {
	case g.GetEvidenceReceivedOn() != "":
		return "received " + g.GetEvidenceReceivedOn()
	case g.GetEvidenceDueOn() != "":
		return "due " + g.GetEvidenceDueOn()
	default:
		return ""
	}
}
