package api

import (
	"context"
	"errors"
	"fmt"
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

// errNotLast: a statement was asked for as of a commit that isn't the last. The caller asks for the last, or keeps the statement that it has.
var errNotLast = errors.New("statements are made of the last commit only")

// statementTries is how often a statement is begun anew because a commit came in between.
const statementTries = 20

// GetStatement writes a history as of a commit. Nothing in it hangs on the hour at which it is asked for: what a grant's state and a use's verdict are, they are on the commit's day.
func (s licensingService) GetStatement(ctx context.Context, req *pb.GetStatementRequest) (*pb.Statement, error) {
	p := caller(ctx)
	pic, err := s.visiblePicture(p, req.GetPicture())
	if err != nil {
		return nil, err
	}
	for range statementTries {
		at, err := s.archive.AppliedPosition()
		if err != nil {
			return nil, err
		}
		if seq := req.GetSequence(); seq != 0 && seq != at.Seq {
			return nil, fmt.Errorf("%w: found commit %d, the last is %d", errNotLast, seq, at.Seq)
		}
		content, err := s.statement(ctx, p, pic.GetName(), at.Time)
		if err != nil {
			return nil, err
		}
		after, err := s.archive.AppliedPosition()
		if err != nil {
			return nil, err
		}
		if after != at {
			continue
		}
		content["sequence"], content["head"], content["commit_time"] = strconv.FormatInt(at.Seq, 10), at.Head.String(), at.Time.UTC().Format(time.RFC3339Nano)
		b, err := statement.Seal(content)
		if err != nil {
			return nil, fmt.Errorf("seal the statement: %w", err)
		}
		name := fmt.Sprintf("%s-statement-%d.json", strings.TrimPrefix(pic.GetName(), archive.Pictures+"/"), at.Seq)
		return &pb.Statement{Content: b, FileName: name, Sequence: at.Seq, Head: at.Head.String()}, nil
	}
	return nil, fmt.Errorf("%w: commits come in faster than a statement is written", errPending)
}

// statement gathers all but the commit.
func (s licensingService) statement(ctx context.Context, p principal, picture string, at time.Time) (map[string]any, error) {
	pic, err := s.visiblePicture(p, picture)
	if err != nil {
		return nil, err
	}
	thumbnail, err := s.thumbnail(ctx, pic)
	if err != nil {
		return nil, err
	}
	entries, err := s.entriesOn(p, pic.GetName(), s.archive.DayOf(at))
	if err != nil {
		return nil, err
	}
	audience := "studio"
	if p.outsider() {
		audience = p.party
	}
	list := make([]any, len(entries))
	for i, e := range entries {
		list[i] = entryText(e)
	}
	return filled(map[string]any{
		"archive": s.archive.ArchiveID(), "audience": audience, "picture": pic.GetName(), "title": pic.GetTitle(), "scientific_name": s.archive.AcceptedName(pic.GetIdentification()),
		"credit_line": creditLine(pic), "rights_holder": s.holder(pic), "original_sha256": shownPicture(p, pic).GetOriginal().GetSha256(), "thumbnail_sha256": thumbnail,
		"entries": list, "caution": rights.Caution,
	}), nil
}

// holder is who holds the rights in a picture, as it may be shown to everybody.
func (s *Server) holder(pic *pb.Picture) string {
	if h := pic.GetRightsHolder(); strings.HasPrefix(h, archive.Parties+"/") {
		return s.archive.PartyName(h)
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

// entryText is an entry of a history as text; what is empty isn't there.
func entryText(e *pb.HistoryEntry) map[string]any {
	texts := func(list []string) []any {
		out := make([]any, len(list))
		for i, t := range list {
			out[i] = t
		}
		return out
	}
	copies := ""
	if e.GetCopies() > 0 {
		copies = strconv.FormatInt(e.GetCopies(), 10)
	}
	return filled(map[string]any{
		"kind": e.GetKind(), "name": e.GetName(), "party": e.GetParty(), "terms": e.GetTerms(), "media": texts(e.GetMedia()), "territories": texts(e.GetTerritories()),
		"languages": texts(e.GetLanguages()), "purposes": texts(e.GetPurposes()), "from": e.GetFrom(), "to": e.GetTo(), "state": e.GetState(), "title": e.GetTitle(),
		"identifier": e.GetIdentifier(), "copies": copies, "credit_line": e.GetCreditLine(), "fee": e.GetFee().GetAmount(), "currency": e.GetFee().GetCurrency(),
		"signed_on": e.GetSignedOn(), "grant": e.GetGrant(), "verdict": e.GetVerdict(), "remarks": texts(e.GetRemarks()),
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
