package archive

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/journal"
)

// Outcome is one item of a batch: a record or the reason why not.
type Outcome[T Record] struct {
	Record T
	Err    error
}

// Creation is one record to be made.
type Creation[T Record] struct {
	Record    T
	ID        string // empty for one made here
	RequestID string
}

type outcome struct {
	result
	err error
}

// submitEach hands mutations to the journal in order, so that a later one sees the earlier ones, and answers in order. A nil one is passed over.
func (a *Archive) submitEach(ctx context.Context, muts []*mutation) []outcome {
	out := make([]outcome, len(muts))
	payloads := make([]any, 0, len(muts))
	at := make([]int, 0, len(muts))
	for i, m := range muts {
		if m != nil {
			payloads, at = append(payloads, m), append(at, i)
		}
	}
	read := a.readEach()
	for k, answer := range a.log.SubmitAll(ctx, payloads) {
		o := &out[at[k]]
		if o.err = answer.Err; o.err == nil {
			o.result, o.err = resultOf(ctx, muts[at[k]].requestID, answer.Receipt, read)
		}
	}
	return out
}

// readEach reads commits back, each once: a repeated batch was often answered by few.
func (a *Archive) readEach() func(context.Context, int64) (*journal.Stored, error) {
	known := map[int64]*journal.Stored{}
	return func(ctx context.Context, seq int64) (*journal.Stored, error) {
		if c := known[seq]; c != nil {
			return c, nil
		}
		c, err := a.log.Read(ctx, seq)
		if err == nil {
			known[seq] = c
		}
		return c, err
	}
}

// BatchCreatePictures makes many pictures: each alone, in order, or all or none. The sequence is that of the last commit.
func (a *Archive) BatchCreatePictures(ctx context.Context, actor string, list []Creation[*pb.Picture], atomic, validateOnly bool) ([]Outcome[*pb.Picture], int64) {
	muts, errs := a.preparePictures(ctx, actor, list)
	switch {
	case validateOnly:
		return a.tryPictures(muts, errs), 0
	case atomic:
		return a.createAtomically(ctx, actor, muts, errs)
	}
	out := make([]Outcome[*pb.Picture], len(list))
	var seq int64
	for i, o := range a.submitEach(ctx, muts) {
		if errs[i] != nil {
			out[i].Err = errs[i]
			continue
		}
		out[i].Record, out[i].Err = first[*pb.Picture](o.result, o.err)
		seq = max(seq, o.seq)
	}
	return out, seq
}

// preparePictures prepares side by side, since reading headers waits for the bucket.
func (a *Archive) preparePictures(ctx context.Context, actor string, list []Creation[*pb.Picture]) ([]*mutation, []error) {
	const abreast = 8
	muts, errs := make([]*mutation, len(list)), make([]error, len(list))
	var wg sync.WaitGroup
	next := make(chan int)
	for range abreast {
		wg.Go(func() {
			for i := range next {
				muts[i], errs[i] = a.pictureCreation(ctx, Caller{Actor: actor, RequestID: list[i].RequestID}, list[i].Record, list[i].ID)
			}
		})
	}
	for i := range list {
		next <- i
	}
	close(next)
	wg.Wait()
	return muts, errs
}

// tryPictures validates all in order without storing anything.
func (a *Archive) tryPictures(muts []*mutation, errs []error) []Outcome[*pb.Picture] {
	out := make([]Outcome[*pb.Picture], len(muts))
	err := a.dry(func(v *View) error {
		for i, m := range muts {
			if out[i].Err = errs[i]; m == nil {
				continue
			}
			mark := len(v.changes)
			if out[i].Err = m.build(v); out[i].Err != nil {
				if err := v.rollback(mark); err != nil {
					return err
				}
				continue
			}
			out[i].Record, _ = recordOf(v.changes[len(v.changes)-1]).(*pb.Picture)
		}
		return nil
	})
	if err != nil {
		for i := range out {
			out[i].Err = errors.Join(out[i].Err, err)
		}
	}
	return out
}

// createAtomically makes all in one transaction; one at fault refuses all, each of the others saying so.
func (a *Archive) createAtomically(ctx context.Context, actor string, muts []*mutation, errs []error) ([]Outcome[*pb.Picture], int64) {
	out := make([]Outcome[*pb.Picture], len(muts))
	if len(muts) == 0 {
		return out, 0
	}
	failed := func(err error) ([]Outcome[*pb.Picture], int64) {
		var one *itemError
		alone := errors.As(err, &one)
		for i := range out {
			if out[i].Err = err; alone {
				out[i].Err = ErrTogether
			}
		}
		if alone {
			out[one.at].Err = one.err
		}
		return out, 0
	}
	var prints []proto.Message
	for i, m := range muts {
		if errs[i] != nil {
			return failed(&itemError{i, errs[i]})
		}
		prints = append(prints, &pb.GetPictureRequest{Name: m.fingerprint})
	}
	r, err := a.submit(ctx, "BatchCreatePictures", Caller{Actor: actor, RequestID: muts[0].requestID}, prints, func(v *View) error {
		for i, m := range muts {
			if err := m.build(v); err != nil {
				return &itemError{i, err}
			}
		}
		return nil
	})
	if err != nil {
		return failed(err)
	}
	for i, c := range r.changes {
		out[i].Record, _ = recordOf(c).(*pb.Picture)
	}
	return out, r.seq
}

// itemError says which item of a batch is at fault.
type itemError struct {
	at  int
	err error
}

func (e *itemError) Error() string { return fmt.Sprintf("item %d: %v", e.at, e.err) }
func (e *itemError) Unwrap() error { return e.err }

// ErrTogether: the item itself was sound, but one of its batch was not and all were to succeed together.
var ErrTogether = errors.New("not stored: another item of the atomic batch was refused")
