package journal

import (
	"bufio"
	"bytes"
	"cmp"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

const (
	checkpointPrefix = "checkpoints/"
	manifestName     = "manifest.json"
	manifestLimit    = 16 << 20 // bytes
	partLimit        = 64 << 20 // bytes of a part, compressed
	unpackedLimit    = 64 << 20 // bytes of a part, not compressed
)

// checkpointInfo is what a listing tells of a checkpoint.
type checkpointInfo struct {
	seq      int64
	folder   string
	complete bool // has a manifest
}

func checkpointFolder(seq int64, name string) string {
	return fmt.Sprintf("%s%020d/%s", checkpointPrefix, seq, name)
}

// parseCheckpointKey splits the key of an object of a checkpoint.
func parseCheckpointKey(key string) (seq int64, folder, file string, ok bool) {
	parts := strings.Split(key, "/")
	if len(parts) != 4 || parts[0]+"/" != checkpointPrefix || len(parts[1]) != 20 {
		return 0, "", "", false
	}
	seq, err := strconv.ParseInt(parts[1], 10, 64)
	return seq, checkpointFolder(seq, parts[2]), parts[3], err == nil && seq >= 0
}

// listCheckpoints finds the checkpoints, newest first, with what is left of unfinished ones.
func listCheckpoints(ctx context.Context, b storage.Bucket) ([]checkpointInfo, error) {
	var found []checkpointInfo
	for info, err := range b.List(ctx, checkpointPrefix, "") {
		if err != nil {
			return nil, fmt.Errorf("list checkpoints: %w", err)
		}
		seq, folder, file, ok := parseCheckpointKey(info.Key)
		if !ok {
			continue
		}
		if len(found) == 0 || found[len(found)-1].folder != folder {
			found = append(found, checkpointInfo{seq: seq, folder: folder})
		}
		if file == manifestName {
			found[len(found)-1].complete = true
		}
	}
	slices.SortStableFunc(found, func(a, b checkpointInfo) int { return cmp.Compare(b.seq, a.seq) })
	return found, nil
}

// readManifest reads a checkpoint's manifest, and gives the sha256 of its bytes.
func readManifest(ctx context.Context, b storage.Bucket, c checkpointInfo) (*pb.CheckpointManifest, storage.Digest, error) {
	data, err := readObject(ctx, b, c.folder+"/"+manifestName, manifestLimit)
	if err != nil {
		return nil, storage.Digest{}, err
	}
	sum := storage.Digest(sha256.Sum256(data))
	m := new(pb.CheckpointManifest)
	if err := (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal(data, m); err != nil {
		return nil, sum, fmt.Errorf("%w: %s/%s: %w", ErrCheckpoint, c.folder, manifestName, err)
	}
	if m.GetSeq() != c.seq || m.GetTime().CheckValid() != nil && m.GetSeq() > 0 {
		return nil, sum, fmt.Errorf("%w: %s/%s speaks of commit %d", ErrCheckpoint, c.folder, manifestName, m.GetSeq())
	}
	for _, p := range m.GetParts() {
		if storage.CheckKey(c.folder+"/"+p.GetFile()) != nil || strings.Contains(p.GetFile(), "/") || p.GetSize() < 0 || p.GetSize() > partLimit {
			return nil, sum, fmt.Errorf("%w: %s: part %q of %d bytes", ErrCheckpoint, c.folder, p.GetFile(), p.GetSize())
		}
	}
	return m, sum, nil
}

// checkpointLines yields a checkpoint's lines, each part verified before its first line. After an error it goes on with the next part, for whoever wants to
// know all that is wrong.
func checkpointLines(ctx context.Context, b storage.Bucket, folder string, m *pb.CheckpointManifest, known int32) iter.Seq2[*pb.CheckpointLine, error] {
	return func(yield func(*pb.CheckpointLine, error) bool) {
		read := func(ctx context.Context, p *pb.CheckpointPart) part {
			return readPart(ctx, b, folder, p, m.GetSchema() > known)
		}
		var lines, size int64
		good := true
		for p := range inOrder(ctx, decodeAhead, slices.Values(m.GetParts()), read) {
			if p.err != nil {
				good = false
				if !yield(nil, p.err) {
					return
				}
				continue
			}
			for _, line := range p.lines {
				if !yield(line, nil) {
					return
				}
			}
			lines += int64(len(p.lines))
			size += p.size
		}
		if good && (lines != m.GetLines() || size != m.GetBytes()) {
			yield(nil, fmt.Errorf("%w: %s has %d lines of %d bytes, its manifest says %d of %d", ErrCheckpoint, folder, lines, size, m.GetLines(), m.GetBytes()))
		}
	}
}

// decodeAhead is how many parts are read and decoded at once; each takes a few times partBytes of memory.
const decodeAhead = 3

// part is a part of a checkpoint, decoded.
type part struct {
	lines []*pb.CheckpointLine
	size  int64 // bytes of the lines
	err   error
}

// readPart reads, verifies and decodes one part.
func readPart(ctx context.Context, b storage.Bucket, folder string, p *pb.CheckpointPart, lenient bool) part {
	key := folder + "/" + p.GetFile()
	data, err := readObject(ctx, b, key, p.GetSize())
	if err != nil {
		return part{err: err}
	}
	if sum := storage.Digest(sha256.Sum256(data)); sum.String() != p.GetSha256() || int64(len(data)) != p.GetSize() {
		return part{err: fmt.Errorf("%w: %s has %d bytes of sha256 %v, its manifest says %d of %s", ErrCheckpoint, key, len(data), sum, p.GetSize(), p.GetSha256())}
	}
	lines, size, err := decodeLines(data, lenient)
	if err != nil {
		return part{err: fmt.Errorf("%w: %s: %w", ErrCheckpoint, key, err)}
	}
	return part{lines: lines, size: size}
}

// decodeLines unpacks gzip and decodes the lines in it.
func decodeLines(data []byte, lenient bool) (lines []*pb.CheckpointLine, size int64, err error) {
	unzip, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, 0, err
	}
	scan := bufio.NewScanner(unzip)
	scan.Buffer(make([]byte, 64<<10), lineLimit)
	options := protojson.UnmarshalOptions{DiscardUnknown: lenient}
	for scan.Scan() {
		line := new(pb.CheckpointLine)
		if err := options.Unmarshal(scan.Bytes(), line); err != nil {
			return nil, 0, fmt.Errorf("line %d: %w", len(lines)+1, err)
		}
		lines = append(lines, line)
		if size += int64(len(scan.Bytes())) + 1; size > unpackedLimit {
			return nil, 0, fmt.Errorf("unpacks to more than %d bytes", unpackedLimit)
		}
	}
	return lines, size, scan.Err()
}

// restoreCost is how many checkpoint lines are restored in the time that one commit takes to be read and durably applied, roughly.
const restoreCost = 300

// restore gives the machine the newest good checkpoint if that is quicker than the commits that it lacks.
func (l *Log) restore(ctx context.Context, kept []checkpointInfo) error {
	for _, c := range kept {
		seq, _ := l.machine.Applied()
		if !c.complete || c.seq <= seq {
			continue
		}
		err := l.restoreFrom(ctx, c, c.seq-seq)
		if err == nil {
			return nil
		}
		if errors.Is(err, errTruncated) {
			return fmt.Errorf("%w: %s holds commit %d, which the journal lacks", ErrBroken, c.folder, c.seq)
		}
		if ctx.Err() != nil || !damage(err) {
			return fmt.Errorf("restore %s: %w", c.folder, err)
		}
		l.opts.Logger.WarnContext(ctx, "checkpoint passed over", "folder", c.folder, "error", err)
	}
	return nil
}

// errTruncated: the journal ends before a checkpoint's commit. Writing on from there would give numbers away twice.
var errTruncated = errors.New("journal is truncated")

func (l *Log) restoreFrom(ctx context.Context, c checkpointInfo, behind int64) error {
	m, sum, err := readManifest(ctx, l.bucket, c)
	if err != nil {
		return err
	}
	if m.GetLines()/restoreCost > behind {
		return nil
	}
	at := Position{Seq: m.GetSeq()}
	if m.GetSeq() > 0 {
		commit, err := readCommit(ctx, l.bucket, m.GetSeq(), l.opts.Schema)
		if errors.Is(err, storage.ErrNotExist) {
			return errTruncated
		}
		if err != nil {
			return err
		}
		if at = commit.position(); at.Head.String() != m.GetHead() {
			return fmt.Errorf("%w: %s is of a commit %d with sha256 %s, the journal has %v", ErrCheckpoint, c.folder, m.GetSeq(), m.GetHead(), at.Head)
		}
	}
	if err := l.machine.Restore(ctx, at, checkpointLines(ctx, l.bucket, c.folder, m, l.opts.Schema)); err != nil {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.schema = max(l.schema, m.GetSchema())
	l.restored = &pb.CheckpointMark{Seq: m.GetSeq(), Folder: c.folder, ManifestSha256: sum.String()}
	return nil
}

// checkRestored compares the mark that a commit sets with the checkpoint that the state was restored from.
func (l *Log) checkRestored(c *Stored) error {
	mark := c.Commit.GetCheckpoint()
	if l.restored == nil || mark.GetFolder() != l.restored.GetFolder() || mark.GetManifestSha256() == l.restored.GetManifestSha256() {
		return nil
	}
	return fmt.Errorf("%w: the state was restored from %s, whose manifest isn't the one that commit %d recorded", ErrBroken, mark.GetFolder(), c.Commit.GetSeq())
}
