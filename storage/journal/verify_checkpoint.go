package journal

import (
	"context"
	"errors"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// completeCheckpoint is a checkpoint whose manifest was read.
type completeCheckpoint struct {
	checkpointInfo
	manifest *pb.CheckpointManifest
	sum      storage.Digest
}

// manifests reads the manifests before the journal, so that a journal that ends before one of them was cut.
func (v *verifier) manifests(ctx context.Context) error {
	found, err := listCheckpoints(ctx, v.bucket)
	if err != nil {
		return err
	}
	for _, c := range found {
		if !c.complete {
			v.sum.Unfinished++
			continue
		}
		m, sum, err := readManifest(ctx, v.bucket, c)
		if err != nil && !damage(err) {
			return err
		}
		if err != nil {
			v.sum.found(CheckpointBad, c.seq, c.folder+"/"+manifestName, "%v", err)
			continue
		}
		v.sum.Checkpoints++
		v.complete = append(v.complete, &completeCheckpoint{c, m, sum})
		v.states[c.seq] = new(stateAt)
	}
	return nil
}

// checkpoints compares each checkpoint with the journal, and reads it whole.
func (v *verifier) checkpoints(ctx context.Context) error {
	for _, c := range v.complete {
		key := c.folder + "/" + manifestName
		if mark := v.marks[c.folder]; mark == nil {
			v.sum.Unrecorded++
		} else if mark.GetManifestSha256() != c.sum.String() {
			v.sum.found(CheckpointBad, c.seq, key, "sha256 is %v, the journal recorded %s", c.sum, mark.GetManifestSha256())
		}
		if there := v.states[c.seq].digest; there != (storage.Digest{}) && there.String() != c.manifest.GetHead() {
			v.sum.found(CheckpointBad, c.seq, key, "it is of a commit with sha256 %s, the journal has %v", c.manifest.GetHead(), there)
		}
		if err := v.lines(ctx, c); err != nil {
			return err
		}
	}
	return nil
}

// lines reads a checkpoint whole. One that is removed meanwhile, because two newer ones are complete, is forgotten.
func (v *verifier) lines(ctx context.Context, c *completeCheckpoint) error {
	progress, before := Progress{Seq: v.prev.seq, Checkpoint: c.folder}, len(v.sum.Findings)
	var records tally
	for line, err := range checkpointLines(ctx, v.bucket, c.folder, c.manifest, v.opts.Schema) {
		if err != nil && !damage(err) {
			return err
		}
		if err != nil {
			v.sum.found(CheckpointBad, c.seq, c.folder, "%v", err)
			continue
		}
		if record := line.GetRecord(); record != nil {
			h, err := hashRecord(record)
			if err != nil {
				return err
			}
			records.add(h)
		}
		if progress.Lines++; progress.Lines%reportEvery == 0 {
			v.opts.Report(progress)
		}
	}
	v.opts.Report(progress)
	if want := v.states[c.seq].records; want != nil && len(v.sum.Findings) == before && records != *want {
		v.sum.found(CheckpointBad, c.seq, c.folder, "its %d records aren't the %d that the journal leads to", records.records, want.records)
	}
	if len(v.sum.Findings) > before {
		_, err := v.bucket.Stat(ctx, c.folder+"/"+manifestName)
		if errors.Is(err, storage.ErrNotExist) {
			v.sum.Findings = v.sum.Findings[:before]
			v.sum.Checkpoints--
			return nil
		}
		return err
	}
	return nil
}
