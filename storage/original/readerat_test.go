package original_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"testing/iotest"

	"platarium/storage"
	"platarium/storage/buckettest"
	"platarium/storage/dir"
	"platarium/storage/original"
)

// counting counts the reads that reach the bucket, and their bytes.
type counting struct {
	storage.Bucket
	opens, bytes atomic.Int64
}

func (c *counting) Open(ctx context.Context, key string, offset, length int64) (io.ReadCloser, error) {
	c.opens.Add(1)
	c.bytes.Add(length)
	return c.Bucket.Open(ctx, key, offset, length)
}

func readerAt(t *testing.T, size int64) (io.ReaderAt, []byte, *counting, string) {
	t.Helper()
	folder := t.TempDir()
	b, err := dir.Open(folder)
	if err != nil {
		t.Fatal(err)
	}
	counted := &counting{Bucket: b}
	s := original.New(counted)
	c := buckettest.Content{Seed: 8, Size: size}
	if _, err := s.Put(t.Context(), c.Reader(), size, c.Digest()); err != nil {
		t.Fatal(err)
	}
	return s.ReaderAt(t.Context(), c.Digest(), size), c.Bytes(), counted, filepath.Join(folder, filepath.FromSlash(original.Key(c.Digest())))
}

func TestReaderAtMatchesTheBytes(t *testing.T) {
	const size = 1_500_001 // more blocks than are kept
	r, want, _, _ := readerAt(t, size)
	reference := bytes.NewReader(want)
	random := rand.New(rand.NewPCG(1, 1))
	var wg sync.WaitGroup
	for range 4 {
		seed := random.Uint64()
		wg.Go(func() {
			random := rand.New(rand.NewPCG(seed, 2))
			for range 100 {
				p := make([]byte, random.IntN([]int{1, 100, 1000, 300_000}[random.IntN(4)]+1))
				q := make([]byte, len(p))
				offset := random.Int64N(size + 1000)
				n, err := r.ReadAt(p, offset)
				m, werr := reference.ReadAt(q, offset)
				if len(p) == 0 { // the two may differ about EOF
					err, werr = nil, nil
				}
				if n != m || !errors.Is(err, werr) || !bytes.Equal(p, q) {
					t.Errorf("%d bytes at %d: found %d, %v, want %d, %v", len(p), offset, n, err, m, werr)
				}
			}
		})
	}
	wg.Wait()
	if _, err := r.ReadAt(make([]byte, 1), -1); err == nil {
		t.Error("a negative offset was accepted")
	}
	const little = 10_000
	if err := iotest.TestReader(io.NewSectionReader(r, 128<<10-little/2, little), want[128<<10-little/2:][:little]); err != nil {
		t.Error(err)
	}
}

func TestReaderAtProbesCheaply(t *testing.T) {
	r, _, counted, _ := readerAt(t, 20<<20)
	// A header at the front, a directory near the end, and values here and there in both.
	for i := range int64(500) {
		for _, offset := range []int64{i * 12, 20<<20 - 9000 + i*12} {
			if _, err := r.ReadAt(make([]byte, 12), offset); err != nil {
				t.Fatal(err)
			}
		}
	}
	if opens, n := counted.opens.Load(), counted.bytes.Load(); opens > 2 || n > 512<<10 {
		t.Errorf("1,000 small reads made %d requests for %d bytes", opens, n)
	}
}

func TestReaderAtReportsDamageAndAbsence(t *testing.T) {
	r, _, _, path := readerAt(t, 500_000)
	if err := os.Truncate(path, 200_000); err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{10, 300_000} {
		if _, err := r.ReadAt(make([]byte, n), 190_000); !errors.Is(err, original.ErrDamaged) {
			t.Errorf("%d bytes of what was cut off: found %v, want ErrDamaged", n, err)
		}
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if _, err := r.ReadAt(make([]byte, 10), 0); !errors.Is(err, storage.ErrNotExist) {
		t.Errorf("found %v, want ErrNotExist", err)
	}
}
