package journal

import (
	"context"
	"fmt"
	"io"
	"iter"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"platarium/storage"
)

// faulty is a bucket over a weak line. It fails the test if anything of the journal is replaced or deleted.
type faulty struct {
	inner  storage.Bucket
	t      testing.TB
	before func(call, key string) error // an error: the call isn't done
	after  func(call, key string) error // an error: the call was done, and this is the reply
	late   func() bool                  // true: Create is done later, and the reply is doubtful
	sent   sync.WaitGroup               // late ones under way
}

func (f *faulty) around(call, key string, do func() error) error {
	if f.before != nil {
		if err := f.before(call, key); err != nil {
			return fmt.Errorf("%s %s: %w", call, key, err)
		}
	}
	if err := do(); err != nil {
		return err
	}
	if f.after != nil {
		if err := f.after(call, key); err != nil {
			return fmt.Errorf("%s %s: %w", call, key, err)
		}
	}
	return nil
}

func (f *faulty) Put(ctx context.Context, key string, body io.Reader, size int64, sum *storage.Digest) error {
	if strings.HasPrefix(key, journalPrefix) {
		f.t.Errorf("Put of %s: the journal must not be replaced", key)
	}
	return f.around("put", key, func() error { return f.inner.Put(ctx, key, body, size, sum) })
}

func (f *faulty) Create(ctx context.Context, key string, data []byte) error {
	if f.late != nil && f.late() {
		f.sent.Go(func() {
			time.Sleep(rand.N(5 * time.Millisecond))
			_ = f.inner.Create(context.WithoutCancel(ctx), key, data) // nobody hears the reply
		})
		return storage.ErrDoubtful
	}
	return f.around("create", key, func() error { return f.inner.Create(ctx, key, data) })
}

func (f *faulty) Open(ctx context.Context, key string, offset, length int64) (r io.ReadCloser, err error) {
	err = f.around("open", key, func() error { r, err = f.inner.Open(ctx, key, offset, length); return err })
	return r, err
}

func (f *faulty) Stat(ctx context.Context, key string) (info storage.Info, err error) {
	err = f.around("stat", key, func() error { info, err = f.inner.Stat(ctx, key); return err })
	return info, err
}

func (f *faulty) List(ctx context.Context, prefix, after string) iter.Seq2[storage.Info, error] {
	if f.before != nil {
		if err := f.before("list", prefix); err != nil {
			return func(yield func(storage.Info, error) bool) { yield(storage.Info{}, err) }
		}
	}
	return f.inner.List(ctx, prefix, after)
}

func (f *faulty) Delete(ctx context.Context, key string) error {
	if strings.HasPrefix(key, journalPrefix) {
		f.t.Errorf("Delete of %s: the journal must not be deleted", key)
	}
	return f.around("delete", key, func() error { return f.inner.Delete(ctx, key) })
}

// weakLine is a faulty bucket that delays calls, loses replies, answers one's own success with ErrExist, and delivers writes late.
func weakLine(t testing.TB, inner storage.Bucket) *faulty {
	f := &faulty{inner: inner, t: t}
	f.before = func(call, _ string) error {
		time.Sleep(rand.N(500 * time.Microsecond))
		if call == "create" && rand.N(20) == 0 {
			return storage.ErrDoubtful
		}
		return nil
	}
	f.after = func(call, _ string) error {
		if call != "create" {
			return nil
		}
		return []error{storage.ErrDoubtful, storage.ErrExist, nil, nil, nil, nil, nil, nil}[rand.N(8)]
	}
	f.late = func() bool { return rand.N(15) == 0 }
	return f
}
