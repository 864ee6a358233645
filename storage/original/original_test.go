package original_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"platarium/storage"
	"platarium/storage/buckettest"
	"platarium/storage/dir"
	"platarium/storage/open"
	"platarium/storage/original"
)

// each runs a test on a folder and on a real object store. Folder is where the bytes lie under their keys, for tests that damage them.
func each(t *testing.T, test func(t *testing.T, b storage.Bucket, folder string)) {
	t.Run("dir", func(t *testing.T) {
		folder := t.TempDir()
		b, err := dir.Open(folder)
		if err != nil {
			t.Fatal(err)
		}
		test(t, b, folder)
	})
	t.Run("s3", func(t *testing.T) {
		folder := t.TempDir()
		address, env, stop, err := buckettest.StartS3(t.Context(), folder)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if err := stop(); err != nil {
				t.Error(err)
			}
		})
		for name, value := range env {
			t.Setenv(name, value)
		}
		b, err := open.Bucket(t.Context(), address)
		if err != nil {
			t.Fatal(err)
		}
		test(t, b, filepath.Join(folder, "data", "archive"))
	})
}

// unread fails the test if an upload that isn't needed is read all the same.
type unread struct{ t *testing.T }

func (u unread) Read([]byte) (int, error) {
	u.t.Error("the body was read")
	return 0, io.ErrUnexpectedEOF
}

func TestPutOpenDelete(t *testing.T) {
	each(t, func(t *testing.T, b storage.Bucket, folder string) {
		s, ctx := original.New(b), t.Context()
		for i, size := range []int64{0, 1, 5000, 6 << 20} {
			c := buckettest.Content{Seed: uint64(i), Size: size}
			sum := c.Digest()
			if _, ok, err := s.Has(ctx, sum); ok || err != nil {
				t.Errorf("before: found %v, %v", ok, err)
			}
			if stored, err := s.Put(ctx, c.Reader(), size, sum); !stored || err != nil {
				t.Fatalf("%d bytes: found %v, %v", size, stored, err)
			}
			if n, ok, err := s.Has(ctx, sum); n != size || !ok || err != nil {
				t.Errorf("%d bytes: found %d, %v, %v", size, n, ok, err)
			}
			if stored, err := s.Put(ctx, unread{t}, size, sum); stored || err != nil {
				t.Errorf("%d bytes again: found %v, %v", size, stored, err)
			}
			if err := s.Verify(ctx, sum); err != nil {
				t.Error(err)
			}
			if got := read(t, s, sum, 0, -1); !bytes.Equal(got, c.Bytes()) {
				t.Errorf("%d bytes: found others", size)
			}
			if got := read(t, s, sum, size/2, 100); !bytes.Equal(got, c.Bytes()[size/2:min(size/2+100, size)]) {
				t.Errorf("%d bytes: found another range", size)
			}
			name := sum.String()
			if info, err := os.Stat(filepath.Join(folder, "originals", name[:2], name)); err != nil || info.Size() != size {
				t.Errorf("the file isn't where the README says: %v", err)
			}
			if err := s.Delete(ctx, sum); err != nil {
				t.Fatal(err)
			}
			if err := s.Verify(ctx, sum); !errors.Is(err, storage.ErrNotExist) {
				t.Errorf("deleted: found %v, want ErrNotExist", err)
			}
			if _, err := s.Stat(ctx, sum); !errors.Is(err, storage.ErrNotExist) {
				t.Errorf("deleted: found %v, want ErrNotExist", err)
			}
		}
	})
}

func read(t *testing.T, s *original.Store, sum storage.Digest, offset, length int64) []byte {
	t.Helper()
	r, err := s.Open(t.Context(), sum, offset, length)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(r)
	if err = errors.Join(err, r.Close()); err != nil {
		t.Fatal(err)
	}
	return data
}

func TestWrongBytesAreRefused(t *testing.T) {
	each(t, func(t *testing.T, b storage.Bucket, _ string) {
		s, ctx := original.New(b), t.Context()
		for _, size := range []int64{100, 6 << 20} {
			c := buckettest.Content{Seed: 1, Size: size}
			sum := c.Digest()
			for name, body := range map[string]io.Reader{
				"other": buckettest.Content{Seed: 2, Size: size}.Reader(), "short": buckettest.Content{Seed: 1, Size: size - 1}.Reader(),
				"long": io.MultiReader(c.Reader(), strings.NewReader("x")), "none": strings.NewReader(""),
			} {
				if stored, err := s.Put(ctx, body, size, sum); stored || !errors.Is(err, storage.ErrChecksum) {
					t.Errorf("%s of %d bytes: found %v, %v", name, size, stored, err)
				}
				if _, ok, err := s.Has(ctx, sum); ok || err != nil {
					t.Fatalf("%s of %d bytes is there: %v, %v", name, size, ok, err)
				}
			}
			if stored, err := s.Put(ctx, c.Reader(), size, sum); !stored || err != nil {
				t.Fatal(err)
			}
			// A wrong length for sound bytes is the caller's error.
			if _, err := s.Put(ctx, unread{t}, size+1, sum); !errors.Is(err, storage.ErrChecksum) || errors.Is(err, original.ErrDamaged) {
				t.Errorf("found %v, want ErrChecksum", err)
			}
		}
	})
}

