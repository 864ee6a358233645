package storage_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"io"
	"math/rand/v2"
	"testing"
	"testing/iotest"

	"platarium/storage"
)

// sources break the same bytes into pieces in every way that io.Reader allows.
var sources = map[string]func(io.Reader) io.Reader{
	"whole":         func(r io.Reader) io.Reader { return r },
	"bytewise":      iotest.OneByteReader,
	"halves":        iotest.HalfReader,
	"data with EOF": iotest.DataErrReader,
	"empty reads":   func(r io.Reader) io.Reader { return &stuttering{r: r} },
}

// stuttering gives nothing every other time, which io.Reader allows.
type stuttering struct {
	r   io.Reader
	odd bool
}

func (s *stuttering) Read(p []byte) (int, error) {
	if s.odd = !s.odd; s.odd {
		return 0, nil
	}
	return s.r.Read(p)
}

func TestBodyPassesWhatIsRight(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for name, source := range sources {
		for _, size := range []int{0, 1, 2, 3, 1000, 10_000} {
			data := make([]byte, size)
			for i := range data {
				data[i] = byte(r.Uint32())
			}
			sum := storage.Digest(sha256.Sum256(data))
			for _, s := range []*storage.Digest{nil, &sum} {
				for pieces, sink := range map[string]func(io.Reader) io.Reader{"whole": sources["whole"], "bytewise": iotest.OneByteReader} {
					body := storage.NewBody(t.Context(), source(bytes.NewReader(data)), int64(size), s)
					got, err := io.ReadAll(sink(body))
					if err != nil || !bytes.Equal(got, data) {
						t.Fatalf("%s read %s, %d bytes: found %d bytes, %v", name, pieces, size, len(got), err)
					}
					if body.Digest() != sum {
						t.Errorf("%s, %d bytes: digest %s, want %s", name, size, body.Digest(), sum)
					}
					if complete, err := body.Stop(); !complete || err != nil {
						t.Errorf("%s, %d bytes: Stop gave %v, %v", name, size, complete, err)
					}
					if _, err := body.Read(make([]byte, 1)); err == nil || errors.Is(err, io.EOF) {
						t.Errorf("a read after Stop gave %v", err)
					}
				}
			}
		}
	}
}

// A refused body never hands out all that was promised, nor all that a shorter promise would have been.
func TestBodyHoldsBackWhatIsWrong(t *testing.T) {
	data := []byte("the quick brown sculpin")
	sum, wrong := storage.Digest(sha256.Sum256(data)), storage.Digest{}
	size := int64(len(data))
	broken := errors.New("broken")
	for name, source := range sources {
		for _, c := range []struct {
			name string
			src  io.Reader
			size int64
			sum  *storage.Digest
			want error
		}{
			{"wrong digest", bytes.NewReader(data), size, &wrong, storage.ErrChecksum},
			{"short", bytes.NewReader(data), size + 1, &sum, storage.ErrChecksum},
			{"much too short", bytes.NewReader(data), size + 1000, nil, storage.ErrChecksum},
			{"long", bytes.NewReader(data), size - 1, nil, storage.ErrChecksum},
			{"nothing was promised", bytes.NewReader(data), 0, nil, storage.ErrChecksum},
			{"empty with a digest", bytes.NewReader(nil), 0, &sum, storage.ErrChecksum},
			{"negative", bytes.NewReader(data), -1, nil, storage.ErrChecksum},
			{"broken", io.MultiReader(bytes.NewReader(data), iotest.ErrReader(broken)), size + 5, nil, broken},
			{"broken instead of the end", io.MultiReader(bytes.NewReader(data), iotest.ErrReader(broken)), size, &sum, broken},
		} {
			body := storage.NewBody(t.Context(), source(c.src), c.size, c.sum)
			got, err := io.ReadAll(body)
			if !errors.Is(err, c.want) {
				t.Errorf("%s, %s: found %v, want %v", c.name, name, err, c.want)
			}
			if n := int64(len(got)); n > 0 && n >= min(size, c.size) {
				t.Errorf("%s, %s: %d bytes were handed out", c.name, name, n)
			}
			if _, again := body.Read(make([]byte, 10)); !errors.Is(again, err) {
				t.Errorf("%s, %s: then %v, want %v again", c.name, name, again, err)
			}
			if complete, serr := body.Stop(); complete || !errors.Is(serr, err) {
				t.Errorf("%s, %s: Stop gave %v, %v", c.name, name, complete, serr)
			}
		}
	}
}

func TestBodyEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	body := storage.NewBody(ctx, bytes.NewReader(make([]byte, 100)), 100, nil)
	if _, err := io.ReadFull(body, make([]byte, 10)); err != nil {
		t.Fatal(err)
	}
	cancel()
	if n, err := body.Read(make([]byte, 10)); n != 0 || !errors.Is(err, context.Canceled) {
		t.Errorf("found %d bytes, %v", n, err)
	}
}
