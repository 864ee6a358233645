package journal

import (
	"context"
	"fmt"

	pb "platarium/proto/platarium/v1"
)

// pending is a submission between Submit and its answer.
type pending struct {
	req    Request
	mark   *pb.CheckpointMark // the log's own submission: a checkpoint to record; never planned
	left   <-chan struct{}    // closed when the submitter doesn't wait any more
	answer chan Answer        // takes one
}

// Answer is what Submit returns, for one of many submissions.
type Answer struct {
	Receipt Receipt
	Err     error
}

func (p *pending) reply(r Receipt, err error) { p.answer <- Answer{r, err} }

// gone says whether nobody waits for the answer.
func (p *pending) gone() bool {
	select {
	case <-p.left:
		return true
	default:
		return false
	}
}

// Submit has payload planned and committed, and waits until the commit is stored and applied. Submissions that arrive while a commit is being written share
// the next one. The error is what Plan decided, or wraps ErrReadOnly, ErrTooLarge, ErrBroken, ErrClosed, or ErrUnknownOutcome when the commit was stored but
// couldn't be applied or ctx ended while the request was under way; if ctx ended before that, the error is that of ctx and nothing was written.
func (l *Log) Submit(ctx context.Context, payload any) (Receipt, error) {
	return l.submit(ctx, &pending{req: Request{Payload: payload}})
}

// SubmitAll submits payloads together: they are planned in their order, with nothing of others between those that share a commit, and each is
// answered alone, as Submit would. The answers stand in the order of the payloads.
func (l *Log) SubmitAll(ctx context.Context, payloads []any) []Answer {
	answers := make([]Answer, len(payloads))
	all := make([]*pending, len(payloads))
	for i, payload := range payloads {
		all[i] = &pending{req: Request{Payload: payload}}
	}
	err := l.enqueue(ctx, all...)
	for i, p := range all {
		if answers[i].Err = err; err == nil {
			answers[i].Receipt, answers[i].Err = l.await(ctx, p)
		}
	}
	return answers
}

func (l *Log) submit(ctx context.Context, p *pending) (Receipt, error) {
	if err := l.enqueue(ctx, p); err != nil {
		return Receipt{}, err
	}
	return l.await(ctx, p)
}

// enqueue puts submissions at the end of the queue.
func (l *Log) enqueue(ctx context.Context, all ...*pending) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, p := range all {
		p.left, p.answer = ctx.Done(), make(chan Answer, 1)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		return ErrClosed
	}
	l.waiting = append(l.waiting, all...)
	signal(l.wake)
	return nil
}

// await waits for the answer to a submission.
func (l *Log) await(ctx context.Context, p *pending) (Receipt, error) {
	select {
	case a := <-p.answer:
		return a.Receipt, a.Err
	case <-ctx.Done():
	}
	if l.withdraw(p) {
		return Receipt{}, ctx.Err()
	}
	select {
	case a := <-p.answer: // it came at the same moment
		return a.Receipt, a.Err
	default:
		return Receipt{}, fmt.Errorf("%w: %w", ErrUnknownOutcome, ctx.Err())
	}
}

// signal puts the one token into a channel that holds at most one.
func signal(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// withdraw takes p out of the queue, if it is still there.
func (l *Log) withdraw(p *pending) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	for i, w := range l.waiting {
		if w == p {
			l.waiting = append(l.waiting[:i:i], l.waiting[i+1:]...)
			return true
		}
	}
	return false
}

// takeWaiting gives up to limit submissions from the head of the queue.
func (l *Log) takeWaiting(limit int) []*pending {
	l.mu.Lock()
	defer l.mu.Unlock()
	n := min(limit, len(l.waiting))
	batch := l.waiting[:n:n]
	l.waiting = l.waiting[n:]
	return batch
}

// putBack returns submissions to the head of the queue.
func (l *Log) putBack(rest []*pending) {
	if len(rest) == 0 {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.waiting = append(append(make([]*pending, 0, len(rest)+len(l.waiting)), rest...), l.waiting...)
}
