// Package original keeps the files that a studio handed in, each under the sha256 of its bytes: originals/<first two hex digits>/<sha256>.
//
// Invariants: what is stored is what its name says, checked before it is there; an original is never edited, and never replaced unless it was read to
// the end and found damaged, by bytes that do match its name. A transfer takes a few MiB of memory whatever its size. Storing the same bytes
// twice is no conflict: racing writers write the same.
//
// Left out: which originals are in use, and when one may be swept, which the journal decides.
package original

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path"
	"time"

	"platarium/storage"
)

const prefix = "originals/"

var (
	// ErrDamaged means that the stored original isn't what its name says. The caller repairs it with a good copy, and must not show or deliver it.
	ErrDamaged = errors.New("stored original is damaged")
	// ErrTooLarge means that an upload of unknown length exceeds the limit. Nothing was stored; the caller refuses it.
	ErrTooLarge = errors.New("upload is larger than allowed")
)

// Store is the originals in a bucket. All methods may be called concurrently.
type Store struct{ bucket storage.Bucket }

// New keeps originals in bucket.
func New(bucket storage.Bucket) *Store { return &Store{bucket: bucket} }

// Key is where the original of that digest lies in the bucket.
func Key(sum storage.Digest) string {
	name := sum.String()
	return prefix + name[:2] + "/" + name
}

// parseKey is the inverse of Key.
func parseKey(key string) (sum storage.Digest, ok bool) {
	sum, err := storage.ParseDigest(path.Base(key))
	return sum, err == nil && Key(sum) == key
}

// Info describes one stored original.
type Info struct {
	Sum      storage.Digest
	Size     int64     // bytes
	Modified time.Time // when it was stored, by the store's clock
}

// Stat describes the original, or fails with storage.ErrNotExist. It doesn't read it: see Verify.
func (s *Store) Stat(ctx context.Context, sum storage.Digest) (Info, error) {
	info, err := s.bucket.Stat(ctx, Key(sum))
	if err != nil {
		return Info{}, fmt.Errorf("looking for original %s: %w", sum, err)
	}
	return Info{Sum: sum, Size: info.Size, Modified: info.Modified}, nil
}

// Has says whether the original is there, and how many bytes it has, so that a caller need not send them.
func (s *Store) Has(ctx context.Context, sum storage.Digest) (size int64, ok bool, err error) {
	info, err := s.Stat(ctx, sum)
	if errors.Is(err, storage.ErrNotExist) {
		return 0, false, nil
	}
	return info.Size, err == nil, err
}

// Put stores size bytes that hash to sum. If they are there already, body is left unread and stored is false. Other bytes than promised are refused
// with storage.ErrChecksum; ErrDamaged says that an original of that name but another length is there, which only Repair replaces.
func (s *Store) Put(ctx context.Context, body io.Reader, size int64, sum storage.Digest) (stored bool, err error) {
	switch there, ok, err := s.Has(ctx, sum); {
	case err != nil:
		return false, err
	case ok && there == size:
		return false, nil
	case ok:
		// One of the two lengths is wrong. Reading tells which; it is rare enough.
		if err := s.Verify(ctx, sum); err != nil {
			return false, err
		}
		return false, fmt.Errorf("storing original %s: %w: it has %d bytes, promised were %d", sum, storage.ErrChecksum, there, size)
	}
	err = s.put(ctx, body, size, sum)
	if errors.Is(err, storage.ErrDoubtful) {
		// The name is the content: if it is there now, whole, nobody need know who stored it.
		if there, ok, herr := s.Has(ctx, sum); herr == nil && ok && there == size {
			err = nil
		}
	}
	return err == nil, err
}

// Renew stores bytes that hash to sum whether they are there or not, so that they count as stored just now. Other bytes than promised are refused with
// storage.ErrChecksum, and what is there stays.
func (s *Store) Renew(ctx context.Context, body io.Reader, size int64, sum storage.Digest) error {
	return s.put(ctx, body, size, sum)
}

func (s *Store) put(ctx context.Context, body io.Reader, size int64, sum storage.Digest) error {
	if err := s.bucket.Put(ctx, Key(sum), body, size, &sum); err != nil {
		return fmt.Errorf("storing original %s: %w", sum, err)
	}
	return nil
}

// Upload describes what PutUnknown received.
type Upload struct {
	Sum    storage.Digest
	Size   int64 // bytes
	Stored bool  // false: it was there already
}

