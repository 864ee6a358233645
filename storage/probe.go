package storage

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"time"
)

// Probe finds out whether b keeps the promises that an archive rests on: that of two creations of one key the first stands and the second is
// told so, and that what was written is read and listed at once. It writes one small object under probe/ and removes it. The error wraps
// ErrUnsuitable, with the reason, if a promise is broken; other errors say that the question could not be put.
func Probe(ctx context.Context, b Bucket) (err error) {
	key := "probe/" + rand.Text()
	defer func() {
		// Also after a cancelled probe nothing should stay behind.
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		defer cancel()
		if derr := b.Delete(ctx, key); derr != nil && err == nil {
			err = fmt.Errorf("probing the bucket: removing %s: %w", key, derr)
		}
	}()
	first, second := []byte("first "+rand.Text()), []byte("second")

	switch err := b.Create(ctx, key, first); {
	case errors.Is(err, ErrExist):
		return fmt.Errorf("%w: it says that the new key %s exists already", ErrUnsuitable, key)
	case err != nil:
		return fmt.Errorf("probing the bucket: creating %s: %w", key, err)
	}
	switch err := b.Create(ctx, key, second); {
	case err == nil:
		return fmt.Errorf("%w: it accepted a second creation of the same key (If-None-Match is ignored), so two servers would overwrite each other's commits",
			ErrUnsuitable)
	case !errors.Is(err, ErrExist):
		return fmt.Errorf("probing the bucket: creating %s again: %w", key, err)
	}
	return probeRead(ctx, b, key, first)
}

func probeRead(ctx context.Context, b Bucket, key string, want []byte) error {
	r, err := b.Open(ctx, key, 0, -1)
	if err != nil {
		return fmt.Errorf("probing the bucket: reading %s: %w", key, err)
	}
	got, err := io.ReadAll(io.LimitReader(r, int64(len(want))+1))
	if cerr := r.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fmt.Errorf("probing the bucket: reading %s: %w", key, err)
	}
	if !bytes.Equal(got, want) {
		return fmt.Errorf("%w: it refused a second creation of the same key, and still replaced the content", ErrUnsuitable)
	}
	for info, err := range b.List(ctx, key, "") {
		if err != nil {
			return fmt.Errorf("probing the bucket: listing %s: %w", key, err)
		}
		if info.Key == key {
			return nil
		}
	}
	return fmt.Errorf("%w: an object just written is missing from the listing", ErrUnsuitable)
}
