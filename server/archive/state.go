package archive

import (
	"encoding/binary"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/journal"
)

// stateVersion is the layout of the local record store. A store of another layout, or filled by a program that knew another level of the record
// schema and so may have dropped fields, is thrown away and filled again from the bucket.
const stateVersion = 1

// versionMark tells which program filled the store.
func versionMark() []byte {
	return binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, stateVersion), Schema)
}

// answeredFor is how long a request id is remembered.
const answeredFor = 30 * 24 * time.Hour

// Buckets of the local record store.
var (
	metaBucket     = []byte("meta")     // position, archive id, version, live records by collection
	recordBucket   = []byte("records")  // name -> pb.Change
	tombBucket     = []byte("tombs")    // name -> pb.Tombstone
	refBucket      = []byte("refs")     // target \x00 source -> nothing
	historyBucket  = []byte("history")  // name \x00 seq -> nothing
	answeredBucket = []byte("answered") // request id -> pb.Answered
	agedBucket     = []byte("aged")     // time, request id -> nothing
	originalBucket = []byte("original") // sha256 hex -> seq of the commit that announced its sweeping, 0 for none
	allBuckets     = [][]byte{metaBucket, recordBucket, tombBucket, refBucket, historyBucket, answeredBucket, agedBucket, originalBucket}
)

// state is the record store inside one transaction: records with what is derived from them.
type state struct {
	tx *bolt.Tx
}

func (s state) bucket(name []byte) *bolt.Bucket { return s.tx.Bucket(name) }

// get returns a record as stored, or nil.
func (s state) get(name string) (Record, error) {
	c, err := s.change(name)
	if c == nil || err != nil {
		return nil, err
	}
	return recordOf(c), nil
}

func (s state) change(name string) (*pb.Change, error) {
	b := s.bucket(recordBucket).Get([]byte(name))
	if b == nil {
		return nil, nil
	}
	c := new(pb.Change)
	if err := proto.Unmarshal(b, c); err != nil {
		return nil, fmt.Errorf("read %s from the local store: %w", name, err)
	}
	return c, nil
}

// apply makes one change: the record, its reverse references, the originals it names, the number of records.
func (s state) apply(c *pb.Change, seq int64) error {
	old, err := s.get(c.GetName())
	if err != nil {
		return err
	}
	now := recordOf(c)
	if err := s.replaceRefs(c.GetName(), old, now); err != nil {
		return err
	}
	if err := s.countRecord(c.GetName(), old, now); err != nil {
		return err
	}
	key := []byte(c.GetName())
	if now == nil {
		if err := s.bucket(recordBucket).Delete(key); err != nil {
			return err
		}
		var revision int64
		if old != nil {
			revision = old.GetRevision()
		}
		return s.putProto(tombBucket, key, &pb.Tombstone{Name: c.GetName(), Revision: revision, Seq: seq})
	}
	for _, sum := range originalsOf(now) {
		if err := s.bucket(originalBucket).Put([]byte(sum), make([]byte, 8)); err != nil {
			return err
		}
	}
	if err := s.bucket(tombBucket).Delete(key); err != nil {
		return err
	}
	return s.putProto(recordBucket, key, c)
}

func (s state) putProto(bucket, key []byte, m proto.Message) error {
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	if err != nil {
		return err
	}
	return s.bucket(bucket).Put(key, b)
}

// restore gives a key its earlier value back; nil for none.
func (s state) restore(bucket, key, value []byte) error {
	if value == nil {
		return s.bucket(bucket).Delete(key)
	}
	return s.bucket(bucket).Put(key, value)
}

func (s state) replaceRefs(name string, old, now Record) error {
	refs := s.bucket(refBucket)
	before := map[string]bool{}
	if old != nil {
		for _, target := range refsOf(old) {
			before[target] = true
		}
	}
	if now != nil {
		for _, target := range refsOf(now) {
			if before[target] {
				delete(before, target)
				continue
			}
			if err := refs.Put(refKey(target, name), nil); err != nil {
				return err
			}
		}
	}
	for target := range before {
		if err := refs.Delete(refKey(target, name)); err != nil {
			return err
		}
	}
	return nil
}

