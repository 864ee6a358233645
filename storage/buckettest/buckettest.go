// Package buckettest is the one suite that every adapter of storage.Bucket passes, and a real object store to run it against.
//
// Run covers what callers rely on: key rules, round trips, ranges, order and paging of listings, creation under a race, that refused and cancelled
// uploads leave nothing, memory that doesn't grow with the object, and random operations against a model. It leaves out durability over a
// power cut, which no test of a process can show.
package buckettest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"testing"
	"time"

	"platarium/storage"
)

type test struct {
	name string
	run  func(*testing.T, storage.Bucket)
}

// Run runs the suite. Open must give an empty bucket each time; it may register its cleanup with t.
func Run(t *testing.T, open func(t *testing.T) storage.Bucket) {
	RunQuick(t, open)
	for _, c := range []test{{"ListOrder", testListOrder}, {"ListMany", testListMany}, {"Model", testModel}, {"Large", testLarge}} {
		t.Run(c.name, func(t *testing.T) { c.run(t, open(t)) })
	}
}

// RunQuick runs the suite without what takes seconds: listings, random operations and large objects. It is for a second way to reach a store that
// has passed the whole.
func RunQuick(t *testing.T, open func(t *testing.T) storage.Bucket) {
	for _, c := range []test{
		{"Keys", testKeys},
		{"RoundTrip", testRoundTrip},
		{"Ranges", testRanges},
		{"Absent", testAbsent},
		{"Delete", testDelete},
		{"Create", testCreate},
		{"CreateRace", testCreateRace},
		{"Refused", testRefused},
		{"Cancelled", testCancelled},
		{"ConcurrentPuts", testConcurrentPuts},
		{"Probe", testProbe},
	} {
		t.Run(c.name, func(t *testing.T) { c.run(t, open(t)) })
	}
}

func testKeys(t *testing.T, b storage.Bucket) {
	ctx := t.Context()
	for _, key := range []string{"a", "A.b-c_d=e", "x/y/z", "0/" + strings.Repeat("k", 255), strings.Repeat(strings.Repeat("k", 99)+"/", 8) + strings.Repeat("k", 100)} {
		put(t, b, key, []byte(key))
		if got := get(t, b, key, 0, -1); string(got) != key {
			t.Errorf("%s: found %q", key, got)
		}
	}
	bad := []string{
		"", "/", "/a", "a/", "a//b", ".", "..", "a/../b", ".hidden", "a/.b", "a b", "a\\b", "a\x00", "fläche", "a\nb", "a:b", "a*", "a?", "a%20b",
		strings.Repeat("k", 256), strings.Repeat("abc/", 225) + "d", "../../outside",
	}
	for _, key := range bad {
		_, serr := b.Stat(ctx, key)
		_, oerr := b.Open(ctx, key, 0, -1)
		for name, err := range map[string]error{
			"Put": b.Put(ctx, key, strings.NewReader("x"), 1, nil), "Create": b.Create(ctx, key, []byte("x")), "Delete": b.Delete(ctx, key),
			"Stat": serr, "Open": oerr,
		} {
			if !errors.Is(err, storage.ErrKey) {
				t.Errorf("%s(%q): found %v, want ErrKey", name, key, err)
			}
		}
	}
	for _, prefix := range []string{"../", "/", ".", "a//", "a b"} {
		if _, err := list(ctx, b, prefix, ""); !errors.Is(err, storage.ErrKey) {
			t.Errorf("List(%q): found %v, want ErrKey", prefix, err)
		}
	}
}

func testRoundTrip(t *testing.T, b storage.Bucket) {
	ctx := t.Context()
	for i, size := range []int64{0, 1, 100, 64<<10 + 1, 5 << 20, 5<<20 + 1} {
		c := Content{Seed: uint64(i), Size: size}
		sum := c.Digest()
		for name, s := range map[string]*storage.Digest{"known": &sum, "unknown": nil} {
			key := fmt.Sprintf("round/%s-%d", name, size)
			before := time.Now()
			if err := b.Put(ctx, key, c.Reader(), size, s); err != nil {
				t.Fatalf("%s: %v", key, err)
			}
			check(t, b, key, c)
			info, err := b.Stat(ctx, key)
			if err != nil {
				t.Fatal(err)
			}
			if info.Key != key || info.Size != size {
				t.Errorf("%s: found %+v", key, info)
			}
			if age := info.Modified.Sub(before).Abs(); age > time.Hour {
				t.Errorf("%s: modified %v, off by %v", key, info.Modified, age)
			}
		}
	}
	// Replaced by something shorter and something longer.
	for i, size := range []int64{1000, 10, 100_000, 0} {
		c := Content{Seed: uint64(100 + i), Size: size}
		if err := b.Put(ctx, "replaced", c.Reader(), size, nil); err != nil {
			t.Fatal(err)
		}
		check(t, b, "replaced", c)
	}
}

func testRanges(t *testing.T, b storage.Bucket) {
	const size = 100_000
	whole := Content{Seed: 7, Size: size}.Bytes()
	put(t, b, "ranges", whole)
	put(t, b, "empty", nil)
	const far = int64(1) << 62
	for _, c := range []struct{ offset, length int64 }{
		{0, -1}, {0, 0}, {0, 1}, {0, size}, {0, size + 1}, {0, far}, {1, -1}, {1, 1}, {99_999, 1}, {99_999, 2}, {99_999, -1}, {50_000, 10_000},
		{99_990, 100}, {50, 0}, {size, -1}, {size, 0}, {size, 1}, {size + 1, -1}, {size + 1, 5}, {far, -1}, {far, 7}, {far, 0}, {5, 1<<63 - 1},
	} {
		from := min(c.offset, size)
		to := int64(size)
		if c.length >= 0 {
			to = min(from+min(c.length, size), size)
		}
		if got := get(t, b, "ranges", c.offset, c.length); !bytes.Equal(got, whole[from:to]) {
			t.Errorf("offset %d, length %d: found %d bytes, want those from %d to %d", c.offset, c.length, len(got), from, to)
		}
		if got := get(t, b, "empty", c.offset, c.length); len(got) != 0 {
			t.Errorf("empty object, offset %d, length %d: found %d bytes", c.offset, c.length, len(got))
		}
	}
	if r, err := b.Open(t.Context(), "ranges", -1, 1); err == nil {
		t.Errorf("a negative offset was accepted (close: %v)", r.Close())
	}
}

