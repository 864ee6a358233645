package journal

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// Log is an open journal with the machine that it drives. All methods may be called concurrently.
type Log struct {
	bucket  storage.Bucket
	machine Machine
	opts    Options
	format  *pb.Format

	partBytes int // bytes of lines in a part of a checkpoint

	// turn holds one token: who has it may plan, write, read the tail and apply.
	turn chan struct{}

	mu      sync.Mutex
	pos     Position
	moved   chan struct{} // closed when pos moves, then made anew
	schema  int32         // highest level met
	fault   error         // why the state can't be brought to the journal's end; nil once it could
	tail    tailWeight
	waiting []*pending // submissions not yet taken up, in order
	closed  bool

	wake       chan struct{} // one token: there is something waiting
	checkpoint chan struct{} // one token: a checkpoint is due
	stop       context.CancelFunc
	owned      sync.WaitGroup // the log's goroutines
	saving     sync.Mutex     // one checkpoint at a time
	restored   *pb.CheckpointMark
}

// Open opens the journal in bucket and brings m to its end: it makes the bucket an archive if it holds nothing, restores the newest good checkpoint if m
// is behind it, and applies the commits after it. It fails with ErrFormat, ErrForeign or ErrBroken where these apply. A journal written at a schema level
// above opts.Schema opens read-only: the machine then has dropped what it doesn't know, so its state must be discarded when the program is updated.
func Open(ctx context.Context, bucket storage.Bucket, m Machine, opts Options) (*Log, error) {
	l := &Log{
		bucket: bucket, machine: m, opts: opts.withDefaults(), partBytes: partBytes,
		turn: make(chan struct{}, 1), moved: make(chan struct{}),
		wake: make(chan struct{}, 1), checkpoint: make(chan struct{}, 1),
	}
	var err error
	if l.format, err = ensureFormat(ctx, bucket, l.opts.Clock(), l.opts.Rand); err != nil {
		return nil, err
	}
	kept, err := listCheckpoints(ctx, bucket)
	if err != nil {
		return nil, err
	}
	if err := l.restore(ctx, kept); err != nil {
		return nil, err
	}
	if err := l.replay(ctx); err != nil {
		return nil, err
	}
	if err := l.weighTail(ctx, kept); err != nil {
		return nil, err
	}
	run, stop := context.WithCancel(context.WithoutCancel(ctx))
	l.stop = stop
	l.owned.Go(func() { l.write(run) })
	l.owned.Go(func() { l.saveWhenDue(run) })
	return l, nil
}

// Close ends the log: a commit under way is finished, submissions still waiting fail with ErrClosed, a checkpoint under way is left unfinished.
func (l *Log) Close() error {
	l.mu.Lock()
	l.closed = true
	l.mu.Unlock()
	l.stop()
	l.owned.Wait()
	return nil
}

// ArchiveID is the random id that the archive got when it was made.
func (l *Log) ArchiveID() string { return l.format.GetArchiveId() }

// Position tells the last commit that has been applied.
func (l *Log) Position() Position {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.pos
}

// ReadOnly is nil if the log writes, else it wraps ErrReadOnly and says why it doesn't.
func (l *Log) ReadOnly() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case l.schema > l.opts.Schema:
		return fmt.Errorf("%w: the journal is written at schema level %d and this program knows level %d: use a version that knows level %d",
			ErrReadOnly, l.schema, l.opts.Schema, l.schema)
	case l.fault != nil:
		return fmt.Errorf("%w: %w", ErrReadOnly, l.fault)
	}
	return nil
}

// take waits for the turn; the caller calls the function it gets when done.
func (l *Log) take(ctx context.Context) (release func(), err error) {
	select {
	case l.turn <- struct{}{}:
		return func() { <-l.turn }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// locate sets the position to where the machine's state is, after comparing it with the journal.
func (l *Log) locate(ctx context.Context) error {
	seq, head := l.machine.Applied()
	if seq == 0 {
		l.moveTo(Position{}, 0)
		return nil
	}
	c, err := readCommit(ctx, l.bucket, seq, l.opts.Schema)
	switch {
	case errors.Is(err, storage.ErrNotExist):
		return fmt.Errorf("%w: it has commit %d, which the bucket lacks", ErrForeign, seq)
	case err != nil:
		return err
	case c.Digest != head:
		return fmt.Errorf("%w: it has commit %d with sha256 %v, the bucket has %v", ErrForeign, seq, head, c.Digest)
	}
	l.moveTo(c.position(), c.Commit.GetSchema())
	return nil
}

// moveTo notes that the state is now at p, reached by a commit of a schema level.
func (l *Log) moveTo(p Position, schema int32) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.pos = p
	l.schema = max(l.schema, schema)
	close(l.moved)
	l.moved = make(chan struct{})
}

func (l *Log) setFault(err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fault = err
}

func (l *Log) faulty() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.fault != nil
}

// now is the time for the next commit: never before the last one's, to the microsecond.
func (l *Log) now() time.Time {
	now := l.opts.Clock().UTC().Truncate(time.Microsecond)
	if last := l.Position().Time; now.Before(last) {
		return last
	}
	return now
}