func (s state) countRecord(name string, old, now Record) error {
	if (old == nil) == (now == nil) {
		return nil
	}
	collection, _, ok := SplitName(name)
	if !ok {
		return fmt.Errorf("journal holds a record named %q", name)
	}
	n := s.count(collection)
	if now != nil {
		n++
	} else {
		n--
	}
	key := []byte("count/" + collection)
	if n == 0 {
		return s.bucket(metaBucket).Delete(key) // as if there never had been one, as a checkpoint has it
	}
	return s.bucket(metaBucket).Put(key, binary.BigEndian.AppendUint64(nil, uint64(n)))
}

func (s state) count(collection string) int64 {
	b := s.bucket(metaBucket).Get([]byte("count/" + collection))
	if len(b) != 8 {
		return 0
	}
	return int64(binary.BigEndian.Uint64(b))
}

func refKey(target, source string) []byte { return []byte(target + "\x00" + source) }

// referrers yields the names of records that name target, in order of name, until yield returns false.
func (s state) referrers(target string, yield func(source string) bool) {
	prefix := []byte(target + "\x00")
	c := s.bucket(refBucket).Cursor()
	for k, _ := c.Seek(prefix); len(k) > len(prefix) && string(k[:len(prefix)]) == string(prefix); k, _ = c.Next() {
		if !yield(string(k[len(prefix):])) {
			return
		}
	}
}

// note files a commit under the records it changed and remembers its requests.
func (s state) note(seq int64, at time.Time, txs []*pb.Transaction) error {
	for _, t := range txs {
		answered := &pb.Answered{RequestId: t.GetRequestId(), Seq: seq, Time: timestamppb.New(at), Method: t.GetMethod(), Fingerprint: t.GetFingerprint(), Actor: t.GetActor()}
		for _, c := range t.GetChanges() {
			if err := s.bucket(historyBucket).Put(historyKey(c.GetName(), seq), nil); err != nil {
				return err
			}
			rev := &pb.RecordRevision{Name: c.GetName()}
			if r := recordOf(c); r != nil {
				rev.Revision = r.GetRevision()
			}
			answered.Records = append(answered.Records, rev)
		}
		if err := s.remember(answered); err != nil {
			return err
		}
	}
	return s.forgetAnswered(at.Add(-answeredFor))
}

func historyKey(name string, seq int64) []byte {
	return binary.BigEndian.AppendUint64([]byte(name+"\x00"), uint64(seq))
}

func agedKey(at time.Time, id string) []byte {
	return append(binary.BigEndian.AppendUint64(nil, uint64(at.UnixNano())), id...)
}

func (s state) remember(a *pb.Answered) error {
	if a.GetRequestId() == "" {
		return nil
	}
	if err := s.putProto(answeredBucket, []byte(a.GetRequestId()), a); err != nil {
		return err
	}
	return s.bucket(agedBucket).Put(agedKey(a.GetTime().AsTime(), a.GetRequestId()), nil)
}

func (s state) forgetAnswered(before time.Time) error {
	limit := agedKey(before, "")
	c := s.bucket(agedBucket).Cursor()
	var gone [][]byte
	for k, _ := c.First(); k != nil && string(k) < string(limit); k, _ = c.Next() {
		gone = append(gone, append([]byte(nil), k...))
	}
	for _, k := range gone {
		if err := s.bucket(agedBucket).Delete(k); err != nil {
			return err
		}
		if err := s.bucket(answeredBucket).Delete(k[8:]); err != nil {
			return err
		}
	}
	return nil
}

// answered returns the outcome of an earlier request with this id, or nil.
func (s state) answered(id string) (*pb.Answered, error) {
	b := s.bucket(answeredBucket).Get([]byte(id))
	if b == nil {
		return nil, nil
	}
	a := new(pb.Answered)
	if err := proto.Unmarshal(b, a); err != nil {
		return nil, fmt.Errorf("read request %s from the local store: %w", id, err)
	}
	return a, nil
}

func (s state) setPosition(p journal.Position) error {
	b := binary.BigEndian.AppendUint64(nil, uint64(p.Seq))
	b = append(b, p.Head[:]...)
	b = binary.BigEndian.AppendUint64(b, uint64(p.Time.UnixNano()))
	return s.bucket(metaBucket).Put([]byte("position"), b)
}

func (s state) position() journal.Position {
	b := s.bucket(metaBucket).Get([]byte("position"))
	if len(b) != 8+len(storage.Digest{})+8 {
		return journal.Position{}
	}
	p := journal.Position{Seq: int64(binary.BigEndian.Uint64(b))}
	copy(p.Head[:], b[8:])
	p.Time = time.Unix(0, int64(binary.BigEndian.Uint64(b[8+len(p.Head):]))).UTC()
	return p
}
