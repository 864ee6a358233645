package api

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/preview"
	"platarium/server/rights"
	"platarium/server/rights/statement"
	"platarium/storage"
)

// errWithheld: a publisher asked for an earlier statement that tells of a grant which it may not know today. It asks for the last one, or the studio.
var errWithheld = errors.New("that statement is no longer given out; ask for the last one, or the studio")

// GetStatement writes the history of a picture or a party, or a grant, as of a commit. Nothing in it hangs on the hour at which it is asked for: records are those of the commit, and what a grant's state and a
// use's verdict are, they are on the commit's day. Who may ask is decided by what stands today.
func (s licensingService) GetStatement(ctx context.Context, req *pb.GetStatementRequest) (*pb.Statement, error) {
	p := caller(ctx)
	if req.GetSequence() < 0 {
		return nil, field("sequence", "found %d; want the number of a commit, or 0 for the last", req.GetSequence())
	}
	switch given := slices.DeleteFunc([]string{req.GetPicture(), req.GetGrant(), req.GetParty()}, func(n string) bool { return n == "" }); {
	case len(given) > 1:
		return nil, field("picture", "found %s; want one of picture, grant and party", strings.Join(given, " and "))
	case req.GetGrant() != "":
		return s.grantStatement(ctx, p, req)
	case req.GetParty() != "":
		return s.partyStatement(ctx, p, req)
	default:
		return s.pictureStatement(ctx, p, req)
	}
}

// pictureStatement writes the history of a picture.
func (s licensingService) pictureStatement(ctx context.Context, p principal, req *pb.GetStatementRequest) (*pb.Statement, error) {
	if err := wantName("picture", req.GetPicture(), archive.Pictures); err != nil {
		return nil, err
	}
	if p.outsider() { // what has been withdrawn is asked about no more
		if _, err := s.visiblePicture(p, req.GetPicture()); err != nil {
			return nil, err
		}
	}
	past, err := s.archive.At(ctx, req.GetSequence(), req.GetPicture())
	if err != nil {
		return nil, err
	}
	defer past.Close()
	content, err := s.statement(ctx, p, past, req.GetPicture())
	if err != nil {
		return nil, err
	}
	return s.sealed(past, strings.TrimPrefix(req.GetPicture(), archive.Pictures+"/"), content)
}

// sealed adds the commit to a statement and seals it.
func (s *Server) sealed(past *archive.Past, id string, content map[string]any) (*pb.Statement, error) {
	at := past.Position()
	content["archive"], content["caution"] = s.archive.ArchiveID(), rights.Caution
	content["sequence"], content["head"], content["commit_time"] = strconv.FormatInt(at.Seq, 10), at.Head.String(), at.Time.UTC().Format(time.RFC3339Nano)
	b, err := statement.Seal(content)
	if err != nil {
		return nil, fmt.Errorf("seal the statement: %w", err)
	}
	return &pb.Statement{Content: b, FileName: fmt.Sprintf("%s-statement-%d.json", id, at.Seq), Sequence: at.Seq, Head: at.Head.String()}, nil
}

// statement gathers all but the commit.
func (s licensingService) statement(ctx context.Context, p principal, past *archive.Past, picture string) (map[string]any, error) {
	pic, err := past.GetPicture(picture)
	if err == nil && !maySee(p, pic) {
		err = notFound(picture)
	}
	if err != nil {
		return nil, err
	}
	thumbnail, err := s.thumbnail(ctx, pic)
	if err != nil {
		return nil, err
	}
	name, err := past.AcceptedName(pic.GetIdentification())
	if err != nil {
		return nil, err
	}
	t := teller{past, p, past.Day()}
	if err := s.stillTold(t, picture); err != nil {
		return nil, err
	}
	entries, err := t.entries(picture)
	if err != nil {
		return nil, err
	}
	return filled(map[string]any{
		"audience": audience(p), "picture": picture, "title": pic.GetTitle(), "scientific_name": name, "credit_line": creditLine(pic), "rights_holder": holderIn(past, pic),
		"original_sha256": shownPicture(p, pic).GetOriginal().GetSha256(), "thumbnail_sha256": thumbnail, "entries": entryTexts(entries),
	}), nil
}

// audience is for whom a statement is written.
func audience(p principal) string {
	if p.outsider() {
		return p.party
	}
	return "studio"
}