// PutUnknown stores a body of which neither length nor digest is known, such as a browser's upload, by way of a temporary file in the
// system's folder for these. More than limit bytes are refused with ErrTooLarge. An error of body itself stores nothing.
func (s *Store) PutUnknown(ctx context.Context, body io.Reader, limit int64) (up Upload, err error) {
	f, err := os.CreateTemp("", "platarium-upload-")
	if err != nil {
		return Upload{}, fmt.Errorf("receiving an original: %w", err)
	}
	defer func() { err = errors.Join(err, f.Close(), os.Remove(f.Name())) }()
	hash := sha256.New()
	up.Size, err = io.Copy(io.MultiWriter(f, hash), &limited{src: body, left: limit, alive: ctx.Err})
	if err != nil {
		return Upload{}, fmt.Errorf("receiving an original: %w", err)
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return Upload{}, fmt.Errorf("receiving an original: %w", err)
	}
	up.Sum = storage.Digest(hash.Sum(nil))
	up.Stored, err = s.Put(ctx, f, up.Size, up.Sum)
	if err != nil {
		return Upload{}, err
	}
	return up, nil
}

// limited fails once more than left bytes were read, or the context has ended.
type limited struct {
	src   io.Reader
	left  int64
	alive func() error
}

func (l *limited) Read(p []byte) (int, error) {
	if err := l.alive(); err != nil {
		return 0, err
	}
	n, err := l.src.Read(p)
	if l.left -= int64(n); l.left < 0 {
		return 0, ErrTooLarge
	}
	return n, err
}

// Open reads length bytes from offset on, as storage.Bucket does: length < 0 means to the end.
func (s *Store) Open(ctx context.Context, sum storage.Digest, offset, length int64) (io.ReadCloser, error) {
	r, err := s.bucket.Open(ctx, Key(sum), offset, length)
	if err != nil {
		return nil, fmt.Errorf("opening original %s: %w", sum, err)
	}
	return r, nil
}

// Verify reads the original to its end and compares it with its name: ErrDamaged if it differs, storage.ErrNotExist if it is absent. Other errors
// say nothing about the original.
func (s *Store) Verify(ctx context.Context, sum storage.Digest) error {
	r, err := s.Open(ctx, sum, 0, -1)
	if err != nil {
		return err
	}
	defer r.Close() //nolint:errcheck // only read
	hash := sha256.New()
	n, err := io.Copy(hash, r)
	got := storage.Digest(hash.Sum(nil))
	switch {
	case errors.Is(err, storage.ErrChecksum), err == nil && got != sum:
		return fmt.Errorf("%w: original %s: its %d bytes hash to %s", ErrDamaged, sum, n, got)
	case err != nil:
		return fmt.Errorf("verifying original %s after %d bytes: %w", sum, n, err)
	}
	return nil
}

// Repair stores a good copy of an original that is damaged or absent. If the stored one is sound, body is left unread and repaired is false. A copy
// that isn't good is refused with storage.ErrChecksum and changes nothing.
func (s *Store) Repair(ctx context.Context, body io.Reader, size int64, sum storage.Digest) (repaired bool, err error) {
	err = s.Verify(ctx, sum)
	switch {
	case err == nil:
		return false, nil
	case !errors.Is(err, ErrDamaged) && !errors.Is(err, storage.ErrNotExist):
		return false, err
	}
	if err := s.put(ctx, body, size, sum); err != nil {
		return false, err
	}
	return true, nil
}

// List yields all originals in the order of their digests. Keys that aren't originals' are passed over. It ends after an error.
func (s *Store) List(ctx context.Context) iter.Seq2[Info, error] {
	return func(yield func(Info, error) bool) {
		for info, err := range s.bucket.List(ctx, prefix, "") {
			if err != nil {
				yield(Info{}, fmt.Errorf("listing originals: %w", err))
				return
			}
			sum, ok := parseKey(info.Key)
			if ok && !yield(Info{Sum: sum, Size: info.Size, Modified: info.Modified}, nil) {
				return
			}
		}
	}
}

// Delete removes an original for good; one that is absent is no error. Only a sweep that the journal has announced may do so.
func (s *Store) Delete(ctx context.Context, sum storage.Digest) error {
	if err := s.bucket.Delete(ctx, Key(sum)); err != nil {
		return fmt.Errorf("deleting original %s: %w", sum, err)
	}
	return nil
}
