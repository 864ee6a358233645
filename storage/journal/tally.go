package journal

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// tally adds up the hashes of all live records, in any order, so that the records of a checkpoint can be compared with those that the journal leads to without
// holding either. It finds accidents; what stands up to a forger is the manifest's hash in the journal.
type tally struct {
	records int64
	sum     [2]uint64
}

type recordHash [2]uint64

func hashRecord(c *pb.Change) (recordHash, error) {
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(c)
	if err != nil {
		return recordHash{}, fmt.Errorf("hash %s: %w", c.GetName(), err)
	}
	sum := sha256.Sum256(raw)
	return recordHash{binary.BigEndian.Uint64(sum[:8]), binary.BigEndian.Uint64(sum[8:16])}, nil
}

func (t *tally) add(h recordHash) {
	t.records++
	t.sum[0] += h[0]
	t.sum[1] += h[1]
}

func (t *tally) remove(h recordHash) {
	t.records--
	t.sum[0] -= h[0]
	t.sum[1] -= h[1]
}

// replayed tallies the records that a journal leads to; it takes about a hundred bytes of memory a record.
type replayed struct {
	tally
	live map[string]recordHash
}

// change replaces or ends a record.
func (r *replayed) change(c *pb.Change) error {
	if old, found := r.live[c.GetName()]; found {
		r.remove(old)
		delete(r.live, c.GetName())
	}
	if c.GetDeleted() {
		return nil
	}
	h, err := hashRecord(c)
	if err != nil {
		return err
	}
	r.live[c.GetName()] = h
	r.add(h)
	return nil
}
