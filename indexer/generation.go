package indexer

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"

	"github.com/blevesearch/bleve/v2/index/scorch"
	index "github.com/blevesearch/bleve_index_api"
	segment "github.com/blevesearch/scorch_segment_api/v2"
)

// Keys of what an index says of itself, stored with every batch.
const (
	keySequence = "sequence" // last commit that is wholly in
	keyBatch    = "batch"    // number of the batch, growing by one
)

// defaultBatch is how many documents go into bleve at once: larger batches need
// memory in proportion and gain nothing.
const defaultBatch = 1000

// analysisWorkers turn documents into terms while a batch is made.
const analysisWorkers = 2

// generation is one index folder with its columns. Rebuilding makes a new one.
//
// Batches are bleve's "unsafe" ones: seen at once, on disk a moment later. What a
// crash loses is whole batches from the end together with the sequence number
// they carried, so that the index comes back as it was after an earlier commit
// and the journal is applied again from there.
type generation struct {
	dir   string
	bleve index.Index
	queue *index.AnalysisQueue
	cols  *columns
	seq   int64
	batch uint64 // of the columns
	next  uint64 // of bleve; ahead of batch while a commit is brought in

	// held is the reader that fits the columns while a commit is brought in.
	held *scorch.IndexSnapshot

	ordinals segmentOrdinals
}

// openGeneration opens a folder or makes an empty one, and reads its columns.
func openGeneration(dir string) (*generation, error) {
	g := &generation{dir: dir, cols: newColumns(), queue: index.NewAnalysisQueue(analysisWorkers)}
	if err := g.open(); err != nil {
		return nil, errors.Join(fmt.Errorf("open index in %s: %w", filepath.Base(dir), err), g.release())
	}
	return g, nil
}

// open opens bleve and reads the columns. A damaged file can make bleve step
// outside its memory: that is an error like others.
func (g *generation) open() (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("bleve: %v", p)
		}
	}()
	config := map[string]any{"path": g.dir, "unsafe_batch": true, "bolt_timeout": "1s"}
	if g.bleve, err = scorch.NewScorch(scorch.Name, config, g.queue); err != nil {
		return err
	}
	if err = g.bleve.Open(); err != nil {
		g.bleve = nil // it closed itself
		return err
	}
	return g.load()
}

// load reads sequence and columns from the stored rows.
func (g *generation) load() error {
	snap, err := g.snapshot()
	if err != nil {
		return err
	}
	defer func() { _ = snap.Close() }() // only drops a reference
	seq, err := internal(snap, keySequence)
	if err != nil {
		return err
	}
	g.seq = int64(seq)
	if g.batch, err = internal(snap, keyBatch); err != nil {
		return err
	}
	g.next = g.batch
	for _, seg := range snap.Segments() {
		if err := intact(seg); err != nil {
			return err
		}
		for it := seg.DocNumbersLive().Iterator(); it.HasNext(); {
			if err := g.loadRow(seg, uint64(it.Next())); err != nil {
				return err
			}
		}
	}
	return nil
}

// intact checks a segment's file against the checksum at its end, which bleve
// writes (CRC-32 of all before it) but doesn't read.
func intact(seg *scorch.SegmentSnapshot) error {
	file, ok := seg.Segment().(segment.PersistedSegment)
	if !ok {
		return nil // in memory
	}
	b, err := os.Open(file.Path())
	if err != nil {
		return fmt.Errorf("check segment: %w", err)
	}
	defer func() { _ = b.Close() }() // only read
	sum := crc32.NewIEEE()
	info, err := b.Stat()
	if err == nil {
		_, err = io.CopyN(sum, b, info.Size()-crc32.Size)
	}
	var stored [crc32.Size]byte
	if err == nil {
		_, err = io.ReadFull(b, stored[:])
	}
	if err != nil {
		return fmt.Errorf("check segment: %w", err)
	}
	if binary.BigEndian.Uint32(stored[:]) != sum.Sum32() {
		return fmt.Errorf("segment %s doesn't agree with its checksum", filepath.Base(file.Path()))
	}
	return nil
}

func (g *generation) loadRow(seg *scorch.SegmentSnapshot, num uint64) error {
	var r *row
	var ord uint32
	var known bool
	err := seg.VisitDocument(num, func(field string, _ byte, value []byte, _ []uint64) bool {
		switch field {
		case "_id":
			ord, known = ordinal(value)
		case fieldRow:
			r, _ = readRow(value) // a nil row is reported below
		}
		return true
	})
	if err != nil {
		return fmt.Errorf("read stored row: %w", err)
	}
	if r == nil || !known {
		return errRow
	}
	g.cols.put(ord, r)
	return nil
}

