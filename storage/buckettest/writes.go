package buckettest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"testing"

	"platarium/storage"
)

func testCreate(t *testing.T, b storage.Bucket) {
	ctx := t.Context()
	for _, size := range []int64{0, 1, 4096, storage.MaxCreate} {
		key := fmt.Sprintf("new/%d", size)
		c := Content{Seed: uint64(size), Size: size}
		if err := b.Create(ctx, key, c.Bytes()); err != nil {
			t.Fatalf("%s: %v", key, err)
		}
		for _, again := range [][]byte{[]byte("other"), c.Bytes()} {
			if err := b.Create(ctx, key, again); !errors.Is(err, storage.ErrExist) {
				t.Errorf("%s again: found %v, want ErrExist", key, err)
			}
		}
		check(t, b, key, c)
	}
	put(t, b, "put", []byte("first"))
	if err := b.Create(ctx, "put", []byte("second")); !errors.Is(err, storage.ErrExist) {
		t.Errorf("creating over a put object: found %v, want ErrExist", err)
	}
	if err := b.Create(ctx, "large", make([]byte, storage.MaxCreate+1)); !errors.Is(err, storage.ErrKey) {
		t.Errorf("creating too much: found %v, want ErrKey", err)
	}
	absent(t, b, "large")
}

func testCreateRace(t *testing.T, b storage.Bucket) {
	const writers, rounds = 16, 12
	for round := range rounds {
		key := fmt.Sprintf("race/%020d.json", round)
		start := make(chan struct{})
		errs := make([]error, writers)
		var wg sync.WaitGroup
		for w := range writers {
			wg.Go(func() {
				<-start
				errs[w] = b.Create(t.Context(), key, raceContent(w))
			})
		}
		close(start)
		wg.Wait()
		winner := -1
		for w, err := range errs {
			switch {
			case err == nil && winner >= 0:
				t.Fatalf("%s: writers %d and %d both won", key, winner, w)
			case err == nil:
				winner = w
			case !errors.Is(err, storage.ErrExist):
				t.Errorf("%s: writer %d: found %v, want ErrExist", key, w, err)
			}
		}
		if winner < 0 {
			t.Fatalf("%s: nobody won", key)
		}
		if got := get(t, b, key, 0, -1); !bytes.Equal(got, raceContent(winner)) {
			t.Errorf("%s: holds %d bytes that begin %.20q, and not what the winner %d wrote", key, len(got), got, winner)
		}
	}
}

func raceContent(writer int) []byte {
	return bytes.Repeat(fmt.Appendf(nil, "writer %d ", writer), 100+writer)
}

// sizes of refused uploads: what an adapter may buffer, and what it must stream.
var refusedSizes = []int64{1, 1000, 6 << 20}

func testRefused(t *testing.T, b storage.Bucket) {
	ctx := t.Context()
	put(t, b, "r/good", []byte("good"))
	broken := errors.New("the scanner was unplugged")
	for _, size := range refusedSizes {
		c := Content{Seed: 1, Size: size}
		sum, wrong := c.Digest(), Content{Seed: 2, Size: size}.Digest()
		tail := func(err error) io.Reader { return io.MultiReader(c.Reader(), failing{err}) }
		for _, u := range []struct {
			name string
			body io.Reader
			size int64
			sum  *storage.Digest
			want error
		}{
			{"wrong digest", c.Reader(), size, &wrong, storage.ErrChecksum},
			{"short", c.Reader(), size + 1, nil, storage.ErrChecksum},
			{"short with digest", c.Reader(), size + 1, &sum, storage.ErrChecksum},
			{"empty", strings.NewReader(""), size, &sum, storage.ErrChecksum},
			{"long", c.Reader(), size - 1, nil, storage.ErrChecksum},
			{"long with digest of the whole", c.Reader(), size - 1, &sum, storage.ErrChecksum},
			{"negative length", c.Reader(), -1, &sum, storage.ErrChecksum},
			{"cut", tail(io.ErrUnexpectedEOF), size + 1, nil, storage.ErrChecksum},
			{"broken", tail(broken), size + 1, nil, broken},
			{"broken with digest", tail(broken), size + 1, &sum, broken},
			{"broken at the very end", tail(broken), size, &sum, broken},
		} {
			name := fmt.Sprintf("%s of %d bytes", u.name, size)
			if err := b.Put(ctx, "r/new", u.body, u.size, u.sum); !errors.Is(err, u.want) {
				t.Errorf("%s: found %v, want %v", name, err, u.want)
			}
			if absent(t, b, "r/new"); t.Failed() {
				t.Fatalf("after the upload: %s", name)
			}
		}
		if err := b.Put(ctx, "r/good", c.Reader(), size, &wrong); !errors.Is(err, storage.ErrChecksum) {
			t.Errorf("replacing: found %v, want ErrChecksum", err)
		}
		if got := get(t, b, "r/good", 0, -1); string(got) != "good" {
			t.Errorf("a refused upload damaged what was there: %.20q", got)
		}
	}
	if keys, err := list(ctx, b, "", ""); err != nil || len(keys) != 1 {
		t.Errorf("found the objects %v (%v), want only r/good", keys, err)
	}
}

func testCancelled(t *testing.T, b storage.Bucket) {
	put(t, b, "c/good", []byte("good"))
	for _, size := range refusedSizes {
		c := Content{Seed: 3, Size: size}
		sum := c.Digest()
		for _, s := range []*storage.Digest{nil, &sum} {
			for _, key := range []string{"c/new", "c/good"} {
				ctx, cancel := context.WithCancel(t.Context())
				body := &cancelling{r: c.Reader(), left: size / 2, cancel: cancel}
				if err := b.Put(ctx, key, body, size, s); !errors.Is(err, context.Canceled) {
					t.Errorf("%s of %d bytes: found %v, want context.Canceled", key, size, err)
				}
			}
			absent(t, b, "c/new")
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, serr := b.Stat(ctx, "c/good")
	_, oerr := read(ctx, b, "c/good", 0, -1)
	_, lerr := list(ctx, b, "", "")
	for name, err := range map[string]error{
		"Put": b.Put(ctx, "c/new", strings.NewReader("x"), 1, nil), "Create": b.Create(ctx, "c/new", []byte("x")), "Delete": b.Delete(ctx, "c/good"),
		"Stat": serr, "Open": oerr, "List": lerr,
	} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s: found %v, want context.Canceled", name, err)
		}
	}
	if got := get(t, b, "c/good", 0, -1); string(got) != "good" {
		t.Errorf("a cancelled call damaged what was there: %.20q", got)
	}
	if keys, err := list(t.Context(), b, "", ""); err != nil || len(keys) != 1 {
		t.Errorf("found the objects %v (%v), want only c/good", keys, err)
	}
}

// cancelling cancels once left bytes were read, and goes on giving bytes.
type cancelling struct {
	r      io.Reader
	left   int64
	cancel func()
}

func (c *cancelling) Read(p []byte) (int, error) {
	n, err := c.r.Read(p[:min(len(p), 32<<10)])
	if c.left -= int64(n); c.left <= 0 {
		c.cancel()
	}
	return n, err
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }
