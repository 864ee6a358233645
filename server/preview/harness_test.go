package preview

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"iter"
	"log/slog"
	"os"
	"path"
	"sync"
	"testing"
	"time"

	"platarium/storage"
	"platarium/storage/dir"
	"platarium/storage/imaging"
	"platarium/storage/original"
)

// TestMain hands the decode child over, as the program's main does.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == imaging.ChildVerb {
		os.Exit(imaging.ChildMain(os.Args[2:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

// hooked is a bucket whose calls tests count and make fail.
type hooked struct {
	storage.Bucket
	mu     sync.Mutex
	before func(call, key string) error
	puts   []string
}

func (h *hooked) hook(f func(call, key string) error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.before = f
}

func (h *hooked) ask(call, key string) error {
	h.mu.Lock()
	f := h.before
	if call == "put" {
		h.puts = append(h.puts, path.Base(key))
	}
	h.mu.Unlock()
	if f == nil {
		return nil
	}
	return f(call, key)
}

// stored tells what was stored since the last time.
func (h *hooked) stored() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	puts := h.puts
	h.puts = nil
	return puts
}

func (h *hooked) Put(ctx context.Context, key string, body io.Reader, size int64, sum *storage.Digest) error {
	if err := h.ask("put", key); err != nil {
		return err
	}
	return h.Bucket.Put(ctx, key, body, size, sum)
}

func (h *hooked) Open(ctx context.Context, key string, offset, length int64) (io.ReadCloser, error) {
	if err := h.ask("open", key); err != nil {
		return nil, err
	}
	return h.Bucket.Open(ctx, key, offset, length)
}

func (h *hooked) List(ctx context.Context, prefix, after string) iter.Seq2[storage.Info, error] {
	if err := h.ask("list", prefix); err != nil {
		return func(yield func(storage.Info, error) bool) { yield(storage.Info{}, err) }
	}
	return h.Bucket.List(ctx, prefix, after)
}

// scan is a small drawing, unlike those of other numbers.
func scan(t testing.TB, n int) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 64, 32))
	for i := range img.Pix {
		img.Pix[i] = uint8(i * (n + 3))
	}
	img.SetGray(0, 0, color.Gray{Y: uint8(n)})
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

type studio struct {
	bucket    *hooked
	originals *original.Store
	sums      []string // of the originals stored
}

func newStudio(t testing.TB, scans int) *studio {
	t.Helper()
	b, err := dir.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	s := &studio{bucket: &hooked{Bucket: b}}
	s.originals = original.New(s.bucket)
	for n := range scans {
		s.store(t, scan(t, n))
	}
	s.bucket.stored()
	return s
}

func (s *studio) store(t testing.TB, b []byte) storage.Digest {
	t.Helper()
	sum := storage.Digest(sha256.Sum256(b))
	if _, err := s.originals.Put(t.Context(), bytes.NewReader(b), int64(len(b)), sum); err != nil {
		t.Fatal(err)
	}
	s.sums = append(s.sums, sum.String())
	return sum
}

func (s *studio) queue(t testing.TB, workers int) *Queue {
	t.Helper()
	runner, err := imaging.NewRunner(imaging.Config{Decoders: imaging.OnlyGo, Concurrency: workers})
	if err != nil {
		t.Fatal(err)
	}
	q := New(s.bucket, s.originals, runner, workers, slog.New(slog.DiscardHandler))
	q.pause = time.Millisecond
	return q
}

// lacking is what WithoutPreviews of an archive gives that names all originals.
func (s *studio) lacking(_ context.Context, have map[string]bool) ([]string, error) {
	var out []string
	for _, sum := range s.sums {
		if !have[sum] {
			out = append(out, sum)
		}
	}
	return out, nil
}

// run runs a queue until it has handled so many originals.
func run(t testing.TB, q *Queue, missing func(context.Context, map[string]bool) ([]string, error), until int64) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	done := make(chan error, 1)
	go func() { done <- q.Run(ctx, missing) }()
	for {
		if n, _ := q.Done(); n >= until && q.Pending() == 0 {
			break
		}
		select {
		case err := <-done:
			t.Fatalf("the queue ended with %v", err)
		case <-time.After(time.Millisecond):
		}
	}
	cancel()
	if err := <-done; err != nil {
		t.Fatalf("the queue ended with %v", err)
	}
}

func (s *studio) made(t testing.TB, q *Queue, hex string) imaging.Info {
	t.Helper()
	sum, err := storage.ParseDigest(hex)
	if err != nil {
		t.Fatal(err)
	}
	info, err := q.Info(t.Context(), sum)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range info.Previews {
		r, err := q.Open(t.Context(), sum, p.Name, 0, -1)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err := errors.Join(err, r.Close()); err != nil {
			t.Fatal(err)
		}
		if len(b) != p.Size || fmt.Sprintf("%x", sha256.Sum256(b)) != p.SHA256 {
			t.Errorf("%s of %s isn't what its record says", p.Name, hex)
		}
		if _, _, err := image.DecodeConfig(bytes.NewReader(b)); err != nil && p.MediaType != "image/jpeg" {
			t.Errorf("%s of %s: %v", p.Name, hex, err)
		}
	}
	return info
}

func none(context.Context, map[string]bool) ([]string, error) { return nil, nil }
