package api

import (
	"context"
	"errors"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/storage"
	"platarium/storage/journal"
)

type adminService struct {
	pb.UnimplementedAdminServiceServer
	*Server
}

// errMark: the published head that was given isn't one.
var errMark = errors.New("head and head_sequence belong together: want the sha256 of a commit, and its number")

func (s adminService) GetStatus(ctx context.Context, _ *pb.GetStatusRequest) (*pb.Status, error) {
	p := caller(ctx)
	at := s.archive.Journal().Position()
	st := &pb.Status{
		ArchiveId: s.archive.ArchiveID(), Sequence: at.Seq, Head: at.Head.String(), IndexedSequence: s.archive.Index().Sequence(), Version: s.version,
		Key: p.key, Role: p.role, Party: p.party, CommitTime: timestamppb.New(at.Time),
	}
	if err := s.archive.Journal().ReadOnly(); err != nil {
		st.ReadOnly, st.ReadOnlyReason = true, err.Error()
	}
	if p.outsider() {
		st.ReadOnlyReason = ""
		return st, nil
	}
	st.Records = map[string]int64{}
	for _, c := range archive.Collections() {
		n, err := s.archive.Count(c)
		if err != nil {
			return nil, err
		}
		st.Records[c] = n
	}
	st.PreviewsPending = s.previews.Pending()
	st.Decoder = s.previews.Decoder()
	return st, nil
}

func (s adminService) CreateKey(ctx context.Context, req *pb.CreateKeyRequest) (*pb.CreateKeyResponse, error) {
	if err := wantRecord("key", req.GetKey() == nil); err != nil {
		return nil, err
	}
	res := &pb.CreateKeyResponse{}
	var err error
	res.Key, err = s.archive.CreateKey(ctx, by(ctx, ""), req.GetKey(), req.GetKeyId(), func(secret string) error {
		res.Secret = secret
		return nil
	})
	if err != nil {
		return nil, err
	}
	return res, nil
}

func (s adminService) ListKeys(ctx context.Context, req *pb.ListKeysRequest) (*pb.ListKeysResponse, error) {
	page, err := pageOf(req, caller(ctx))
	if err != nil {
		return nil, err
	}
	found, more, err := s.archive.ListKeys(page.after, page.size)
	if err != nil {
		return nil, err
	}
	res := &pb.ListKeysResponse{Keys: found}
	if len(found) > 0 {
		res.NextPageToken = page.next(found[len(found)-1].GetName(), more)
	}
	return res, nil
}

func (s adminService) RevokeKey(ctx context.Context, req *pb.RevokeKeyRequest) (*pb.Key, error) {
	if err := wantName("name", req.GetName(), archive.Keys); err != nil {
		return nil, err
	}
	return s.archive.RevokeKey(ctx, by(ctx, ""), req.GetName())
}

// Verify walks the journal, then the originals. Every finding is reported, not only the first.
func (s adminService) Verify(req *pb.VerifyRequest, stream grpc.ServerStreamingServer[pb.VerifyResponse]) error {
	ctx := stream.Context()
	out := &verification{stream: stream}
	opts := journal.VerifyOptions{Report: out.progress, Schema: archive.Schema}
	if req.GetHead() != "" || req.GetHeadSequence() != 0 {
		d, err := storage.ParseDigest(req.GetHead())
		if err != nil || req.GetHeadSequence() < 1 {
			return errMark
		}
		opts.Head = &journal.Position{Seq: req.GetHeadSequence(), Head: d}
	}
	sum, err := journal.Verify(ctx, s.archive.Bucket(), opts)
	if err != nil {
		return fmt.Errorf("verify the journal: %w", err)
	}
	out.state.Commits = sum.Commits
	for _, f := range sum.Findings {
		out.problem(f.Error())
	}
	if !req.GetSkipOriginals() {
		if err := s.archive.VerifyOriginals(ctx, out.original); err != nil {
			return fmt.Errorf("verify the originals: %w", err)
		}
	}
	if out.err != nil {
		return out.err
	}
	out.state.Done, out.state.Head = true, sum.Head.Head.String()
	return stream.Send(&out.state)
}

// verification sends findings at once and progress now and then.
type verification struct {
	stream grpc.ServerStreamingServer[pb.VerifyResponse]
	state  pb.VerifyResponse
	sent   time.Time
	err    error
}

func (v *verification) problem(text string) {
	v.state.Problems++
	v.send(text)
}

func (v *verification) send(problem string) {
	if v.err != nil || problem == "" && time.Since(v.sent) < time.Second/4 {
		return
	}
	v.sent = time.Now()
	v.err = v.stream.Send(&pb.VerifyResponse{Commits: v.state.GetCommits(), Originals: v.state.GetOriginals(), Bytes: v.state.GetBytes(), Problem: problem, Problems: v.state.GetProblems()})
}

func (v *verification) progress(p journal.Progress) {
	v.state.Commits = p.Seq
	v.send("")
}

// original reports one original read; err is what is wrong with it.
func (v *verification) original(size int64, err error) error {
	v.state.Originals++
	v.state.Bytes += size
	if err != nil {
		v.problem(err.Error())
	} else {
		v.send("")
	}
	return v.err
}

// Reindex builds the index anew and reports how far it is.
func (s adminService) Reindex(_ *pb.ReindexRequest, stream grpc.ServerStreamingServer[pb.ReindexResponse]) error {
	var last pb.ReindexResponse
	var sent time.Time
	var failed error
	err := s.archive.Index().Rebuild(stream.Context(), func(done, total int64) {
		last.Indexed, last.Total = done, total
		if failed == nil && time.Since(sent) > time.Second/4 {
			sent = time.Now()
			failed = stream.Send(&pb.ReindexResponse{Indexed: done, Total: total})
		}
	})
	if err := errors.Join(err, failed); err != nil {
		return err
	}
	return stream.Send(&pb.ReindexResponse{Indexed: last.GetIndexed(), Total: last.GetTotal(), Done: true})
}

// WaitDerived reports until no preview is pending.
func (s adminService) WaitDerived(_ *pb.WaitDerivedRequest, stream grpc.ServerStreamingServer[pb.WaitDerivedResponse]) error {
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	for {
		finished, failed := s.previews.Done()
		pending := s.previews.Pending()
		if err := stream.Send(&pb.WaitDerivedResponse{Pending: pending, Finished: finished, Failed: failed}); err != nil || pending == 0 {
			return err
		}
		select {
		case <-stream.Context().Done():
			return stream.Context().Err()
		case <-tick.C:
		}
	}
}
