package storage_test

import (
	"bytes"
	"context"
	"errors"
	"iter"
	"strings"
	"testing"

	"platarium/storage"
	"platarium/storage/dir"
)

// lying is a bucket that breaks one promise.
type lying struct {
	storage.Bucket
	create func(ctx context.Context, key string, data []byte) error
	list   func(ctx context.Context, prefix, after string) iter.Seq2[storage.Info, error]
}

func (l *lying) Create(ctx context.Context, key string, data []byte) error {
	if l.create != nil {
		return l.create(ctx, key, data)
	}
	return l.Bucket.Create(ctx, key, data)
}

func (l *lying) List(ctx context.Context, prefix, after string) iter.Seq2[storage.Info, error] {
	if l.list != nil {
		return l.list(ctx, prefix, after)
	}
	return l.Bucket.List(ctx, prefix, after)
}

func TestProbe(t *testing.T) {
	down := errors.New("the network is down")
	for _, c := range []struct {
		name   string
		lie    func(*lying)
		want   error  // nil: suitable
		reason string // part of the message
	}{
		{"honest", func(*lying) {}, nil, ""},
		{"ignores the condition", func(l *lying) {
			l.create = func(ctx context.Context, key string, data []byte) error {
				return l.Put(ctx, key, bytes.NewReader(data), int64(len(data)), nil)
			}
		}, storage.ErrUnsuitable, "If-None-Match is ignored"},
		{"answers rightly but overwrites", func(l *lying) {
			l.create = func(ctx context.Context, key string, data []byte) error {
				err := l.Bucket.Create(ctx, key, data)
				return errors.Join(err, l.Put(ctx, key, bytes.NewReader(data), int64(len(data)), nil))
			}
		}, storage.ErrUnsuitable, "still replaced the content"},
		{"says that all exists", func(l *lying) {
			l.create = func(context.Context, string, []byte) error { return storage.ErrExist }
		}, storage.ErrUnsuitable, "exists already"},
		{"lists late", func(l *lying) {
			l.list = func(context.Context, string, string) iter.Seq2[storage.Info, error] {
				return func(func(storage.Info, error) bool) {}
			}
		}, storage.ErrUnsuitable, "missing from the listing"},
		{"can't be reached", func(l *lying) {
			l.create = func(context.Context, string, []byte) error { return down }
		}, down, "creating"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, err := dir.Open(t.TempDir())
			if err != nil {
				t.Fatal(err)
			}
			l := &lying{Bucket: b}
			c.lie(l)
			err = storage.Probe(t.Context(), l)
			if !errors.Is(err, c.want) {
				t.Fatalf("found %v, want %v", err, c.want)
			}
			if !errors.Is(c.want, storage.ErrUnsuitable) && errors.Is(err, storage.ErrUnsuitable) {
				t.Errorf("%v calls the store unsuitable, which nobody can know", err)
			}
			if err != nil && !strings.Contains(err.Error(), c.reason) {
				t.Errorf("%q doesn't give the reason %q", err, c.reason)
			}
			for info, err := range b.List(t.Context(), "", "") {
				t.Errorf("it left %v behind, %v", info.Key, err)
			}
		})
	}
}
