package journal

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"iter"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

const (
	partBytes = 4 << 20           // lines of a part before compression, about
	lineLimit = storage.MaxCreate // bytes of one line
	keptFully = 2                 // complete checkpoints that stay
)

// Checkpoint writes a checkpoint of the machine's state, records it in a commit, and removes checkpoints older than the two newest. It tells which commit the
// checkpoint holds.
func (l *Log) Checkpoint(ctx context.Context) (Position, error) {
	l.saving.Lock()
	defer l.saving.Unlock()
	if err := l.ReadOnly(); err != nil {
		return Position{}, err
	}
	at, mark, err := l.save(ctx)
	if err != nil {
		return Position{}, fmt.Errorf("checkpoint: %w", err)
	}
	if _, err := l.submit(ctx, &pending{mark: mark}); err != nil {
		return at, fmt.Errorf("record checkpoint of commit %d: %w", at.Seq, err)
	}
	if err := l.prune(ctx); err != nil {
		return at, fmt.Errorf("remove old checkpoints: %w", err)
	}
	return at, nil
}

// save writes the parts and then the manifest.
func (l *Log) save(ctx context.Context) (Position, *pb.CheckpointMark, error) {
	at, lines, release, err := l.machine.Snapshot(ctx)
	if err != nil {
		return Position{}, nil, err
	}
	defer release()
	name, err := randomHex(l.opts.Rand, 8)
	if err != nil {
		return Position{}, nil, err
	}
	folder := checkpointFolder(at.Seq, name)
	w := &partWriter{bucket: l.bucket, folder: folder, limit: l.partBytes, manifest: &pb.CheckpointManifest{
		Seq: at.Seq, Head: at.Head.String(), Time: timestamppb.New(at.Time), Schema: l.opts.Schema,
	}}
	if err := w.writeAll(ctx, lines); err != nil {
		return Position{}, nil, err
	}
	data, err := protojson.MarshalOptions{Multiline: true}.Marshal(w.manifest)
	if err != nil {
		return Position{}, nil, err
	}
	data = append(data, '\n')
	sum := storage.Digest(sha256.Sum256(data))
	if err := l.bucket.Put(ctx, folder+"/"+manifestName, bytes.NewReader(data), int64(len(data)), &sum); err != nil {
		return Position{}, nil, err
	}
	l.opts.Logger.InfoContext(ctx, "checkpoint written", "seq", at.Seq, "lines", w.manifest.GetLines(), "bytes", w.manifest.GetBytes())
	return at, &pb.CheckpointMark{Seq: at.Seq, Folder: folder, ManifestSha256: sum.String(), Bytes: w.manifest.GetBytes()}, nil
}

// partWriter writes lines into parts and lists them in the manifest.
type partWriter struct {
	bucket   storage.Bucket
	folder   string
	limit    int // bytes of lines after which a part ends
	manifest *pb.CheckpointManifest
	buf      bytes.Buffer
	zip      *gzip.Writer
	filled   int // bytes of lines in the part being filled
}

func (w *partWriter) writeAll(ctx context.Context, lines iter.Seq2[*pb.CheckpointLine, error]) error {
	w.zip = gzip.NewWriter(&w.buf)
	for line, err := range lines {
		if err != nil {
			return err
		}
		data, err := protojson.Marshal(line)
		if err != nil {
			return fmt.Errorf("encode line %d: %w", w.manifest.GetLines()+1, err)
		}
		if len(data) >= lineLimit {
			return fmt.Errorf("line %d takes %d bytes, the limit is %d", w.manifest.GetLines()+1, len(data), lineLimit)
		}
		if _, err := w.zip.Write(append(data, '\n')); err != nil {
			return err
		}
		w.filled += len(data) + 1
		w.manifest.Lines++
		if w.filled >= w.limit {
			if err := w.endPart(ctx); err != nil {
				return err
			}
		}
	}
	if w.filled > 0 {
		return w.endPart(ctx)
	}
	return nil
}

// endPart stores the part being filled.
func (w *partWriter) endPart(ctx context.Context) error {
	if err := w.zip.Close(); err != nil {
		return err
	}
	file := fmt.Sprintf("part-%03d.ndjson.gz", len(w.manifest.GetParts()))
	sum := storage.Digest(sha256.Sum256(w.buf.Bytes()))
	size := int64(w.buf.Len())
	if err := w.bucket.Put(ctx, w.folder+"/"+file, bytes.NewReader(w.buf.Bytes()), size, &sum); err != nil {
		return fmt.Errorf("part %s: %w", file, err)
	}
	w.manifest.Parts = append(w.manifest.Parts, &pb.CheckpointPart{File: file, Sha256: sum.String(), Size: size})
	w.manifest.Bytes += int64(w.filled)
	w.filled = 0
	w.buf.Reset()
	w.zip.Reset(&w.buf)
	return nil
}

// prune removes what is older than the newest checkpoints that stay, be it complete or left unfinished.
func (l *Log) prune(ctx context.Context) error {
	found, err := listCheckpoints(ctx, l.bucket)
	if err != nil {
		return err
	}
	complete := 0
	for _, c := range found { // newest first
		if complete >= keptFully {
			err = errors.Join(err, l.remove(ctx, c))
		}
		if c.complete {
			complete++
		}
	}
	return err
}

// remove deletes a checkpoint, the manifest first, so that what is left at any moment doesn't count.
func (l *Log) remove(ctx context.Context, c checkpointInfo) error {
	if err := l.bucket.Delete(ctx, c.folder+"/"+manifestName); err != nil {
		return err
	}
	var keys []string
	for info, err := range l.bucket.List(ctx, c.folder+"/", "") {
		if err != nil {
			return err
		}
		keys = append(keys, info.Key)
	}
	for _, key := range keys {
		if err := l.bucket.Delete(ctx, key); err != nil {
			return err
		}
	}
	return nil
}
