package journal

import (
	"context"
	"fmt"
)

// Answer is what Submit returns, for one of many submissions.
type Answer struct {
	Receipt Receipt
	Err     error
}

// SubmitAll submits payloads together: they are planned in their order, with nothing of others between those that share a commit, and each is answered alone, as
// Submit would. The answers stand in the order of the payloads.
func (l *Log) SubmitAll(ctx context.Context, payloads []any) []Answer {
	out := make([]Answer, len(payloads))
	if err := ctx.Err(); err != nil {
		return fill(out, err)
	}
	all := make([]*pending, len(payloads))
	for i, payload := range payloads {
		all[i] = &pending{req: Request{Payload: payload}, left: ctx.Done(), answer: make(chan answer, 1)}
	}
	l.mu.Lock()
	if l.closed {
		l.mu.Unlock()
		return fill(out, ErrClosed)
	}
	l.waiting = append(l.waiting, all...)
	l.mu.Unlock()
	l.signal(l.wake)
	for i, p := range all {
		out[i].Receipt, out[i].Err = l.await(ctx, p)
	}
	return out
}

func fill(out []Answer, err error) []Answer {
	for i := range out {
		out[i].Err = err
	}
	return out
}

// await waits for the answer to a submission in the queue.
func (l *Log) await(ctx context.Context, p *pending) (Receipt, error) {
	select {
	case a := <-p.answer:
		return a.receipt, a.err
	case <-ctx.Done():
	}
	if l.withdraw(p) {
		return Receipt{}, ctx.Err()
	}
	select {
	case a := <-p.answer: // it came at the same moment
		return a.receipt, a.err
	default:
		return Receipt{}, fmt.Errorf("%w: %w", ErrUnknownOutcome, ctx.Err())
	}
}
