package journal

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
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
			runtime.Gosched() // those just answered may submit again, to share this commit rather than the one after
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
			limit = min(2*limit, maxBatch)
			if len(rest) > 0 {
				limit = max(2*(len(batch)-len(rest)), 1)
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
		rest = append(d.rest, rest...)
		if err != nil {
			answerAll(d.members, err)
			return rest
		}
		if d.empty() {
			if batch = l.answerUncommitted(ctx, d); len(batch) == 0 {
				return rest
			}
			continue
		}
		winner, err := l.store(ctx, d)
		if err != nil {
			answerAll(d.members, err)
			return rest
		}
		if winner == nil {
			l.finish(ctx, d)
			return rest
		}
		batch = d.members
		if l.apply(ctx, winner) != nil {
			continue // writable replays, or says why not
		}
		if l.pause(ctx, l.opts.Jitter, lost) != nil {
			answerAll(batch, ErrClosed)
			return rest
		}
		// Others may have gone on meanwhile; offering at a taken number costs more than looking. If looking fails, offering will tell.
		_ = l.catchUp(ctx)
	}
}

// answerUncommitted answers the members of a draft that commits nothing. A refusal must not rest on a state that others have left behind: where there is one
// and the journal has moved on, the members are given back, to be planned again.
func (l *Log) answerUncommitted(ctx context.Context, d *draft) (again []*pending) {
	if slices.ContainsFunc(d.members, func(p *pending) bool { return p.req.Err != nil }) {
		before := l.Position()
		err := l.refresh(ctx)
		switch {
		case l.Position().Seq != before.Seq || l.faulty():
			return d.members
		case err != nil:
			answerAll(d.members, fmt.Errorf("look for later commits: %w", err))
			return nil
		}
	}
	d.answer()
	return nil
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
