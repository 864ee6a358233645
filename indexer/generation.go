package indexer

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"sync"

	"github.com/blevesearch/bleve/v2/index/scorch"
	index "github.com/blevesearch/bleve_index_api"
)

// Keys of what an index says of itself, stored with every batch.
const (
	keySequence = "sequence" // last commit that is wholly in
	keyBatch    = "batch"    // number of the batch, growing by one
)

// batchSize is how many documents go into bleve at once: larger batches need
// memory in proportion and gain nothing.
const batchSize = 1000

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
func openGeneration(dir string) (g *generation, err error) {
	g = &generation{dir: dir, cols: newColumns(), queue: index.NewAnalysisQueue(analysisWorkers)}
	config := map[string]any{
		"path": dir, "unsafe_batch": true,
		// Closing flushes by itself: see flush.
		"bolt_timeout": "1s",
	}
	defer func() {
		// A cut or overwritten file can make the reader step outside its memory.
		if p := recover(); p != nil {
			err = fmt.Errorf("open index in %s: %v", dir, p)
		}
		if err != nil {
			g.release()
		}
	}()
	if g.bleve, err = scorch.NewScorch(scorch.Name, config, g.queue); err != nil {
		return nil, fmt.Errorf("make index: %w", err)
	}
	if err = g.bleve.Open(); err != nil {
		return nil, fmt.Errorf("open index: %w", err)
	}
	if err = g.load(); err != nil {
		return nil, err
	}
	return g, nil
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
		for it := seg.DocNumbersLive().Iterator(); it.HasNext(); {
			if err := g.loadRow(seg, uint64(it.Next())); err != nil {
				return err
			}
		}
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
// has them now; what is so already is left out.
func (g *generation) changes(ctx context.Context, src Source, seq int64, names []string) ([]change, error) {
	var out []change
	next := uint32(len(g.cols.names))
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
			ord = next
			next++
		}
		e.changed = seq
		out = append(out, change{ord: ord, entry: e})
	}
	return out, nil
}

// write brings changes into bleve; the last batch carries the sequence. A call
// that fails may be repeated. wait makes it return only once all is on disk.
func (g *generation) write(ctx context.Context, seq int64, changes []change, wait bool) error {
	persisted := make(chan error, 1)
	for {
		n := min(batchSize, len(changes))
		b := index.NewBatch()
		for _, c := range changes[:n] {
			if c.entry == nil {
				b.Delete(docID(c.ord))
			} else {
				b.Update(c.entry.document(c.ord))
			}
		}
		changes = changes[n:]
		g.next++
		b.SetInternal([]byte(keyBatch), binary.BigEndian.AppendUint64(nil, g.next))
		if len(changes) == 0 {
			b.SetInternal([]byte(keySequence), binary.BigEndian.AppendUint64(nil, uint64(seq)))
			if wait {
				b.SetPersistedCallback(func(err error) { persisted <- err })
			}
		}
		if err := g.bleve.Batch(b); err != nil {
			return fmt.Errorf("write index: %w", err)
		}
		if len(changes) == 0 {
			break
		}
	}
	if !wait {
		return nil
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
	err := g.write(ctx, g.seq, nil, true)
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

// segmentOrdinals keeps, for each segment of bleve, the ordinals of its
// documents: segments never change, so they are read once.
type segmentOrdinals struct {
	mu  sync.Mutex
	ids map[uint64][]uint32
}

// docs finds ordinals by the document numbers of one snapshot.
type docs struct {
	ends   []uint64
	tables [][]uint32
	i      int
}

// absent stands for the ordinal of a document that has none.
const absent = ^uint32(0)

// of makes the finder for a snapshot and forgets segments that are gone.
func (s *segmentOrdinals) of(snap *scorch.IndexSnapshot) (*docs, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	d := &docs{}
	kept := make(map[uint64][]uint32, len(s.ids))
	end := uint64(0)
	for _, seg := range snap.Segments() {
		table, ok := s.ids[seg.Id()]
		if !ok {
			var err error
			if table, err = readOrdinals(seg); err != nil {
				return nil, err
			}
		}
		kept[seg.Id()] = table
		end += uint64(len(table))
		d.ends = append(d.ends, end)
		d.tables = append(d.tables, table)
	}
	s.ids = kept
	return d, nil
}

func readOrdinals(seg *scorch.SegmentSnapshot) ([]uint32, error) {
	table := make([]uint32, seg.FullSize())
	for num := range table {
		id, err := seg.DocID(uint64(num))
		if err != nil {
			return nil, fmt.Errorf("read document id: %w", err)
		}
		ord, ok := ordinal(id)
		if !ok {
			ord = absent
		}
		table[num] = ord
	}
	return table, nil
}

// ordinal finds the ordinal of a document number. Numbers mostly rise, so the
// segment of the last one is tried first.
func (d *docs) ordinal(num uint64) uint32 {
	if d.i >= len(d.ends) || d.i > 0 && num < d.ends[d.i-1] {
		d.i = 0
	}
	for ; d.i < len(d.ends); d.i++ {
		if num < d.ends[d.i] {
			start := d.ends[d.i] - uint64(len(d.tables[d.i]))
			return d.tables[d.i][num-start]
		}
	}
	return absent
}
