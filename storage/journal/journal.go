// Package journal keeps the archive's ordered record of changes on a bucket: numbered, hash-chained commits, and checkpoints of the state
// that they lead to.
//
// Invariants:
//   - A commit is one object, created only if its number is free, and never replaced or deleted. Of many writers racing for a number one
//     wins; the others apply the winner, plan their requests again and try the next number. So every change is serializable over
//     plain object storage, without a lock or another database.
//   - Each commit holds the sha256 of the stored bytes of the one before.
//   - A request is answered after its commit is stored and applied. One whose outcome is in doubt is never called failed.
//   - A checkpoint counts once its manifest is there, which is written last; it saves time and adds nothing: the journal alone rebuilds the state.
//
// Left out: what the changes mean. A Machine validates requests and applies commits; the journal orders, stores, reads and verifies them.
package journal

import (
	"context"
	"crypto/rand"
	"errors"
	"io"
	"iter"
	"log/slog"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// Sentinel errors, to be tested with errors.Is.
var (
	// ErrReadOnly: this log doesn't write, for the reason in the text (see Log.ReadOnly). The caller goes on serving reads and tells the reason.
	ErrReadOnly = errors.New("the archive is read-only here")
	// ErrUnknownOutcome: the request may have been committed or not. The caller sends it again under the same request id.
	ErrUnknownOutcome = errors.New("outcome unknown, ask again with the same request id")
	// ErrFormat: the bucket holds something else, or a layout newer than this program knows. The caller refuses to start.
	ErrFormat = errors.New("bucket format not supported")
	// ErrBroken: the chain of commits is damaged. The caller stops writing and has the archive verified.
	ErrBroken = errors.New("journal is broken")
	// ErrForeign: the machine's state doesn't stem from this journal. The caller discards that state and opens the log again.
	ErrForeign = errors.New("local state is not of this journal")
	// ErrTooLarge: one request's changes don't fit into an object, and it is never split. The caller asks for less at once.
	ErrTooLarge = errors.New("request too large for one commit")
	// ErrClosed: the log was closed before the request was taken up; nothing was written.
	ErrClosed = errors.New("journal is closed")
	// ErrCheckpoint: a checkpoint isn't what its manifest says. Open falls back to an earlier one or to the journal.
	ErrCheckpoint = errors.New("checkpoint is damaged")
)

// Machine is the state that a journal drives: the archive's local record store. The log calls Plan, Apply and Restore from one goroutine at a
// time; Applied and Snapshot may be called at any time.
type Machine interface {
	// Applied tells the last commit that the state durably holds, and the sha256 of its bytes (0 and zero digest for none).
	Applied() (seq int64, head storage.Digest)
	// Plan turns waiting requests into transactions, in order, each validated after its predecessors, and decides each (see Request).
	// Every earlier commit has been applied. The same requests are planned again after a lost race, so Plan must not change the state.
	// Now is the time that the commit will bear.
	Plan(ctx context.Context, now time.Time, reqs []*Request)
	// Apply makes one commit part of the state, durably, before it returns. It is called once per commit in order; after an error it may be
	// called again for the commits after Applied. The context isn't cancelled.
	Apply(ctx context.Context, c *Stored) error
	// Restore replaces the state by a checkpoint's lines, of which an error is the last worth asking for. When lines yields an error or Restore
	// fails, the state is left as it was or empty.
	Restore(ctx context.Context, at Position, lines iter.Seq2[*pb.CheckpointLine, error]) error
	// Snapshot yields the lines of a checkpoint of a state at one position, consistently even while later commits are applied. Its record lines
	// are the changes as the journal has them, so that Verify can compare. The caller calls release when done. Line messages may be reused
	// after the next one is asked for.
	Snapshot(ctx context.Context) (at Position, lines iter.Seq2[*pb.CheckpointLine, error], release func(), err error)
}

// Stored is a commit as it stands in the bucket.
type Stored struct {
	Commit *pb.Commit
	Digest storage.Digest // sha256 of the stored bytes
	Size   int            // stored bytes
}

// Request is one submission on its way into a commit. Plan sets exactly one of Transaction (and Sweep, which may also stand alone), Err and Done. A
// request for which it sets nothing waits for this commit and is planned again: so a twin that arrived together with its first becomes a replay.
type Request struct {
	// Payload is what was submitted.
	Payload any
	// Transaction holds the changes: all of them in one commit, or none.
	Transaction *pb.Transaction
	// Sweep announces originals to be swept, hex sha256.
	Sweep []string
	// Err refuses this request alone; Submit returns it unchanged.
	Err error
	// Done answers a replayed request as the first time.
	Done *Receipt
}

func (r *Request) undecided() bool {
	return r.Transaction == nil && r.Sweep == nil && r.Err == nil && r.Done == nil
}

// Receipt answers a submission.
type Receipt struct {
	Seq         int64           // the commit's number
	Time        time.Time       // the commit's time, UTC
	Transaction *pb.Transaction // as committed; read-only for its receiver
	Replayed    bool            // the request had been answered before
}

// FormatVersion is the layout of buckets that this package reads and writes.
const FormatVersion = 1

// Options of a log. The zero value of each field means the default that its comment gives.
type Options struct {
	// Clock gives the time of commits. Default time.Now.
	Clock func() time.Time
	// Rand is the source of tokens, archive ids and checkpoint names; must be safe for concurrent use. Default crypto/rand.
	Rand io.Reader
	// Schema is the level of the record schema that this program knows and writes. Default 1.
	Schema int32
	// MaxChanges is how many changes are grouped into a commit. A single request may hold more. Default 1,000.
	MaxChanges int
	// MaxBytes is how many bytes of changes are grouped into a commit. A single request may hold more. Default 4 MiB.
	MaxBytes int
	// Jitter is the longest pause after the first lost race; it doubles a few times while races are lost. Default 10 ms.
	Jitter time.Duration
	// CheckpointMin is the weight of a journal's tail (see tailWeight), in bytes, below which no automatic checkpoint is made. Default
	// 16 MiB; negative turns automatic checkpoints off.
	CheckpointMin int64
	// Logger takes warnings and news of checkpoints. Default: none.
	Logger *slog.Logger
}

func (o Options) withDefaults() Options {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Rand == nil {
		o.Rand = rand.Reader
	}
	if o.Schema == 0 {
		o.Schema = 1
	}
	if o.MaxChanges == 0 {
		o.MaxChanges = 1000
	}
	if o.MaxBytes == 0 {
		o.MaxBytes = 4 << 20
	}
	if o.Jitter == 0 {
		o.Jitter = 10 * time.Millisecond
	}
	if o.CheckpointMin == 0 {
		o.CheckpointMin = 16 << 20
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o
}
