package archive

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"platarium/storage"
	"platarium/storage/journal"
	"platarium/storage/original"
)

// sweepAfter is how old an original that no commit names must be before it may be swept.
const sweepAfter = 7 * 24 * time.Hour

// sweptAtOnce is how many originals are announced in one commit.
const sweptAtOnce = 10_000

// Sweep deletes originals that no commit has named for seven days. It announces them in the journal first: whoever names one afterwards has it sent again. It
// returns how many were deleted.
func (a *Archive) Sweep(ctx context.Context) (deleted int, err error) {
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
	for some := range slices.Chunk(sums, sweptAtOnce) {
		n, err := a.sweepSome(ctx, some)
		if deleted += n; err != nil {
			return deleted, err
		}
	}
	return deleted, nil
}

func (a *Archive) sweepSome(ctx context.Context, sums []storage.Digest) (deleted int, err error) {
	s := &sweeping{unnamed: sums}
	if _, err := a.log.Submit(ctx, s); err != nil {
		return 0, fmt.Errorf("announce the sweeping of %d originals: %w", len(sums), err)
	}
	for _, sum := range s.announced {
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

// sweeping is the payload of an announcement. Announced is what is left of the unnamed when it is planned: a commit may have named one since they were listed.
type sweeping struct {
	unnamed, announced []storage.Digest
}

func (s *sweeping) plan(st state, r *journal.Request) error {
	s.announced = s.announced[:0]
	for _, sum := range s.unnamed {
		if st.named(sum.String()) {
			continue
		}
		// What is planned after it must see it, whatever the commit's number will be.
		if err := st.announce(sum.String(), math.MaxInt64); err != nil {
			return err
		}
		s.announced = append(s.announced, sum)
		r.Sweep = append(r.Sweep, sum.String())
	}
	if len(s.announced) == 0 {
		r.Done = &journal.Receipt{Seq: st.position().Seq}
	}
	return nil
}

// young says whether an original is there and was stored within a time.
func (a *Archive) young(ctx context.Context, sum storage.Digest, within time.Duration) (bool, error) {
	info, err := a.conf.Bucket.Stat(ctx, original.Key(sum))
	if errors.Is(err, storage.ErrNotExist) {
		return false, nil
	}
	return err == nil && info.Modified.After(a.now().Add(-within)), err
}

// named says whether any commit has named an original.
func (a *Archive) named(sum storage.Digest) (known bool) {
	_ = a.db.View(func(tx *bolt.Tx) error { // on a closed store nothing is named, and nothing can be announced either
		known = state{tx}.named(sum.String())
		return nil
	})
	return known
}

func (s state) named(sum string) bool {
	b := s.bucket(originalBucket).Get([]byte(sum))
	return len(b) == 8 && binary.BigEndian.Uint64(b) == 0
}

// announce notes that the sweeping of an original was announced by a commit.
func (s state) announce(sum string, seq int64) error {
	return s.bucket(originalBucket).Put([]byte(sum), binary.BigEndian.AppendUint64(nil, uint64(seq)))
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
	var announced bool
	err = a.db.View(func(tx *bolt.Tx) error {
		announced = state{tx}.swept(sum.String())
		return nil
	})
	if err != nil {
		return false, err
	}
	if announced {
		if fresh, err := a.young(ctx, sum, resentWithin); err != nil {
			return false, err
		} else if !fresh {
			return true, a.originals.Renew(ctx, body, size, sum)
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