func internal(snap *scorch.IndexSnapshot, key string) (uint64, error) {
	b, err := snap.GetInternal([]byte(key))
	if err != nil {
		return 0, fmt.Errorf("read %s: %w", key, err)
	}
	switch len(b) {
	case 0:
		return 0, nil
	case 8:
		return binary.BigEndian.Uint64(b), nil
	default:
		return 0, fmt.Errorf("%s has %d bytes: %w", key, len(b), errRow)
	}
}

// snapshot is bleve's newest state; the caller closes it.
func (g *generation) snapshot() (*scorch.IndexSnapshot, error) {
	r, err := g.bleve.Reader()
	if err != nil {
		return nil, fmt.Errorf("read index: %w", err)
	}
	snap, ok := r.(*scorch.IndexSnapshot)
	if !ok {
		return nil, errors.Join(fmt.Errorf("reader is a %T", r), r.Close())
	}
	return snap, nil
}

// view is the snapshot that fits the columns; the caller holds the index's read
// lock and calls done.
func (g *generation) view() (snap *scorch.IndexSnapshot, done func(), err error) {
	snap, err = g.snapshot()
	if err != nil {
		return nil, nil, err
	}
	if n, err := internal(snap, keyBatch); err == nil && n == g.batch {
		return snap, func() { _ = snap.Close() }, nil // only drops a reference
	}
	if err := snap.Close(); err != nil {
		return nil, nil, fmt.Errorf("close reader: %w", err)
	}
	if g.held == nil {
		return nil, nil, errors.New("index and columns differ")
	}
	return g.held, func() {}, nil
}

// change is what becomes of one ordinal: a new entry, or none.
type change struct {
	ord   uint32
	entry *entry
}

// changes finds what must be written so that these pictures are as the source
// has them now; what is so already is left out. New pictures get ordinals from
// next on.
func (g *generation) changes(ctx context.Context, src Source, seq int64, names []string, next *uint32) ([]change, error) {
	var out []change
	for _, name := range names {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		ord, had := g.cols.byName[name]
		p, ok := src.Picture(name)
		if !ok {
			if had {
				out = append(out, change{ord: ord})
			}
			continue
		}
		e := derive(p, src)
		e.digest = e.sum()
		if had && g.cols.digest[ord] == e.digest {
			continue
		}
		if !had {
			ord = *next
			*next++
		}
		e.changed = seq
		out = append(out, change{ord: ord, entry: e})
	}
	return out, nil
}

// write brings a batch of changes into bleve. The last batch of a commit carries
// its sequence; before that, zero is given. A batch that failed may be repeated.
// The texts of the entries are gone afterwards.
func (g *generation) write(changes []change, seq int64, persisted func(error)) error {
	b := index.NewBatch()
	for _, c := range changes {
		if c.entry == nil {
			b.Delete(docID(c.ord))
			continue
		}
		b.Update(c.entry.document(c.ord))
		c.entry.texts = [textCount][]string{}
	}
	g.next++
	b.SetInternal([]byte(keyBatch), binary.BigEndian.AppendUint64(nil, g.next))
	if seq > 0 {
		b.SetInternal([]byte(keySequence), binary.BigEndian.AppendUint64(nil, uint64(seq)))
	}
	if persisted != nil {
		b.SetPersistedCallback(persisted)
	}
	if err := g.bleve.Batch(b); err != nil {
		return fmt.Errorf("write index: %w", err)
	}
	return nil
}

// flush writes changes as the last of a commit and returns when all is on disk.
func (g *generation) flush(ctx context.Context, changes []change, seq int64) error {
	persisted := make(chan error, 1)
	if err := g.write(changes, seq, func(err error) { persisted <- err }); err != nil {
		return err
	}
	select {
	case err := <-persisted:
		if err != nil {
			return fmt.Errorf("flush index: %w", err)
		}
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// settle makes written changes those of the columns; the caller holds the
// index's lock.
func (g *generation) settle(seq int64, changes []change) {
	for _, c := range changes {
		if c.entry == nil {
			g.cols.drop(c.ord)
		} else {
			g.cols.put(c.ord, &c.entry.row)
		}
	}
	g.seq = seq
	g.batch = g.next
	g.letGo()
}

// hold keeps the reader that fits the columns; the caller holds the index's lock.
func (g *generation) hold() error {
	if g.held != nil {
		return nil // an earlier commit failed half-way: that reader still fits
	}
	snap, err := g.snapshot()
	g.held = snap
	return err
}

func (g *generation) letGo() {
	if g.held != nil {
		_ = g.held.Close() // only drops a reference
		g.held = nil
	}
}

// close flushes and releases the folder.
func (g *generation) close(ctx context.Context) error {
	// Unsafe batches may still be in memory: an empty one that waits is the last.
	err := g.flush(ctx, nil, g.seq)
	return errors.Join(err, g.release())
}

func (g *generation) release() error {
	g.letGo()
	var err error
	if g.bleve != nil {
		if err = g.bleve.Close(); err != nil {
			err = fmt.Errorf("close index: %w", err)
		}
	}
	g.queue.Close()
	return err
}
