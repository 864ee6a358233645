package journal

import (
	"context"
	"errors"
	"fmt"
	"math"
)

// write is the goroutine that commits what was submitted, until ctx ends.
func (l *Log) write(ctx context.Context) {
	limit := maxBatch
	for {
		select {
		case <-ctx.Done():
			answerAll(l.takeWaiting(math.MaxInt), ErrClosed) // closed stands already, so none follow
			return
		case <-l.wake:
		}
		for ctx.Err() == nil {
			release, err := l.take(ctx)
			if err != nil {
				break
			}
			batch := l.takeWaiting(limit)
			rest := l.commit(ctx, batch)
			l.putBack(rest)
			release()
			if len(batch) == 0 {
				break
			}
			// Planning far more than a commit holds is work done twice.
			if limit = min(2*limit, maxBatch); len(rest) > 0 {
				limit = max(len(batch)-len(rest), 1)
			}
		}
	}
}

// maxBatch is how many submissions are planned for one commit at most.
const maxBatch = 1 << 12

// commit gets a batch committed and answered, and gives back those that have to wait for another commit. The caller has the turn.
func (l *Log) commit(ctx context.Context, batch []*pending) (rest []*pending) {
	for lost := 0; ; lost++ {
		batch = l.stillWanted(batch)
		if len(batch) == 0 {
			return rest
		}
		if err := l.writable(ctx); err != nil {
			answerAll(batch, err)
			return rest
		}
		d, err := l.draft(ctx, batch)
		if err != nil {
			answerAll(d.members, err)
			return append(d.rest, rest...)
		}
		if d.empty() {
			return append(d.rest, rest...)
		}
		winner, err := l.store(ctx, d)
		if err != nil {
			answerAll(d.members, err)
			return append(d.rest, rest...)
		}
		if winner == nil {
			l.finish(ctx, d)
			return append(d.rest, rest...)
		}
		batch, rest = d.members, append(d.rest, rest...)
		if err := l.apply(ctx, winner); err != nil {
			continue // writable replays or says why not
		}
		if err := l.pause(ctx, l.opts.Jitter, lost); err != nil {
			answerAll(batch, ErrClosed)
			return rest
		}
	}
}

// finish applies a stored draft and answers its members.
func (l *Log) finish(ctx context.Context, d *draft) {
	err := l.apply(ctx, d.stored())
	if err != nil {
		// The commit stands. If the machine can be brought to it after all, the answer is the ordinary one.
		l.opts.Logger.ErrorContext(ctx, "stored commit can't be applied, replaying", "seq", d.head.GetSeq(), "error", err)
		if rerr := l.replay(ctx); rerr != nil {
			err = errors.Join(err, rerr)
			answerAll(d.members, fmt.Errorf("%w: commit %d is stored but not applied: %w", ErrUnknownOutcome, d.head.GetSeq(), err))
			return
		}
	}
	d.answer()
	l.requestCheckpoint()
}

// writable is nil if the log may write. A fault is tried to be overcome first, by replaying.
func (l *Log) writable(ctx context.Context) error {
	if l.faulty() {
		if err := l.replay(ctx); err != nil && !l.faulty() {
			return err
		}
	}
	return l.ReadOnly()
}

// stillWanted drops the submissions that nobody waits for.
func (l *Log) stillWanted(batch []*pending) []*pending {
	wanted := batch[:0:0]
	for _, p := range batch {
		if !p.gone() {
			wanted = append(wanted, p)
		}
	}
	return wanted
}

func answerAll(batch []*pending, err error) {
	for _, p := range batch {
		p.reply(Receipt{}, err)
	}
}
