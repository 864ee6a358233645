package journal

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strconv"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

const journalPrefix = "journal/"

// commitKey is where commit seq stands: its number in 20 digits, so that keys sort as numbers do.
func commitKey(seq int64) string { return fmt.Sprintf("%s%020d.json", journalPrefix, seq) }

// parseCommitKey gives the number in a commit's key.
func parseCommitKey(key string) (int64, bool) {
	digits, found := strings.CutSuffix(strings.TrimPrefix(key, journalPrefix), ".json")
	if !found || len(digits) != 20 {
		return 0, false
	}
	seq, err := strconv.ParseInt(digits, 10, 64)
	return seq, err == nil && seq > 0 && commitKey(seq) == key
}

// encodeCommit renders a commit from its head, which has no transactions, and transactions rendered before, one a line. Rendering them apart
// makes their sizes known while a commit is filled, and renders none twice.
func encodeCommit(head *pb.Commit, transactions [][]byte) ([]byte, error) {
	data, err := protojson.Marshal(head)
	if err != nil {
		return nil, fmt.Errorf("encode commit %d: %w", head.GetSeq(), err)
	}
	if len(transactions) == 0 {
		return append(data, '\n'), nil
	}
	size := len(data) + 32
	for _, t := range transactions {
		size += len(t) + 2
	}
	out := bytes.NewBuffer(make([]byte, 0, size))
	out.Write(bytes.TrimSuffix(data, []byte("}")))
	out.WriteString(",\"transactions\":[\n")
	for i, t := range transactions {
		if i > 0 {
			out.WriteString(",\n")
		}
		out.Write(t)
	}
	out.WriteString("\n]}\n")
	return out.Bytes(), nil
}

// decodeCommit reads a commit stored under number seq. Fields unknown to this program are tolerated only where the commit states a schema level above known.
func decodeCommit(seq int64, data []byte, known int32) (*Stored, error) {
	c := new(pb.Commit)
	if err := protojson.Unmarshal(data, c); err != nil {
		c = new(pb.Commit)
		lenient := protojson.UnmarshalOptions{DiscardUnknown: true}
		if lenient.Unmarshal(data, c) != nil || c.GetSchema() <= known {
			return nil, fmt.Errorf("%w: commit %d can't be read: %w", ErrBroken, seq, err)
		}
	}
	if c.GetSeq() != seq {
		return nil, fmt.Errorf("%w: the object of commit %d says that it is commit %d", ErrBroken, seq, c.GetSeq())
	}
	if err := c.GetTime().CheckValid(); err != nil {
		return nil, fmt.Errorf("%w: time of commit %d: %w", ErrBroken, seq, err)
	}
	return &Stored{Commit: c, Digest: sha256.Sum256(data), Size: len(data)}, nil
}

// checkLink says whether c can follow after prev, wrapping ErrBroken when not.
func checkLink(prev Position, c *Stored) error {
	want := ""
	if prev.Seq > 0 {
		want = prev.Head.String()
	}
	switch {
	case c.Commit.GetSeq() != prev.Seq+1:
		return fmt.Errorf("%w: commit %d found after %d", ErrBroken, c.Commit.GetSeq(), prev.Seq)
	case c.Commit.GetPrev() != want:
		return fmt.Errorf("%w: commit %d follows bytes of sha256 %q, but commit %d has %q", ErrBroken, c.Commit.GetSeq(), c.Commit.GetPrev(), prev.Seq, want)
	case c.Commit.GetTime().AsTime().Before(prev.Time):
		return fmt.Errorf("%w: commit %d is dated before commit %d", ErrBroken, c.Commit.GetSeq(), prev.Seq)
	}
	return nil
}

// readObject reads a whole object of at most limit bytes.
func readObject(ctx context.Context, b storage.Bucket, key string, limit int64) ([]byte, error) {
	r, err := b.Open(ctx, key, 0, limit+1)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", key, err)
	}
	data, err := io.ReadAll(r)
	if cerr := r.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", key, err)
	}
	if int64(len(data)) > limit {
		return nil, fmt.Errorf("%w: %s is longer than %d bytes", ErrBroken, key, limit)
	}
	return data, nil
}

// readCommit reads and decodes commit seq.
func readCommit(ctx context.Context, b storage.Bucket, seq int64, known int32) (*Stored, error) {
	data, err := readObject(ctx, b, commitKey(seq), storage.MaxCreate)
	if err != nil {
		return nil, err
	}
	return decodeCommit(seq, data, known)
}

// randomHex gives n random bytes as hex.
func randomHex(source io.Reader, n int) (string, error) {
	raw := make([]byte, n)
	if _, err := io.ReadFull(source, raw); err != nil {
		return "", fmt.Errorf("random source: %w", err)
	}
	return hex.EncodeToString(raw), nil
}
