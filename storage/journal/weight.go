package journal

import (
	"context"
	"errors"
	"fmt"

	"platarium/storage"
)

// tailWeight measures what opening costs: the commits after the newest checkpoint against that checkpoint.
type tailWeight struct {
	tail       int64 // weight of the commits since
	checkpoint int64 // bytes of its lines, 0 for none
	crossed    bool  // the last commit took the tail past another half of the checkpoint
}

// commitWeight is what a commit costs at a replay beside its bytes, in bytes: one read and one durable write.
const commitWeight = 16 << 10

// addWeight counts an applied commit. A commit that records a checkpoint starts the count anew, for every log alike.
func (l *Log) addWeight(c *Stored) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if mark := c.Commit.GetCheckpoint(); mark != nil {
		l.tail = tailWeight{checkpoint: mark.GetBytes()}
		return
	}
	step := max(l.opts.CheckpointMin, l.tail.checkpoint/2, 1)
	before := l.tail.tail / step
	l.tail.tail += int64(c.Size) + commitWeight
	l.tail.crossed = l.tail.tail/step > before
}

// requestCheckpoint asks for a checkpoint after a commit of one's own that took the tail past half of the last checkpoint, or past another such half: so of
// many writers on one bucket one makes it, and if that one fails another does later.
func (l *Log) requestCheckpoint() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.opts.CheckpointMin >= 0 && l.tail.crossed {
		signal(l.checkpoint)
	}
}

// saveWhenDue is the goroutine that makes checkpoints.
func (l *Log) saveWhenDue(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-l.checkpoint:
		}
		if _, err := l.Checkpoint(ctx); err != nil && ctx.Err() == nil {
			l.opts.Logger.WarnContext(ctx, "automatic checkpoint failed", "error", err)
		}
	}
}

// weighTail measures the tail by a listing, and finds a gap after which commits would be overlooked.
func (l *Log) weighTail(ctx context.Context, kept []checkpointInfo) error {
	var weight tailWeight
	from := l.Position().Seq
	for _, c := range kept {
		if !c.complete || c.seq > from {
			continue
		}
		if m, _, err := readManifest(ctx, l.bucket, c); err == nil {
			from, weight.checkpoint = c.seq, m.GetBytes()
			break
		}
	}
	if weight.checkpoint == 0 {
		from = 0
	}
	last := from
	for info, err := range l.bucket.List(ctx, journalPrefix, after(from)) {
		if err != nil {
			return fmt.Errorf("list journal: %w", err)
		}
		seq, ok := parseCommitKey(info.Key)
		if !ok {
			continue
		}
		if seq != last+1 {
			if err := l.checkGap(ctx, last+1, seq); err != nil {
				return err
			}
		}
		last = seq
		weight.tail += info.Size + commitWeight
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.tail = weight
	return nil
}

// after is the key after which a listing begins with commit seq+1.
func after(seq int64) string {
	if seq == 0 {
		return ""
	}
	return commitKey(seq)
}

// checkGap looks again for a commit that a listing lacked although it has a later one; a listing may miss what is made meanwhile.
func (l *Log) checkGap(ctx context.Context, missing, next int64) error {
	_, err := l.bucket.Stat(ctx, commitKey(missing))
	if errors.Is(err, storage.ErrNotExist) {
		return fmt.Errorf("%w: there is commit %d but no commit %d", ErrBroken, next, missing)
	}
	return err
}