// stillTold refuses an outsider a statement with a grant of others that was told of at the commit and is confidential today: the same bytes can't be given, and others would be no statement.
func (s licensingService) stillTold(t teller, picture string) error {
	if !t.p.outsider() {
		return nil
	}
	grants, err := t.GrantsOver(picture)
	if err != nil {
		return err
	}
	for _, g := range grants {
		if !isParty(t.p, g) && t.grant(g) != nil && s.archive.Secret([]string{g.GetName()}) {
			return errWithheld
		}
	}
	return nil
}

// holder is who holds the rights in a picture, as it may be shown to everybody.
func (s *Server) holder(pic *pb.Picture) string { return holderIn(s.archive, pic) }

func holderIn(from interface{ PartyName(string) string }, pic *pb.Picture) string {
	if h := pic.GetRightsHolder(); strings.HasPrefix(h, archive.Parties+"/") {
		return from.PartyName(h)
	}
	return pic.GetRightsHolder()
}

// statementPreview is the preview that stands for the picture.
const statementPreview = "preview-320"

// thumbnail is the sha256 of the small preview; empty for a picture that has none and will have none.
func (s *Server) thumbnail(ctx context.Context, pic *pb.Picture) (string, error) {
	if pic.GetOriginal() == nil {
		return "", nil
	}
	sum, err := storage.ParseDigest(pic.GetOriginal().GetSha256())
	if err != nil {
		return "", err
	}
	info, err := s.previews.Info(ctx, sum)
	if errors.Is(err, storage.ErrNotExist) {
		if s.previews.GaveUp(sum) {
			return "", nil
		}
		return "", errPending
	}
	if err != nil {
		return "", err
	}
	for _, v := range info.Previews {
		if preview.Variant(v.Name) == statementPreview {
			return v.SHA256, nil
		}
	}
	return "", nil
}

func entryTexts(entries []*pb.HistoryEntry) []any {
	out := make([]any, len(entries))
	for i, e := range entries {
		out[i] = entryText(e)
	}
	return out
}

// textList is a list as a statement has it.
func textList(list []string) []any {
	out := make([]any, len(list))
	for i, t := range list {
		out[i] = t
	}
	return out
}

// count is a number as a statement has it; none is left out.
func count(n int64) string {
	if n <= 0 {
		return ""
	}
	return strconv.FormatInt(n, 10)
}

// entryText is an entry of a history as text; what is empty isn't there.
func entryText(e *pb.HistoryEntry) map[string]any {
	return filled(map[string]any{
		"kind": e.GetKind(), "name": e.GetName(), "party": e.GetParty(), "terms": e.GetTerms(), "media": textList(e.GetMedia()), "territories": textList(e.GetTerritories()),
		"languages": textList(e.GetLanguages()), "purposes": textList(e.GetPurposes()), "from": e.GetFrom(), "to": e.GetTo(), "state": e.GetState(), "title": e.GetTitle(),
		"identifier": e.GetIdentifier(), "copies": count(e.GetCopies()), "credit_line": e.GetCreditLine(), "fee": e.GetFee().GetAmount(), "currency": e.GetFee().GetCurrency(),
		"signed_on": e.GetSignedOn(), "grant": e.GetGrant(), "verdict": e.GetVerdict(), "remarks": textList(e.GetRemarks()),
	})
}

// filled drops what is empty.
func filled(m map[string]any) map[string]any {
	for k, v := range m {
		if list, is := v.([]any); v == "" || is && len(list) == 0 {
			delete(m, k)
		}
	}
	return m
}

// CheckHead compares a commit's digest with the journal's. It tells nothing but yes or no: who asks must know the digest.
func (s licensingService) CheckHead(ctx context.Context, req *pb.CheckHeadRequest) (*pb.CheckHeadResponse, error) {
	want, err := storage.ParseDigest(req.GetHead())
	if err != nil {
		return nil, field("head", "%s", err)
	}
	at, err := s.archive.AppliedPosition()
	if err != nil {
		return nil, err
	}
	res := &pb.CheckHeadResponse{ArchiveId: s.archive.ArchiveID(), Sequence: at.Seq}
	if req.GetSequence() < 1 || req.GetSequence() > at.Seq {
		return res, nil
	}
	c, err := s.archive.Journal().Read(ctx, req.GetSequence())
	if err != nil {
		return nil, fmt.Errorf("read commit %d: %w", req.GetSequence(), err)
	}
	res.Agrees = c.Digest == want
	return res, nil
}