func testAbsent(t *testing.T, b storage.Bucket) {
	put(t, b, "folder/object", []byte("x"))
	for _, key := range []string{"absent", "no/such/folder", "folder", "folder/object/below", "folder/objec", "folder/object2"} {
		absent(t, b, key)
	}
}

func testDelete(t *testing.T, b storage.Bucket) {
	ctx := t.Context()
	put(t, b, "d/one", []byte("1"))
	put(t, b, "d/two", []byte("2"))
	for range 3 {
		if err := b.Delete(ctx, "d/one"); err != nil {
			t.Fatal(err)
		}
		absent(t, b, "d/one")
	}
	for _, key := range []string{"never", "d", "d/two/below", "no/such"} {
		if err := b.Delete(ctx, key); err != nil {
			t.Errorf("deleting what isn't there, %s: %v", key, err)
		}
	}
	if got := get(t, b, "d/two", 0, -1); string(got) != "2" {
		t.Errorf("the neighbour holds %q", got)
	}
	if err := b.Create(ctx, "d/one", []byte("again")); err != nil {
		t.Errorf("creating a deleted key: %v", err)
	}
}

func testProbe(t *testing.T, b storage.Bucket) {
	if err := storage.Probe(t.Context(), b); err != nil {
		t.Fatal(err)
	}
	if keys, err := list(t.Context(), b, "", ""); err != nil || len(keys) != 0 {
		t.Errorf("the probe left %v behind, %v", keys, err)
	}
}

func testConcurrentPuts(t *testing.T, b storage.Bucket) {
	const writers, each = 8, 6
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			for i := range each {
				c := Content{Seed: uint64(w*100 + i), Size: int64(1000 * (w + 1))}
				sum := c.Digest()
				if err := b.Put(t.Context(), fmt.Sprintf("own/%d/%d", w, i), c.Reader(), c.Size, &sum); err != nil {
					t.Error(err)
				}
				c.Seed = uint64(w)
				if err := b.Put(t.Context(), "shared", c.Reader(), c.Size, nil); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	for w := range writers {
		for i := range each {
			check(t, b, fmt.Sprintf("own/%d/%d", w, i), Content{Seed: uint64(w*100 + i), Size: int64(1000 * (w + 1))})
		}
	}
	// What all wrote is one writer's whole.
	got := get(t, b, "shared", 0, -1)
	w := len(got)/1000 - 1
	if w < 0 || !bytes.Equal(got, (Content{Seed: uint64(w), Size: int64(len(got))}).Bytes()) {
		t.Errorf("the shared key holds a mixture of %d bytes", len(got))
	}
}

// put, get, absent, check and list are the suite's shorthands.

func put(t *testing.T, b storage.Bucket, key string, data []byte) {
	t.Helper()
	sum := storage.Digest(sha256.Sum256(data))
	if err := b.Put(t.Context(), key, bytes.NewReader(data), int64(len(data)), &sum); err != nil {
		t.Fatalf("putting %s: %v", key, err)
	}
}

func get(t *testing.T, b storage.Bucket, key string, offset, length int64) []byte {
	t.Helper()
	data, err := read(t.Context(), b, key, offset, length)
	if err != nil {
		t.Fatalf("reading %s: %v", key, err)
	}
	return data
}

func read(ctx context.Context, b storage.Bucket, key string, offset, length int64) ([]byte, error) {
	r, err := b.Open(ctx, key, offset, length)
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(r)
	return data, errors.Join(err, r.Close())
}

func absent(t *testing.T, b storage.Bucket, key string) {
	t.Helper()
	if _, err := b.Stat(t.Context(), key); !errors.Is(err, storage.ErrNotExist) {
		t.Errorf("Stat(%s): found %v, want ErrNotExist", key, err)
	}
	for _, length := range []int64{-1, 0, 5} {
		if _, err := read(t.Context(), b, key, 0, length); !errors.Is(err, storage.ErrNotExist) {
			t.Errorf("Open(%s) of length %d: found %v, want ErrNotExist", key, length, err)
		}
	}
}

// check streams, so that it serves for the largest objects.
func check(t *testing.T, b storage.Bucket, key string, want Content) {
	t.Helper()
	r, err := b.Open(t.Context(), key, 0, -1)
	if err != nil {
		t.Fatalf("opening %s: %v", key, err)
	}
	hash := sha256.New()
	n, err := io.Copy(hash, r)
	if err = errors.Join(err, r.Close()); err != nil {
		t.Fatalf("reading %s: %v", key, err)
	}
	if got := storage.Digest(hash.Sum(nil)); n != want.Size || got != want.Digest() {
		t.Errorf("%s holds %d bytes with sha256 %s, want %d with %s", key, n, got, want.Size, want.Digest())
	}
}

func list(ctx context.Context, b storage.Bucket, prefix, after string) (keys []string, err error) {
	for info, err := range b.List(ctx, prefix, after) {
		if err != nil {
			return keys, err
		}
		keys = append(keys, info.Key)
	}
	return keys, nil
}
