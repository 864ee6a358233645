package archive

import (
	"context"
	"encoding/binary"
	"fmt"
	"iter"
	"maps"
	"slices"

	bolt "go.etcd.io/bbolt"
	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/journal"
)

// restoreLine files one line of a checkpoint.
func (s state) restoreLine(line *pb.CheckpointLine) error {
	switch l := line.GetLine().(type) {
	case *pb.CheckpointLine_Record:
		return s.apply(l.Record, 0)
	case *pb.CheckpointLine_Tombstone:
		return s.putProto(tombBucket, []byte(l.Tombstone.GetName()), l.Tombstone)
	case *pb.CheckpointLine_Answered:
		return s.remember(l.Answered)
	case *pb.CheckpointLine_History:
		for _, seq := range l.History.GetSeqs() {
			if err := s.bucket(historyBucket).Put(historyKey(l.History.GetName(), seq), nil); err != nil {
				return err
			}
		}
	case *pb.CheckpointLine_Originals:
		swept := binary.BigEndian.AppendUint64(nil, uint64(l.Originals.GetSweptSeq()))
		for _, sum := range l.Originals.GetSha256() {
			if err := s.bucket(originalBucket).Put([]byte(sum), swept); err != nil {
				return err
			}
		}
	default:
		return fmt.Errorf("checkpoint line of unknown kind %T", l)
	}
	return nil
}

// Snapshot yields everything that the local store holds, in one read transaction.
func (m *machine) Snapshot(ctx context.Context) (journal.Position, iter.Seq2[*pb.CheckpointLine, error], func(), error) {
	tx, err := m.db.Begin(false)
	if err != nil {
		return journal.Position{}, nil, nil, err
	}
	s := state{tx}
	lines := func(yield func(*pb.CheckpointLine, error) bool) {
		for _, part := range []func(context.Context, func(*pb.CheckpointLine, error) bool) bool{s.recordLines, s.tombLines, s.answeredLines, s.historyLines, s.originalLines} {
			if !part(ctx, yield) {
				return
			}
		}
	}
	return s.position(), lines, func() { _ = tx.Rollback() }, nil
}

// eachProto decodes every value of a bucket into a line; it returns false when the reader has had enough or something failed.
func eachProto[M proto.Message](ctx context.Context, b *bolt.Bucket, fresh func() M, wrap func(M) *pb.CheckpointLine, yield func(*pb.CheckpointLine, error) bool) bool {
	c := b.Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		m := fresh()
		err := ctx.Err()
		if err == nil {
			err = proto.Unmarshal(v, m)
		}
		if err != nil {
			yield(nil, fmt.Errorf("snapshot %q: %w", k, err))
			return false
		}
		if !yield(wrap(m), nil) {
			return false
		}
	}
	return true
}

func (s state) recordLines(ctx context.Context, yield func(*pb.CheckpointLine, error) bool) bool {
	return eachProto(ctx, s.bucket(recordBucket), func() *pb.Change { return new(pb.Change) },
		func(c *pb.Change) *pb.CheckpointLine {
			return &pb.CheckpointLine{Line: &pb.CheckpointLine_Record{Record: c}}
		}, yield)
}

func (s state) tombLines(ctx context.Context, yield func(*pb.CheckpointLine, error) bool) bool {
	return eachProto(ctx, s.bucket(tombBucket), func() *pb.Tombstone { return new(pb.Tombstone) },
		func(t *pb.Tombstone) *pb.CheckpointLine {
			return &pb.CheckpointLine{Line: &pb.CheckpointLine_Tombstone{Tombstone: t}}
		}, yield)
}

func (s state) answeredLines(ctx context.Context, yield func(*pb.CheckpointLine, error) bool) bool {
	return eachProto(ctx, s.bucket(answeredBucket), func() *pb.Answered { return new(pb.Answered) },
		func(a *pb.Answered) *pb.CheckpointLine {
			return &pb.CheckpointLine{Line: &pb.CheckpointLine_Answered{Answered: a}}
		}, yield)
}

func (s state) historyLines(ctx context.Context, yield func(*pb.CheckpointLine, error) bool) bool {
	var h *pb.RecordHistory
	flush := func() bool {
		return h == nil || yield(&pb.CheckpointLine{Line: &pb.CheckpointLine_History{History: h}}, nil)
	}
	c := s.bucket(historyBucket).Cursor()
	for k, _ := c.First(); k != nil; k, _ = c.Next() {
		if err := ctx.Err(); err != nil {
			yield(nil, err)
			return false
		}
		name, seq := string(k[:len(k)-9]), int64(binary.BigEndian.Uint64(k[len(k)-8:]))
		if h.GetName() != name {
			if !flush() {
				return false
			}
			h = &pb.RecordHistory{Name: name}
		}
		h.Seqs = append(h.Seqs, seq)
	}
	return flush()
}

// originalLines gathers digests by the commit that announced their sweeping, a thousand a line.
func (s state) originalLines(ctx context.Context, yield func(*pb.CheckpointLine, error) bool) bool {
	const most = 1000
	open := map[int64]*pb.OriginalHashes{}
	emit := func(o *pb.OriginalHashes) bool {
		return yield(&pb.CheckpointLine{Line: &pb.CheckpointLine_Originals{Originals: o}}, nil)
	}
	c := s.bucket(originalBucket).Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		if err := ctx.Err(); err != nil {
			yield(nil, err)
			return false
		}
		seq := int64(binary.BigEndian.Uint64(v))
		if open[seq] == nil {
			open[seq] = &pb.OriginalHashes{SweptSeq: seq}
		}
		open[seq].Sha256 = append(open[seq].Sha256, string(k))
		if len(open[seq].Sha256) == most {
			if !emit(open[seq]) {
				return false
			}
			delete(open, seq)
		}
	}
	for _, seq := range slices.Sorted(maps.Keys(open)) {
		if !emit(open[seq]) {
			return false
		}
	}
	return true
}
