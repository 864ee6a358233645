package iiif

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"platarium/storage"
	"platarium/storage/imaging"
)

// maker makes pyramids of one file of so many bytes, and counts.
type maker struct {
	bytes  int64
	made   atomic.Int64
	err    error
	paused chan struct{} // if not nil, waits for it to close or for the end of the work
}

func (m *maker) Pyramid(ctx context.Context, original io.Reader, dir string) (imaging.PyramidInfo, error) {
	m.made.Add(1)
	if m.paused != nil {
		select {
		case <-m.paused:
		case <-ctx.Done():
			return imaging.PyramidInfo{}, ctx.Err()
		}
	}
	if m.err != nil {
		return imaging.PyramidInfo{}, m.err
	}
	if _, err := io.Copy(io.Discard, original); err != nil {
		return imaging.PyramidInfo{}, err
	}
	err := os.WriteFile(filepath.Join(dir, "tile"), make([]byte, m.bytes), 0o600)
	return imaging.PyramidInfo{Width: 10, Height: 10, Tile: 512, Levels: 1, Bytes: m.bytes}, err
}

func openCache(t testing.TB, folder string, most int64, m Maker) *Cache {
	t.Helper()
	c, err := OpenCache(folder, most, m, slog.New(slog.DiscardHandler))
	check(t, err)
	t.Cleanup(c.Close)
	return c
}

func digest(n byte) storage.Digest { return storage.Digest(bytes.Repeat([]byte{n}, 32)) }

func getOnce(t testing.TB, c *Cache, n byte) *pyramid {
	t.Helper()
	p, err := c.get(t.Context(), digest(n), nothing)
	check(t, err)
	return p
}

// folders are the names in the cache's folder, remnants and all.
func folders(t testing.TB, folder string) int {
	t.Helper()
	found, err := os.ReadDir(folder)
	check(t, err)
	return len(found)
}

// However many ask at once, a pyramid is made once; one who gives up doesn't end it for the others.
func TestMadeOnce(t *testing.T) {
	t.Parallel()
	m := &maker{bytes: 10, paused: make(chan struct{})}
	c := openCache(t, t.TempDir(), 100, m)
	impatient, giveUp := context.WithCancel(t.Context())
	gone := make(chan error, 1)
	go func() {
		_, err := c.get(impatient, digest(1), nothing)
		gone <- err
	}()
	for m.made.Load() == 0 {
		time.Sleep(time.Millisecond)
	}
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() {
			p, err := c.get(t.Context(), digest(1), nothing)
			if err != nil {
				t.Error(err)
				return
			}
			p.release()
		})
	}
	giveUp()
	if err := <-gone; !errors.Is(err, context.Canceled) {
		t.Errorf("one who gave up: %v", err)
	}
	close(m.paused)
	all.Wait()
	if n := m.made.Load(); n != 1 {
		t.Errorf("made %d times", n)
	}
}

// The longest unused goes first, not the oldest; what is being read stays, and what is too large alone is still served.
func TestBound(t *testing.T) {
	t.Parallel()
	m := &maker{bytes: 40}
	folder := t.TempDir()
	c := openCache(t, folder, 100, m)
	getOnce(t, c, 1).release()
	getOnce(t, c, 2).release()
	getOnce(t, c, 1).release()
	getOnce(t, c, 3).release()
	if !c.has(digest(1)) || c.has(digest(2)) || !c.has(digest(3)) || folders(t, folder) != 2 {
		t.Errorf("after three of 40 bytes, 100 allowed: %v %v %v, %d folders", c.has(digest(1)), c.has(digest(2)), c.has(digest(3)), folders(t, folder))
	}
	held := getOnce(t, c, 1)
	m.bytes = 99
	getOnce(t, c, 4).release()
	if !c.has(digest(1)) || c.has(digest(3)) || !c.has(digest(4)) {
		t.Error("one being read was removed, or others weren't")
	}
	if _, err := os.Stat(filepath.Join(held.dir, "tile")); err != nil {
		t.Error(err)
	}
	held.release()
	held.release() // harmless
	m.bytes = 500
	getOnce(t, c, 5).release()
	if !c.has(digest(5)) || folders(t, folder) != 1 || c.bytes != 500 {
		t.Errorf("one beyond the bound: %v, %d folders, %d bytes", c.has(digest(5)), folders(t, folder), c.bytes)
	}
}

// A restart finds what is whole and removes remnants and what it can't read; other people's files stay.
func TestReopened(t *testing.T) {
	t.Parallel()
	m := &maker{bytes: 10}
	folder := t.TempDir()
	first := openCache(t, folder, 100, m)
	for n := range byte(3) {
		getOnce(t, first, n).release()
	}
	first.Close()
	check(t, os.Remove(filepath.Join(folder, digest(0).String(), recordName)))
	check(t, os.WriteFile(filepath.Join(folder, digest(1).String(), recordName), []byte(`{"version":99,"pyramid":{"width":1,"height":1,"tile":1,"levels":1}}`), 0o600))
	check(t, os.Mkdir(filepath.Join(folder, making+"1234"), 0o700))
	check(t, os.Mkdir(filepath.Join(folder, "somebody-elses"), 0o700))
	c := openCache(t, folder, 100, m)
	if c.has(digest(0)) || c.has(digest(1)) || !c.has(digest(2)) || folders(t, folder) != 2 || c.bytes != 10 {
		t.Errorf("%d folders, %d bytes", folders(t, folder), c.bytes)
	}
	getOnce(t, c, 2).release()
	if m.made.Load() != 3 {
		t.Errorf("made %d times", m.made.Load())
	}
	smaller := openCache(t, folder, 5, m)
	if !smaller.has(digest(2)) {
		t.Error("the only one was removed")
	}
}

// A failure is told to all who wait, leaves nothing behind, and the next one tries again; a closed cache makes nothing.
func TestFailures(t *testing.T) {
	t.Parallel()
	broken := errors.New("broken")
	m := &maker{bytes: 10, err: broken}
	folder := t.TempDir()
	c := openCache(t, folder, 100, m)
	if _, err := c.get(t.Context(), digest(1), nothing); !errors.Is(err, broken) || folders(t, folder) != 0 {
		t.Errorf("%v, %d folders", err, folders(t, folder))
	}
	m.err = nil
	unread := errors.New("unread")
	if _, err := c.get(t.Context(), digest(1), func(context.Context) (io.ReadCloser, error) { return nil, unread }); !errors.Is(err, unread) || folders(t, folder) != 0 {
		t.Errorf("%v, %d folders", err, folders(t, folder))
	}
	getOnce(t, c, 1).release()
	m.paused = make(chan struct{})
	waiting := make(chan error, 1)
	go func() {
		_, err := c.get(t.Context(), digest(2), nothing)
		waiting <- err
	}()
	for m.made.Load() < 3 {
		time.Sleep(time.Millisecond)
	}
	c.Close()
	if err := <-waiting; !errors.Is(err, context.Canceled) {
		t.Errorf("closed meanwhile: %v", err)
	}
	if _, err := c.get(t.Context(), digest(3), nothing); !errors.Is(err, errLater) {
		t.Errorf("closed before: %v", err)
	}
	if _, err := OpenCache(filepath.Join(folder, strings.Repeat("x", 300)), 1, m, slog.New(slog.DiscardHandler)); err == nil {
		t.Error("opened a folder that can't be made")
	}
}
