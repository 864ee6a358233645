package archive

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"time"

	bolt "go.etcd.io/bbolt"

	"platarium/storage"
	"platarium/storage/original"
)

// sweepAfter is how old an original that no commit names must be before it may be swept.
const sweepAfter = 7 * 24 * time.Hour

// Sweep deletes originals that no commit has named for seven days. It announces them in the journal first: whoever names one afterwards has it sent again. It
// returns how many were deleted.
func (a *Archive) Sweep(ctx context.Context) (int, error) {
	old := a.now().Add(-sweepAfter)
	var sums []storage.Digest
	for info, err := range a.originals.List(ctx) {
		if err != nil {
			return 0, fmt.Errorf("list originals: %w", err)
		}
		if info.Modified.Before(old) && !a.named(info.Sum) {
			sums = append(sums, info.Sum)
		}
	}
	if len(sums) == 0 {
		return 0, nil
	}
	announced := make([]string, len(sums))
	for i, sum := range sums {
		announced[i] = sum.String()
	}
	if _, err := a.log.Submit(ctx, sweeping(announced)); err != nil {
		return 0, fmt.Errorf("announce the sweeping of %d originals: %w", len(sums), err)
	}
	deleted := 0
	for _, sum := range sums {
		// One sent again since the announcement is young and stays.
		if fresh, err := a.young(ctx, sum, sweepAfter); err != nil || fresh {
			if err != nil {
				return deleted, err
			}
			continue
		}
		if err := a.originals.Delete(ctx, sum); err != nil {
			return deleted, fmt.Errorf("delete original %s: %w", sum, err)
		}
		deleted++
	}
	return deleted, nil
}

// sweeping is the payload of an announcement.
type sweeping []string

// young says whether an original is there and was stored within a time. An absent one counts as young for a sweeper, which has nothing to do then, and is told
// apart by its absence by everybody else.
func (a *Archive) young(ctx context.Context, sum storage.Digest, within time.Duration) (bool, error) {
	info, err := a.conf.Bucket.Stat(ctx, original.Key(sum))
	if errors.Is(err, storage.ErrNotExist) {
		return false, nil
	}
	return err == nil && info.Modified.After(a.now().Add(-within)), err
}

// named says whether any commit has named an original since its sweeping was last announced.
func (a *Archive) named(sum storage.Digest) bool {
	known := false
	_ = a.db.View(func(tx *bolt.Tx) error { // on a closed store nothing is named, and nothing is swept either
		b := tx.Bucket(originalBucket).Get([]byte(sum.String()))
		known = len(b) == 8 && binary.BigEndian.Uint64(b) == 0
		return nil
	})
	return known
}

// swept says whether the sweeping of an original was announced and nothing has named it since.
func (s state) swept(sum string) bool {
	b := s.bucket(originalBucket).Get([]byte(sum))
	return len(b) == 8 && binary.BigEndian.Uint64(b) != 0
}

// resentWithin is how young an announced original must be to be named again: clearly younger than what a sweeper deletes, so that one that is
// about to be deleted doesn't count.
const resentWithin = sweepAfter / 2

// usable says whether an original is there for records to name: one that was announced for sweeping must have been sent again.
func (a *Archive) usable(ctx context.Context, s state, sum storage.Digest) (bool, error) {
	if s.swept(sum.String()) {
		return a.young(ctx, sum, resentWithin)
	}
	_, ok, err := a.originals.Has(ctx, sum)
	return ok, err
}

// HasOriginal says whether the archive has an original for records to name, and its size.
func (a *Archive) HasOriginal(ctx context.Context, sum storage.Digest) (size int64, ok bool, err error) {
	err = a.db.View(func(tx *bolt.Tx) error {
		ok, err = a.usable(ctx, state{tx}, sum)
		return err
	})
	if !ok || err != nil {
		return 0, false, err
	}
	return a.originals.Has(ctx, sum)
}

// StoreOriginal streams an original into the archive; stored is false if it was there. One announced for sweeping is written anew, so that it is young.
func (a *Archive) StoreOriginal(ctx context.Context, body io.Reader, size int64, sum storage.Digest) (stored bool, err error) {
	if _, ok, err := a.HasOriginal(ctx, sum); err != nil {
		return false, err
	} else if !ok {
		if err := a.originals.Delete(ctx, sum); err != nil {
			return false, err
		}
	}
	return a.originals.Put(ctx, body, size, sum)
}

// VerifyOriginals reads every original that the bucket has or a commit has named, and reports each: its size, and what is wrong with it. An error of report ends it.
func (a *Archive) VerifyOriginals(ctx context.Context, report func(size int64, err error) error) error {
	seen := map[string]bool{}
	for info, err := range a.originals.List(ctx) {
		if err != nil {
			return err
		}
		seen[info.Sum.String()] = true
		err := a.originals.Verify(ctx, info.Sum)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err := report(info.Size, err); err != nil {
			return err
		}
	}
	var lost []string
	err := a.db.View(func(tx *bolt.Tx) error {
		c := tx.Bucket(originalBucket).Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			if binary.BigEndian.Uint64(v) == 0 && !seen[string(k)] {
				lost = append(lost, string(k))
			}
		}
		return nil
	})
	for _, sum := range lost {
		if err := report(0, fmt.Errorf("%w: %s, which a commit names", ErrNoOriginal, sum)); err != nil {
			return err
		}
	}
	return err
}