func TestDamageIsFoundAndRepaired(t *testing.T) {
	each(t, func(t *testing.T, b storage.Bucket, folder string) {
		s, ctx := original.New(b), t.Context()
		for name, damage := range map[string]func(string) error{
			"one bit": func(path string) error {
				f, err := os.OpenFile(path, os.O_RDWR, 0)
				if err != nil {
					return err
				}
				var at [1]byte
				_, err = f.ReadAt(at[:], 40_000)
				at[0] ^= 1
				_, werr := f.WriteAt(at[:], 40_000)
				return errors.Join(err, werr, f.Close())
			},
			"cut": func(path string) error { return os.Truncate(path, 40_000) },
		} {
			c := buckettest.Content{Seed: 3, Size: 70_000}
			sum := c.Digest()
			key := filepath.Join(folder, filepath.FromSlash(original.Key(sum)))
			if stored, err := s.Put(ctx, c.Reader(), c.Size, sum); !stored || err != nil {
				t.Fatal(stored, err)
			}
			if repaired, err := s.Repair(ctx, unread{t}, c.Size, sum); repaired || err != nil {
				t.Errorf("%s: a sound original: found %v, %v", name, repaired, err)
			}
			if err := damage(key); err != nil {
				t.Fatal(err)
			}
			bad, err := os.ReadFile(key)
			if err != nil {
				t.Fatal(err)
			}
			if err := s.Verify(ctx, sum); !errors.Is(err, original.ErrDamaged) {
				t.Errorf("%s: found %v, want ErrDamaged", name, err)
			}
			// Neither a Put nor a bad copy touches it.
			if stored, err := s.Put(ctx, c.Reader(), c.Size, sum); stored || err != nil && !errors.Is(err, original.ErrDamaged) {
				t.Errorf("%s: found %v, %v", name, stored, err)
			}
			if repaired, err := s.Repair(ctx, bytes.NewReader(bad), int64(len(bad)), sum); repaired || !errors.Is(err, storage.ErrChecksum) {
				t.Errorf("%s: a bad copy: found %v, %v", name, repaired, err)
			}
			if now, err := os.ReadFile(key); err != nil || !bytes.Equal(now, bad) {
				t.Errorf("%s: the evidence was overwritten (%v)", name, err)
			}
			if repaired, err := s.Repair(ctx, c.Reader(), c.Size, sum); !repaired || err != nil {
				t.Errorf("%s: found %v, %v", name, repaired, err)
			}
			if err := s.Verify(ctx, sum); err != nil {
				t.Error(err)
			}
			if err := s.Delete(ctx, sum); err != nil {
				t.Fatal(err)
			}
			if repaired, err := s.Repair(ctx, c.Reader(), c.Size, sum); !repaired || err != nil {
				t.Errorf("%s: an absent original: found %v, %v", name, repaired, err)
			}
			if err := s.Delete(ctx, sum); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func TestPutUnknown(t *testing.T) {
	each(t, func(t *testing.T, b storage.Bucket, _ string) {
		spool := t.TempDir()
		t.Setenv("TMPDIR", spool)
		s, ctx := original.New(b), t.Context()
		c := buckettest.Content{Seed: 4, Size: 6 << 20}
		want := original.Upload{Sum: c.Digest(), Size: c.Size, Stored: true}
		for _, limit := range []int64{c.Size - 1, 0} {
			if up, err := s.PutUnknown(ctx, c.Reader(), limit); up != (original.Upload{}) || !errors.Is(err, original.ErrTooLarge) {
				t.Errorf("found %+v, %v, want ErrTooLarge", up, err)
			}
		}
		if up, err := s.PutUnknown(ctx, c.Reader(), c.Size); up != want || err != nil {
			t.Errorf("found %+v, %v", up, err)
		}
		want.Stored = false
		if up, err := s.PutUnknown(ctx, c.Reader(), 1<<40); up != want || err != nil {
			t.Errorf("again: found %+v, %v", up, err)
		}
		if err := s.Verify(ctx, want.Sum); err != nil {
			t.Error(err)
		}
		broken := errors.New("the connection broke")
		if _, err := s.PutUnknown(ctx, io.MultiReader(strings.NewReader("half"), iotest.ErrReader(broken)), 100); !errors.Is(err, broken) {
			t.Errorf("found %v", err)
		}
		cancelled, cancel := context.WithCancel(ctx)
		cancel()
		if _, err := s.PutUnknown(cancelled, strings.NewReader("text"), 100); !errors.Is(err, context.Canceled) {
			t.Errorf("found %v", err)
		}
		if left, err := os.ReadDir(spool); err != nil || len(left) != 0 {
			t.Errorf("left %v, %v", left, err)
		}
	})
}

func TestList(t *testing.T) {
	each(t, func(t *testing.T, b storage.Bucket, _ string) {
		s, ctx := original.New(b), t.Context()
		var want []string
		for i := range 20 {
			c := buckettest.Content{Seed: uint64(i), Size: int64(i)}
			if _, err := s.Put(ctx, c.Reader(), c.Size, c.Digest()); err != nil {
				t.Fatal(err)
			}
			want = append(want, fmt.Sprint(c.Digest(), " ", i))
		}
		name := strings.Repeat("ab", 32)
		for _, key := range []string{"originals/README", "originals/cd/" + name, "originals/ab/" + strings.ToUpper(name), "originals/ab/x" + name, "originalsx/y"} {
			if err := b.Create(ctx, key, nil); err != nil {
				t.Fatal(err)
			}
		}
		slices.Sort(want)
		var got []string
		for info, err := range s.List(ctx) {
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, fmt.Sprint(info.Sum, " ", info.Size))
			if info.Modified.IsZero() {
				t.Error("without a time")
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("found %v, want %v", got, want)
		}
		cancelled, cancel := context.WithCancel(ctx)
		cancel()
		for _, err := range s.List(cancelled) {
			if !errors.Is(err, context.Canceled) {
				t.Errorf("found %v", err)
			}
			return
		}
		t.Error("a cancelled listing ended without an error")
	})
}

// doubting says that it doesn't know, after it has stored or not.
type doubting struct {
	storage.Bucket
	store bool
}

func (d *doubting) Put(ctx context.Context, key string, body io.Reader, size int64, sum *storage.Digest) error {
	if d.store {
		if err := d.Bucket.Put(ctx, key, body, size, sum); err != nil {
			return err
		}
	}
	return storage.ErrDoubtful
}

func TestDoubtIsResolved(t *testing.T) {
	b, err := dir.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	c := buckettest.Content{Seed: 1, Size: 10}
	if stored, err := original.New(&doubting{b, false}).Put(t.Context(), c.Reader(), c.Size, c.Digest()); stored || !errors.Is(err, storage.ErrDoubtful) {
		t.Errorf("not stored: found %v, %v", stored, err)
	}
	if stored, err := original.New(&doubting{b, true}).Put(t.Context(), c.Reader(), c.Size, c.Digest()); !stored || err != nil {
		t.Errorf("stored: found %v, %v", stored, err)
	}
}

func BenchmarkPut(b *testing.B) {
	folder, err := dir.Open(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	objects, err := open.Bucket(b.Context(), buckettest.S3Server(b))
	if err != nil {
		b.Fatal(err)
	}
	const size = 16 << 20
	data := buckettest.Content{Seed: 1, Size: size}
	whole, sum := data.Bytes(), data.Digest()
	for name, bucket := range map[string]storage.Bucket{"dir": folder, "s3": objects} {
		s := original.New(bucket)
		b.Run(name, func(b *testing.B) {
			b.SetBytes(size)
			for b.Loop() {
				if stored, err := s.Put(b.Context(), bytes.NewReader(whole), size, sum); !stored || err != nil {
					b.Fatal(stored, err)
				}
				b.StopTimer()
				if err := s.Delete(b.Context(), sum); err != nil {
					b.Fatal(err)
				}
				b.StartTimer()
			}
		})
	}
}
