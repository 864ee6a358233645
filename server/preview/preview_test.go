package preview

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/png"
	"strings"
	"sync"
	"testing"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/imaging"
)

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
