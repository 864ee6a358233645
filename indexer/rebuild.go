package indexer

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
)

// generationPrefix begins the folder names of generations.
const generationPrefix = "generation-"

// Rebuild makes the index anew beside the old one and swaps them; searches and
// changes go on meanwhile. progress may be nil and is called from this
// goroutine; total is an estimate. After an error the old index goes on.
func (x *Index) Rebuild(ctx context.Context, progress func(done, total int64)) error {
	x.rebuild.Lock()
	defer x.rebuild.Unlock()
	x.write.Lock()
	if x.closed {
		x.write.Unlock()
		return ErrClosed
	}
	x.pending = map[string]bool{} // from before the source is read, so that nothing slips between
	x.write.Unlock()

	g, err := x.build(ctx, progress)

	x.write.Lock()
	defer x.write.Unlock()
	pending := x.pending
	x.pending = nil
	if err != nil {
		return err
	}
	old := x.gen
	if err := x.swap(ctx, g, pending); err != nil {
		return errors.Join(err, g.release(), os.RemoveAll(g.dir))
	}
	err = old.release() // nothing is lost with what it didn't flush
	return errors.Join(err, os.RemoveAll(old.dir))
}

// swap catches a new generation up and puts it in the old one's place.
func (x *Index) swap(ctx context.Context, g *generation, pending map[string]bool) error {
	names := make([]string, 0, len(pending))
	for n := range pending {
		names = append(names, n)
	}
	slices.Sort(names)
	if err := x.bring(ctx, g, max(g.seq, x.gen.seq), names); err != nil {
		return err
	}
	// Page tokens depend on when a picture last changed, which a build can't know.
	for name, ord := range g.cols.byName {
		if was, ok := x.gen.cols.byName[name]; ok && x.gen.cols.digest[was] == g.cols.digest[ord] {
			g.cols.changed[ord] = x.gen.cols.changed[was]
		}
	}
	if err := x.point(g); err != nil {
		return err
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	x.gen = g
	return nil
}

// build makes a new generation of everything the source has.
func (x *Index) build(ctx context.Context, progress func(done, total int64)) (*generation, error) {
	dir, err := os.MkdirTemp(x.dir, generationPrefix)
	if err != nil {
		return nil, fmt.Errorf("make index folder: %w", err)
	}
	g, err := openGeneration(dir)
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	if err := x.fill(ctx, g, progress); err != nil {
		return nil, errors.Join(fmt.Errorf("build index: %w", err), g.release(), os.RemoveAll(dir))
	}
	return g, nil
}

func (x *Index) fill(ctx context.Context, g *generation, progress func(done, total int64)) error {
	seq, pictures := x.src.Pictures(ctx)
	total := int64(0)
	if x.gen != nil {
		total = int64(x.gen.cols.count)
	}
	part := make([]change, 0, x.batch)
	ord := uint32(0)
	settle := func(at int64) {
		g.settle(at, part)
		part = make([]change, 0, x.batch)
		if progress != nil {
			progress(int64(ord), max(total, int64(ord)))
		}
	}
	for p, err := range pictures {
		if err = cmp.Or(err, ctx.Err()); err != nil {
			return err
		}
		e := derive(p, x.src)
		e.digest = e.sum()
		part = append(part, change{ord: ord, entry: e})
		ord++
		if len(part) < x.batch {
			continue
		}
		// Without a sequence until all is in: a half-built folder must never look whole.
		if err := g.write(part, 0, nil); err != nil {
			return err
		}
		settle(0)
	}
	if err := g.flush(ctx, part, seq); err != nil {
		return err
	}
	settle(seq)
	return nil
}
