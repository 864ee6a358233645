package archive

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/journal"
)

// mutation is one request to change records.
type mutation struct {
	requestID   string
	method      string
	actor       string
	fingerprint string
	build       func(*View) error
}

// machine is the local record store as the journal drives it.
type machine struct {
	archive *Archive
	db      *bolt.DB
	// behind is the place before the commit that the store holds but that couldn't be brought into memory and the index; nil for none. The journal then
	// replays it.
	behind atomic.Pointer[journal.Position]
}

// Applied tells the last commit that store, memory and index all have.
func (m *machine) Applied() (int64, storage.Digest) {
	p := m.archive.stored()
	if before := m.behind.Load(); before != nil {
		p = *before
	}
	return p.Seq, p.Head
}

// stored is the last commit that the record store holds.
func (a *Archive) stored() (p journal.Position) {
	// A read transaction on an open store doesn't fail; a closed one has nothing applied.
	_ = a.db.View(func(tx *bolt.Tx) error {
		p = state{tx}.position()
		return nil
	})
	return p
}

// Plan validates requests in one transaction that is always rolled back: each sees the changes of those before it.
func (m *machine) Plan(ctx context.Context, now time.Time, reqs []*journal.Request) {
	tx, err := m.db.Begin(true)
	if err != nil {
		for _, r := range reqs {
			r.Err = fmt.Errorf("begin a plan: %w", err)
		}
		return
	}
	defer func() { _ = tx.Rollback() }()
	inFlight := make(map[string]bool, len(reqs))
	for _, r := range reqs {
		m.planOne(ctx, &View{state: state{tx}, archive: m.archive, now: now}, r, inFlight)
	}
}

func (m *machine) planOne(ctx context.Context, v *View, r *journal.Request, inFlight map[string]bool) {
	r.Transaction, r.Done, r.Err = nil, nil, nil
	if s, ok := r.Payload.(*sweeping); ok {
		r.Err = s.plan(v.state, r)
		return
	}
	mut, ok := r.Payload.(*mutation)
	if !ok {
		r.Err = fmt.Errorf("payload of type %T", r.Payload)
		return
	}
	if r.Err = ctx.Err(); r.Err != nil {
		return
	}
	if inFlight[mut.requestID] {
		return // undecided: planned again once its twin is applied, and then a replay
	}
	done, err := v.state.answered(mut.requestID)
	switch {
	case err != nil:
		r.Err = err
		return
	case done != nil:
		if r.Err = mut.sameAs(done); r.Err == nil {
			r.Done = &journal.Receipt{Seq: done.GetSeq(), Time: done.GetTime().AsTime(), Replayed: true}
		}
		return
	}
	if r.Err = mut.build(v); r.Err != nil {
		if err := v.rollback(0); err != nil {
			r.Err = errors.Join(r.Err, err)
		}
		return
	}
	inFlight[mut.requestID] = true
	r.Transaction = &pb.Transaction{RequestId: mut.requestID, Actor: mut.actor, Method: mut.method, Fingerprint: mut.fingerprint, Changes: v.changes}
}

func (mut *mutation) sameAs(done *pb.Answered) error {
	if done.GetMethod() != mut.method || done.GetFingerprint() != mut.fingerprint || done.GetActor() != mut.actor {
		return fmt.Errorf("%w: %q", ErrRequestReused, mut.requestID)
	}
	return nil
}

// Apply stores a commit's records, then brings what is kept in memory and the index up to it. A commit that only the store has is brought there again.
func (m *machine) Apply(ctx context.Context, c *journal.Stored) error {
	before := m.archive.stored()
	if before.Seq < c.Commit.GetSeq() {
		if err := m.db.Update(func(tx *bolt.Tx) error { return state{tx}.applyCommit(c) }); err != nil {
			return fmt.Errorf("apply commit %d: %w", c.Commit.GetSeq(), err)
		}
		m.behind.Store(&before)
	}
	if err := m.archive.applied(ctx, c); err != nil {
		return err
	}
	m.behind.Store(nil)
	return nil
}

// applyCommit makes a commit part of the store.
func (s state) applyCommit(c *journal.Stored) error {
	seq := c.Commit.GetSeq()
	// Announcements first: a record of the same commit that names an announced original was planned after the announcement, since one planned before it
	// would have kept the original from being announced.
	for _, sum := range c.Commit.GetSweep() {
		if err := s.announce(sum, seq); err != nil {
			return err
		}
	}
	for _, t := range c.Commit.GetTransactions() {
		for _, change := range t.GetChanges() {
			if err := s.apply(change, seq); err != nil {
				return err
			}
		}
	}
	if err := s.note(seq, c.Commit.GetTime().AsTime(), c.Commit.GetTransactions()); err != nil {
		return err
	}
	return s.setPosition(journal.Position{Seq: seq, Head: c.Digest, Time: c.Commit.GetTime().AsTime()})
}

// Restore empties the store and fills it from a checkpoint. The position is set last: a restore cut short is begun again.
func (m *machine) Restore(_ context.Context, at journal.Position, lines iter.Seq2[*pb.CheckpointLine, error]) error {
	if err := m.db.Update(resetBuckets); err != nil {
		return fmt.Errorf("empty the local store: %w", err)
	}
	const batch = 20_000 // lines a transaction: some tens of MB
	next, stop := iter.Pull2(lines)
	defer stop()
	for more := true; more; {
		err := m.db.Update(func(tx *bolt.Tx) error {
			for range batch {
				line, err, ok := next()
				if err != nil {
					return err
				}
				if !ok {
					more = false
					return nil
				}
				if err := (state{tx}).restoreLine(line); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return fmt.Errorf("restore checkpoint %d: %w", at.Seq, err)
		}
	}
	if err := m.db.Update(func(tx *bolt.Tx) error { return state{tx}.setPosition(at) }); err != nil {
		return err
	}
	m.behind.Store(nil)
	return m.archive.reload()
}

func resetBuckets(tx *bolt.Tx) error {
	for _, name := range allBuckets {
		if tx.Bucket(name) != nil {
			if err := tx.DeleteBucket(name); err != nil {
				return err
			}
		}
		if _, err := tx.CreateBucket(name); err != nil {
			return err
		}
	}
	return tx.Bucket(metaBucket).Put([]byte("version"), versionMark())
}

// reset empties the store.
func (m *machine) reset() error {
	if err := m.db.Update(resetBuckets); err != nil {
		return fmt.Errorf("empty the local store: %w", err)
	}
	return m.archive.reload()
}
