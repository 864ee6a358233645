package indexer

import (
	"fmt"
	"sync"

	"github.com/blevesearch/bleve/v2/index/scorch"
)

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
