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
	"strings"
	"sync"
	"testing"
	"time"

	pb "platarium/proto/platarium/v1"
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

// The queue is what the bucket lacks: a new one goes on where another ended, and what is lost is made again, nothing else.
func TestRestart(t *testing.T) {
	s := newStudio(t, 3)
	q := s.queue(t, 2)
	run(t, q, s.lacking, 3)
	if n, failed := q.Done(); n != 3 || failed != 0 || q.Pending() != 0 {
		t.Errorf("%d done, %d failed, %d pending", n, failed, q.Pending())
	}
	for _, sum := range s.sums {
		if info := s.made(t, q, sum); info.Failure != nil || len(info.Previews) == 0 || info.PHash == "" {
			t.Errorf("%s: %+v", sum, info)
		}
	}
	s.bucket.stored()
	q = s.queue(t, 1)
	run(t, q, s.lacking, 0)
	if again := s.bucket.stored(); len(again) > 0 {
		t.Errorf("a new queue made %v again", again)
	}
	if err := s.bucket.Delete(t.Context(), prefix+s.sums[1]+"/"+imaging.InfoName); err != nil {
		t.Fatal(err)
	}
	run(t, s.queue(t, 1), s.lacking, 1)
	if again := s.bucket.stored(); len(again) == 0 || again[len(again)-1] != imaging.InfoName {
		t.Errorf("what was lost is made again as %v; want the record last", again)
	}
	s.made(t, q, s.sums[1])
}

// A file that can't be decoded gets a record that says why and what would help, and isn't tried again.
func TestUndecodable(t *testing.T) {
	s := newStudio(t, 1)
	bad := s.store(t, []byte("\x89PNG\r\n\x1a\n and then nothing that a decoder could read"))
	q := s.queue(t, 1)
	run(t, q, s.lacking, 2)
	if n, failed := q.Done(); n != 2 || failed != 1 {
		t.Errorf("%d done, %d failed", n, failed)
	}
	info := s.made(t, q, bad.String())
	if info.Failure == nil || info.Failure.Wrong == "" || info.Failure.Right == "" || info.Failure.Reason == "" || len(info.Previews) > 0 {
		t.Errorf("the record says %+v", info.Failure)
	}
	if q.GaveUp(bad) {
		t.Error("a file's own fault counts as given up")
	}
	s.bucket.stored()
	run(t, s.queue(t, 1), s.lacking, 0)
	if again := s.bucket.stored(); len(again) > 0 {
		t.Errorf("tried again: %v", again)
	}
}

// However often an original is added, and by however many, it is made once.
func TestDuplicates(t *testing.T) {
	s := newStudio(t, 2)
	q := s.queue(t, 2)
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 20 {
				q.Add(s.sums[0])
				q.Add(s.sums[1])
				q.Add("")
				q.Add("no digest")
			}
		})
	}
	wg.Wait()
	if q.Pending() != 2 {
		t.Errorf("%d pending; want 2", q.Pending())
	}
	commit := &pb.Commit{}
	for _, sum := range append(s.sums, "") {
		commit.Transactions = append(commit.Transactions, &pb.Transaction{Changes: []*pb.Change{
			{Record: &pb.Change_Picture{Picture: &pb.Picture{Original: &pb.Original{Sha256: sum}}}}, {Record: &pb.Change_Party{Party: &pb.Party{}}}, {Deleted: true},
		}})
	}
	q.Committed(commit)
	run(t, q, s.lacking, 2)
	records := 0
	for _, name := range s.bucket.stored() {
		if name == imaging.InfoName {
			records++
		}
	}
	if n, _ := q.Done(); n != 2 || records != 2 {
		t.Errorf("%d done, %d records stored; want 2 of each", n, records)
	}
	q.Add(s.sums[0]) // made already, by this server or another
	run(t, q, none, 3)
	if again := s.bucket.stored(); len(again) > 0 {
		t.Errorf("made again: %v", again)
	}
}

// A queue told to stop in the middle, whatever it is at, leaves no record, and the next one does it whole.
func TestShutdownInTheMiddle(t *testing.T) {
	for name, at := range map[string]func(call, key string) bool{
		"while listing":            func(call, _ string) bool { return call == "list" },
		"while reading the file":   func(call, key string) bool { return call == "open" && strings.HasPrefix(key, "originals/") },
		"while storing a preview":  func(call, key string) bool { return call == "put" && strings.HasSuffix(key, ".jpg") },
		"while storing the record": func(call, key string) bool { return call == "put" && strings.HasSuffix(key, imaging.InfoName) },
	} {
		t.Run(name, func(t *testing.T) {
			s := newStudio(t, 1)
			ctx, cancel := context.WithCancel(t.Context())
			reached := false
			s.bucket.hook(func(call, key string) error {
				if at(call, key) {
					reached = true
					cancel()
					return context.Canceled
				}
				return nil
			})
			if err := s.queue(t, 1).Run(ctx, s.lacking); err != nil {
				t.Errorf("ended with %v", err)
			}
			s.bucket.hook(nil)
			if !reached {
				t.Fatal("never got there: the case proves nothing")
			}
			if _, err := s.bucket.Stat(t.Context(), prefix+s.sums[0]+"/"+imaging.InfoName); !errors.Is(err, storage.ErrNotExist) {
				t.Errorf("there is a record: %v", err)
			}
			q := s.queue(t, 1)
			run(t, q, s.lacking, 1)
			s.made(t, q, s.sums[0])
		})
	}
}

