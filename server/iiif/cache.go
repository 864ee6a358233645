package iiif

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"golang.org/x/sync/singleflight"

	"platarium/storage"
	"platarium/storage/imaging"
)

// Maker makes pyramids; imaging.Runner does.
type Maker interface {
	// Pyramid makes the tiles of an original in an empty folder.
	Pyramid(ctx context.Context, original io.Reader, dir string) (imaging.PyramidInfo, error)
}

const (
	recordName    = "pyramid.json" // written last: a folder without it is a remnant
	recordVersion = 1
	making        = "making-" // begins the names of folders under way
)

// record is what stands beside the tiles.
type record struct {
	Version int                 `json:"version"`
	Pyramid imaging.PyramidInfo `json:"pyramid"`
}

// Cache keeps pyramids in a local folder by the sha256 of their originals, within a number of bytes: those longest unused go first. All of it can be deleted while no server
// runs. Safe for concurrent use; one server a folder.
type Cache struct {
	folder string
	most   int64
	maker  Maker
	log    *slog.Logger

	flights singleflight.Group
	alive   context.Context //nolint:containedctx // ends what is under way when the cache is closed; no request's
	stop    context.CancelFunc
	running sync.WaitGroup

	mu      sync.Mutex
	closed  bool
	entries map[storage.Digest]*entry
	clock   int64 // counts uses
	bytes   int64
}

type entry struct {
	info imaging.PyramidInfo
	used int64
	held int // requests that read it now; it isn't removed then
}

// OpenCache opens the folder, which is made if need be, and removes what an earlier server left unfinished.
func OpenCache(folder string, mostBytes int64, maker Maker, log *slog.Logger) (*Cache, error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, fmt.Errorf("open the cache of tiles: %w", err)
	}
	c := &Cache{folder: folder, most: mostBytes, maker: maker, log: log, entries: map[storage.Digest]*entry{}}
	c.alive, c.stop = context.WithCancel(context.Background())
	found, err := os.ReadDir(folder)
	if err != nil {
		return nil, fmt.Errorf("open the cache of tiles: %w", err)
	}
	for _, d := range found {
		sum, err := storage.ParseDigest(d.Name())
		if err != nil && !strings.HasPrefix(d.Name(), making) {
			continue // somebody else's
		}
		var e *entry
		if err == nil {
			e, err = readRecord(filepath.Join(folder, d.Name()))
		}
		if err == nil {
			c.entries[sum] = e
			c.bytes += e.info.Bytes
		} else if err := os.RemoveAll(filepath.Join(folder, d.Name())); err != nil {
			return nil, fmt.Errorf("open the cache of tiles: %w", err)
		}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	return c, c.evict()
}

func readRecord(dir string) (*entry, error) {
	b, err := os.ReadFile(filepath.Join(dir, recordName))
	if err != nil {
		return nil, err
	}
	var r record
	if err := json.Unmarshal(b, &r); err != nil {
		return nil, err
	}
	if p := r.Pyramid; r.Version != recordVersion || p.Width <= 0 || p.Height <= 0 || p.Tile <= 0 || p.Levels <= 0 || p.Levels > 32 || p.Bytes < 0 {
		return nil, errors.New("record of another version, or unsound")
	}
	st, err := os.Stat(filepath.Join(dir, recordName))
	if err != nil {
		return nil, err
	}
	return &entry{info: r.Pyramid, used: math.MinInt64 + st.ModTime().Unix()}, nil // older than any use since the start, in the order of their making
}

// Close waits for what is under way, which it ends.
func (c *Cache) Close() {
	c.mu.Lock()
	c.closed = true
	c.mu.Unlock()
	c.stop()
	c.running.Wait()
}

// pyramid is one that is held for a request.
type pyramid struct {
	imaging.PyramidInfo
	dir     string
	release func()
}

