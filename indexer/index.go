package indexer

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"platarium/indexer/rank"
)

var (
	// ErrClosed: the index was closed; the caller is shutting down as well.
	ErrClosed = errors.New("index is closed")
	// ErrLocked: another process has the index open; use another folder or stop it.
	ErrLocked = errors.New("index is open in another process")
)

// Options of an index; the zero value is good.
type Options struct {
	// Logger for rebuilds and repairs; nil for none.
	Logger *slog.Logger
	// Weights of the ranking; nil for rank.Default.
	Weights *rank.Weights
	// Progress of a build that Open finds necessary; may be nil.
	Progress func(done, total int64)

	batch int // documents in a batch; 0 for defaultBatch
}

// Index is safe for concurrent use.
type Index struct {
	dir     string
	src     Source
	log     *slog.Logger
	weights rank.Weights
	batch   int
	state   *state

	// rebuild is held by the one rebuild, write by whoever changes the index, mu
	// by searches for reading and for the moment of a change. Locked in this order.
	rebuild sync.Mutex
	write   sync.Mutex
	mu      sync.RWMutex

	gen     *generation
	pending map[string]bool // pictures changed since a rebuild began; nil without one
	moved   chan struct{}   // closed when the sequence moves
	closed  bool
}

// Open opens the index in dir, which belongs to it alone, or builds it from src
// if there is none, it is damaged, of another schema or another archive, or ahead
// of src (which then isn't the history it was made from). An index that is behind
// src is opened as it is: the caller applies what is missing after Sequence, or
// rebuilds. Errors: ErrLocked, and what building met.
func Open(ctx context.Context, dir string, src Source, opts Options) (*Index, error) {
	x := &Index{dir: dir, src: src, log: opts.Logger, weights: rank.Default(), batch: opts.batch, moved: make(chan struct{})}
	if x.log == nil {
		x.log = slog.New(slog.DiscardHandler)
	}
	if x.batch == 0 {
		x.batch = defaultBatch
	}
	if opts.Weights != nil {
		x.weights = *opts.Weights
	}
	var err error
	if x.state, err = openState(dir); err != nil {
		return nil, err
	}
	if x.gen, err = x.openExisting(); err != nil {
		x.log.InfoContext(ctx, "building the index", "reason", err)
		if x.gen, err = x.build(ctx, opts.Progress); err == nil {
			err = x.point(x.gen)
		}
		if err != nil {
			if x.gen != nil {
				err = errors.Join(err, x.gen.release())
			}
			return nil, errors.Join(err, x.state.close())
		}
	}
	x.sweep(ctx)
	return x, nil
}

// openExisting opens the generation that the state names; an error says why it
// must be built again.
func (x *Index) openExisting() (*generation, error) {
	p := x.state.read()
	switch {
	case p.Generation == "":
		return nil, errors.New("no index yet")
	case p.Schema != schema:
		return nil, fmt.Errorf("schema is %d, want %d", p.Schema, schema)
	case p.Archive != x.src.ArchiveID():
		return nil, fmt.Errorf("index of archive %q, want %q", p.Archive, x.src.ArchiveID())
	case filepath.Base(p.Generation) != p.Generation:
		return nil, fmt.Errorf("generation %q is no folder of the index", p.Generation)
	}
	dir := filepath.Join(x.dir, p.Generation)
	if _, err := os.Stat(filepath.Join(dir, "root.bolt")); err != nil {
		return nil, fmt.Errorf("generation %s: %w", p.Generation, err)
	}
	g, err := openGeneration(dir)
	if err != nil {
		return nil, err
	}
	// Bleve takes a folder whose segments can't be read for an empty one.
	if applied := x.src.Applied(); g.seq > applied || g.seq < p.Sequence {
		return nil, errors.Join(fmt.Errorf("index is at commit %d, it was at %d, the archive is at %d", g.seq, p.Sequence, applied), g.release())
	}
	return g, nil
}

// point makes a generation the one that counts.
func (x *Index) point(g *generation) error {
	return x.state.write(pointer{Schema: schema, Archive: x.src.ArchiveID(), Generation: filepath.Base(g.dir), Sequence: g.seq})
}