// A decoder at work ends with the queue.
func TestShutdownWhileDecoding(t *testing.T) {
	s := newStudio(t, 0)
	img := image.NewGray(image.Rect(0, 0, 1500, 1500))
	for i := range img.Pix {
		img.Pix[i] = uint8(i * i >> 3)
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	s.store(t, b.Bytes())
	s.bucket.stored()
	q := s.queue(t, 1)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	read := make(chan struct{})
	var once sync.Once
	s.bucket.hook(func(call, key string) error {
		if call == "open" && strings.HasPrefix(key, "originals/") {
			once.Do(func() { close(read) })
		}
		return nil
	})
	done := make(chan error, 1)
	go func() { done <- q.Run(ctx, s.lacking) }()
	<-read
	time.Sleep(100 * time.Millisecond) // the child is at it, or about to be
	cancel()
	select {
	case err := <-done:
		if err != nil {
			t.Errorf("ended with %v", err)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("the queue doesn't end")
	}
	if left := s.bucket.stored(); len(left) > 0 {
		t.Errorf("it left %v", left)
	}
}

// A bucket that doesn't answer is asked again: at the start, and for each original a few times.
func TestBucketFails(t *testing.T) {
	s := newStudio(t, 2)
	lists, reads := 0, 0
	s.bucket.hook(func(call, key string) error {
		s.bucket.mu.Lock()
		defer s.bucket.mu.Unlock()
		switch {
		case call == "list":
			if lists++; lists <= 3 {
				return errors.New("no answer")
			}
		case call == "open" && strings.Contains(key, s.sums[0]) && strings.HasPrefix(key, "originals/"):
			if reads++; reads < tries {
				return errors.New("no answer")
			}
		case call == "open" && strings.Contains(key, s.sums[1]) && strings.HasPrefix(key, "originals/"):
			return errors.New("no answer, ever")
		}
		return nil
	})
	q := s.queue(t, 1)
	run(t, q, s.lacking, 2)
	if n, failed := q.Done(); n != 2 || failed != 1 || lists != 4 || reads != tries {
		t.Errorf("%d done, %d failed, asked %d times for the list and %d for the first", n, failed, lists, reads)
	}
	s.bucket.hook(nil)
	first, second := mustDigest(t, s.sums[0]), mustDigest(t, s.sums[1])
	if q.GaveUp(first) || !q.GaveUp(second) {
		t.Errorf("given up: %v, %v; want only the second", q.GaveUp(first), q.GaveUp(second))
	}
	if _, err := q.Info(t.Context(), second); !errors.Is(err, storage.ErrNotExist) {
		t.Errorf("there is a record of what wasn't the file's fault: %v", err)
	}
	run(t, q, s.lacking, 3) // as at the next start
	if q.GaveUp(second) {
		t.Error("made and still given up")
	}
	s.made(t, q, s.sums[1])
}

func mustDigest(t testing.TB, hex string) storage.Digest {
	t.Helper()
	sum, err := storage.ParseDigest(hex)
	if err != nil {
		t.Fatal(err)
	}
	return sum
}

// A record that can't be read, damaged or of a later program, counts as absent and is made again.
func TestUnreadableRecord(t *testing.T) {
	s := newStudio(t, 1)
	q := s.queue(t, 1)
	run(t, q, s.lacking, 1)
	for i, text := range []string{"no record", `{"version": 99}`} {
		record := prefix + s.sums[0] + "/" + imaging.InfoName
		if err := s.bucket.Put(t.Context(), record, strings.NewReader(text), int64(len(text)), nil); err != nil {
			t.Fatal(err)
		}
		if _, err := q.Info(t.Context(), mustDigest(t, s.sums[0])); !errors.Is(err, storage.ErrNotExist) {
			t.Errorf("%q is read as %v", text, err)
		}
		if q.Pending() != 1 {
			t.Errorf("%q isn't taken up: %d pending", text, q.Pending())
		}
		run(t, q, none, int64(i)+2)
		s.made(t, q, s.sums[0])
	}
}

func TestVariants(t *testing.T) {
	for file, want := range map[string]string{"preview-320.jpg": "preview-320", "preview-1600.png": "preview-1600", "plain": "plain"} {
		if got := Variant(file); got != want {
			t.Errorf("%s is asked for as %s; want %s", file, got, want)
		}
	}
}