// get gives the pyramid of an original, and makes it first if need be: once, however many ask. The caller releases it. open reads the original as the caller that first asked; it must
// bear a context that outlives the request.
func (c *Cache) get(ctx context.Context, sum storage.Digest, open func(context.Context) (io.ReadCloser, error)) (*pyramid, error) {
	for {
		if p := c.hold(sum); p != nil {
			return p, nil
		}
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case res := <-c.begin(ctx, sum, open):
			if res.Err != nil {
				return nil, res.Err
			}
		}
	}
}

// has says whether a pyramid is there.
func (c *Cache) has(sum storage.Digest) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.entries[sum] != nil
}

// begin starts making a pyramid unless that is under way. It goes on when the request ends: the next one will want it.
func (c *Cache) begin(ctx context.Context, sum storage.Digest, open func(context.Context) (io.ReadCloser, error)) <-chan singleflight.Result {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		failed := make(chan singleflight.Result, 1)
		failed <- singleflight.Result{Err: errLater}
		return failed
	}
	c.running.Add(1)
	lasting := context.WithoutCancel(ctx)
	done := make(chan singleflight.Result, 1)
	made := c.flights.DoChan(sum.String(), func() (any, error) {
		work, cancel := context.WithCancel(lasting)
		defer cancel()
		defer context.AfterFunc(c.alive, cancel)()
		err := c.make(work, sum, open)
		if err != nil && work.Err() == nil {
			c.log.Warn("tiles can't be made", "sha256", sum, "error", err)
		}
		return nil, err
	})
	go func() {
		defer c.running.Done()
		done <- <-made
	}()
	return done
}

func (c *Cache) hold(sum storage.Digest) *pyramid {
	c.mu.Lock()
	defer c.mu.Unlock()
	e := c.entries[sum]
	if e == nil {
		return nil
	}
	c.clock++
	e.used = c.clock
	e.held++
	return &pyramid{PyramidInfo: e.info, dir: c.dir(sum), release: sync.OnceFunc(func() {
		c.mu.Lock()
		defer c.mu.Unlock()
		e.held--
	})}
}

func (c *Cache) dir(sum storage.Digest) string { return filepath.Join(c.folder, sum.String()) }

func (c *Cache) make(ctx context.Context, sum storage.Digest, open func(context.Context) (io.ReadCloser, error)) (err error) {
	if c.has(sum) { // made between the question and this
		return nil
	}
	dir, err := os.MkdirTemp(c.folder, making)
	if err != nil {
		return fmt.Errorf("make a folder for tiles: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir))
		}
	}()
	r, err := open(ctx)
	if err != nil {
		return err
	}
	info, err := c.maker.Pyramid(ctx, r, dir)
	if err = errors.Join(err, r.Close()); err != nil {
		return err
	}
	b, err := json.Marshal(record{recordVersion, info})
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, recordName), b, 0o600); err != nil {
		return err
	}
	if err := os.Rename(dir, c.dir(sum)); err != nil {
		return err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.clock++
	c.entries[sum] = &entry{info: info, used: c.clock}
	c.bytes += info.Bytes
	return c.evict()
}

// evict removes pyramids, the longest unused first, until the bound holds. Those being read stay, and so does the newest, whatever its size: it was asked for.
func (c *Cache) evict() error {
	type old struct {
		sum storage.Digest
		*entry
	}
	var all []old
	for sum, e := range c.entries {
		all = append(all, old{sum, e})
	}
	slices.SortFunc(all, func(a, b old) int { return cmp.Compare(a.used, b.used) })
	for i, e := range all {
		if c.bytes <= c.most || i == len(all)-1 {
			break
		}
		if e.held > 0 {
			continue
		}
		delete(c.entries, e.sum)
		c.bytes -= e.info.Bytes
		// Renamed first: a folder by that name is always whole.
		gone := filepath.Join(c.folder, making+e.sum.String())
		if err := os.Rename(c.dir(e.sum), gone); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("make room for tiles: %w", err)
		}
		if err := os.RemoveAll(gone); err != nil {
			return fmt.Errorf("make room for tiles: %w", err)
		}
	}
	return nil
}
