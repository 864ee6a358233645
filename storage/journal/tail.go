package journal

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"time"

	"platarium/storage"
)

// commitsFrom yields the commits from number from on until the first that isn't there. It ends after yielding an error.
func commitsFrom(ctx context.Context, b storage.Bucket, from int64, known int32) iter.Seq2[*Stored, error] {
	type answer struct {
		commit *Stored
		err    error
	}
	read := func(ctx context.Context, seq int64) answer {
		c, err := readCommit(ctx, b, seq, known)
		return answer{c, err}
	}
	return func(yield func(*Stored, error) bool) {
		for a := range inOrder(ctx, readAhead, counting(from), read) {
			if errors.Is(a.err, storage.ErrNotExist) || !yield(a.commit, a.err) || a.err != nil {
				return
			}
		}
	}
}

// apply makes c part of the state. The caller has the turn. What fails here is a fault: the log doesn't write until a replay has passed the point.
func (l *Log) apply(ctx context.Context, c *Stored) error {
	if err := checkLink(l.Position(), c); err != nil {
		l.setFault(err)
		return err
	}
	if err := l.checkRestored(c); err != nil {
		l.setFault(err)
		return err
	}
	if err := l.machine.Apply(context.WithoutCancel(ctx), c); err != nil {
		err = fmt.Errorf("apply commit %d: %w", c.Commit.GetSeq(), err)
		l.setFault(err)
		return err
	}
	l.moveTo(c.position(), c.Commit.GetSchema())
	l.addWeight(c)
	return nil
}

// catchUp applies what the journal holds after the position. The caller has the turn.
func (l *Log) catchUp(ctx context.Context) error {
	for c, err := range commitsFrom(ctx, l.bucket, l.Position().Seq+1, l.opts.Schema) {
		if errors.Is(err, ErrBroken) {
			l.setFault(err)
		}
		if err != nil {
			return err
		}
		if err := l.apply(ctx, c); err != nil {
			return err
		}
	}
	return nil
}

// replay starts over from what the machine durably holds; success clears a fault. The caller has the turn.
func (l *Log) replay(ctx context.Context) error {
	if err := l.locate(ctx); err != nil {
		return err
	}
	if err := l.catchUp(ctx); err != nil {
		return err
	}
	l.setFault(nil)
	return nil
}

// refresh brings the state to the journal's end. The caller has the turn.
func (l *Log) refresh(ctx context.Context) error {
	if l.faulty() {
		return l.replay(ctx)
	}
	return l.catchUp(ctx)
}

// Sync applies what others have committed and tells the last commit applied. Every commit that was stored before the call is then applied.
func (l *Log) Sync(ctx context.Context) (int64, error) {
	release, err := l.take(ctx)
	if err != nil {
		return l.Position().Seq, err
	}
	defer release()
	err = l.refresh(ctx)
	return l.Position().Seq, err
}

// Follow calls Sync at every interval until ctx ends, and gives its error. What fails meanwhile is logged and tried again; ReadOnly tells a lasting fault.
func (l *Log) Follow(ctx context.Context, every time.Duration) error {
	ticker := time.NewTicker(every)
	defer ticker.Stop()
	logged := ""
	for {
		_, err := l.Sync(ctx)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err == nil:
			logged = ""
		case err.Error() != logged: // the same again is no news
			logged = err.Error()
			l.opts.Logger.WarnContext(ctx, "can't follow the journal", "error", err)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-ticker.C:
		}
	}
}

// waitPoll is how often WaitFor looks for a commit that isn't there yet.
const waitPoll = 100 * time.Millisecond

// WaitFor returns once commit seq is applied; it reads the bucket if it isn't. A number that nobody has committed is waited for until ctx ends.
func (l *Log) WaitFor(ctx context.Context, seq int64) error {
	for {
		l.mu.Lock()
		at, moved := l.pos.Seq, l.moved
		l.mu.Unlock()
		if at >= seq {
			return nil
		}
		if at, err := l.Sync(ctx); err != nil || at >= seq {
			return err
		}
		poll := time.NewTimer(waitPoll)
		select {
		case <-moved:
		case <-poll.C:
		case <-ctx.Done():
			poll.Stop()
			return ctx.Err()
		}
		poll.Stop()
	}
}

// Read gives commit seq as it stands in the bucket. An error wraps storage.ErrNotExist if there is none yet.
func (l *Log) Read(ctx context.Context, seq int64) (*Stored, error) {
	if seq < 1 {
		return nil, fmt.Errorf("commit %d: %w", seq, storage.ErrNotExist)
	}
	return readCommit(ctx, l.bucket, seq, l.opts.Schema)
}