// sweep removes what earlier generations left.
func (x *Index) sweep(ctx context.Context) {
	entries, err := os.ReadDir(x.dir)
	if err != nil {
		x.log.WarnContext(ctx, "can't list the index folder", "error", err)
		return
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), generationPrefix) || e.Name() == filepath.Base(x.gen.dir) {
			continue
		}
		if err := os.RemoveAll(filepath.Join(x.dir, e.Name())); err != nil {
			x.log.WarnContext(ctx, "can't remove an old index", "folder", e.Name(), "error", err)
		}
	}
}

// Apply brings in the changes of commit seq: the names of pictures, taxa and
// specimens that it wrote or deleted; other names are passed over. They are
// visible to every Search that begins after Apply returned, all of them or none.
// Several commits may be brought in under the number of the last, and a commit
// again. After an error nothing has changed for searches, and the caller may try
// again. Errors: ErrClosed, and what bleve met.
func (x *Index) Apply(ctx context.Context, seq int64, changed []string) error {
	x.write.Lock()
	defer x.write.Unlock()
	if x.closed {
		return ErrClosed
	}
	names := x.touched(changed)
	for _, n := range names {
		if x.pending != nil {
			x.pending[n] = true
		}
	}
	return x.bring(ctx, x.gen, max(seq, x.gen.seq), names)
}

// bring makes pictures of a generation as the source has them; the caller holds
// the write lock. Searches see nothing of it until all is in.
func (x *Index) bring(ctx context.Context, g *generation, seq int64, names []string) error {
	var all []change
	next := uint32(len(g.cols.names))
	parts := slices.Collect(slices.Chunk(names, x.batch))
	for i := 0; i == 0 || i < len(parts); i++ {
		var part []change
		var err error
		if i < len(parts) {
			if part, err = g.changes(ctx, x.src, seq, parts[i], &next); err != nil {
				return err
			}
		}
		all = append(all, part...)
		last := i >= len(parts)-1
		if len(part) == 0 && (!last || len(all) == 0 && seq == g.seq) {
			continue
		}
		if err := x.hold(g); err != nil {
			return err
		}
		carries := int64(0)
		if last {
			carries = seq
		}
		if err := g.write(part, carries, nil); err != nil {
			return err
		}
	}
	if len(all) == 0 && seq == g.seq {
		return nil
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	g.settle(seq, all)
	close(x.moved)
	x.moved = make(chan struct{})
	return nil
}

func (x *Index) hold(g *generation) error {
	x.mu.Lock()
	defer x.mu.Unlock()
	return g.hold()
}

// touched lists the pictures that changed records touch, by what the source says
// now and by what the index was made from, in order.
func (x *Index) touched(changed []string) []string {
	var names []string
	sources := map[string]bool{}
	for _, n := range changed {
		switch collection, _, _ := strings.Cut(n, "/"); collection {
		case "pictures":
			names = append(names, n)
		case "taxa", "specimens":
			sources[n] = true
			names = append(names, x.src.PicturesOf(n)...)
		}
	}
	if len(sources) > 0 {
		names = append(names, x.gen.cols.dependents(sources)...)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// Sequence is the last commit applied.
func (x *Index) Sequence() int64 {
	x.mu.RLock()
	defer x.mu.RUnlock()
	return x.gen.seq
}

// Wait returns when the index holds commit seq. Errors: ErrClosed, and ctx's.
func (x *Index) Wait(ctx context.Context, seq int64) error {
	for {
		x.mu.RLock()
		moved, done, closed := x.moved, x.gen.seq >= seq, x.closed
		x.mu.RUnlock()
		switch {
		case closed:
			return ErrClosed
		case done:
			return nil
		}
		select {
		case <-moved:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// flushTime bounds the flush of Close. What isn't on disk by then is applied
// again from the journal next time.
const flushTime = 30 * time.Second

// Close waits for what is under way (a rebuild, unless its context is canceled),
// flushes, and releases the folder.
func (x *Index) Close() error {
	x.rebuild.Lock()
	defer x.rebuild.Unlock()
	x.write.Lock()
	defer x.write.Unlock()
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.closed {
		return nil
	}
	x.closed = true
	close(x.moved)
	ctx, cancel := context.WithTimeout(context.Background(), flushTime)
	defer cancel()
	return errors.Join(x.gen.close(ctx), x.state.close())
}
