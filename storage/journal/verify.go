package journal

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"iter"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// VerifyOptions of Verify.
type VerifyOptions struct {
	// Head was published earlier; with it a truncated or wholly rewritten journal is noticed. Nil for none.
	Head *Position
	// Schema is the highest schema level known, default 1: commits above it may have fields unknown to this program.
	Schema int32
	// Visit sees each readable commit in order, as for collecting the originals that they name. Its error ends the walk. May be nil.
	Visit func(*Stored) error
	// Report is told now and then how far the walk has come. May be nil.
	Report func(Progress)
}

// Progress tells how far Verify has come.
type Progress struct {
	Seq        int64  // the last commit read
	Checkpoint string // folder of the checkpoint being read, empty before the first
	Lines      int64  // read of it
}

// reportEvery is how many commits or lines pass between two reports.
const reportEvery = 1000

// Verify walks the whole journal and the checkpoints, and reports all that is wrong with them, not only the first. The error is for a walk that couldn't be
// finished, as when the store fails; damage is in the summary.
func Verify(ctx context.Context, bucket storage.Bucket, o VerifyOptions) (Summary, error) {
	if o.Schema == 0 {
		o.Schema = 1
	}
	if o.Report == nil {
		o.Report = func(Progress) {}
	}
	v := &verifier{bucket: bucket, opts: o, marks: map[string]*pb.CheckpointMark{}, states: map[int64]*stateAt{}, records: replayed{live: map[string]recordHash{}}}
	for _, step := range []func(context.Context) error{v.format, v.manifests, v.journal, v.ends, v.checkpoints} {
		if err := step(ctx); err != nil {
			return v.sum, fmt.Errorf("verify: %w", err)
		}
	}
	return v.sum, nil
}

type verifier struct {
	bucket   storage.Bucket
	opts     VerifyOptions
	sum      Summary
	complete []*completeCheckpoint
	marks    map[string]*pb.CheckpointMark // by folder
	states   map[int64]*stateAt            // at the commits that checkpoints hold, filled on the walk
	records  replayed                      // of the journal so far, up to the last checkpoint
	torn     bool                          // some commit is missing or unreadable, so that records lacks something
	prev     rawCommit                     // the commit walked last
	last     *pb.Commit                    // the last readable one
}

// stateAt is what the journal says about the state after a commit.
type stateAt struct {
	digest  storage.Digest // zero while the commit hasn't been met
	records *tally         // nil if not known
}

func (v *verifier) format(ctx context.Context) error {
	f, err := readFormat(ctx, v.bucket)
	if errors.Is(err, ErrFormat) || err != nil && damage(err) {
		v.sum.found(FormatBad, 0, formatKey, "%v", err)
		return nil
	}
	v.sum.ArchiveID = f.GetArchiveId()
	return err
}

// rawCommit is a commit's object.
type rawCommit struct {
	seq  int64
	data []byte
	sum  storage.Digest
	err  error
}

func (v *verifier) journal(ctx context.Context) error {
	var listing error
	read := func(ctx context.Context, seq int64) rawCommit {
		data, err := readObject(ctx, v.bucket, commitKey(seq), storage.MaxCreate)
		return rawCommit{seq, data, sha256.Sum256(data), err}
	}
	for raw := range inOrder(ctx, readAhead, v.listed(ctx, &listing), read) {
		if raw.err != nil && !damage(raw.err) {
			return raw.err
		}
		if err := v.commit(raw); err != nil {
			return err
		}
	}
	return listing
}

// listed yields the numbers of the commits that are there, and sets failed if the listing fails.
func (v *verifier) listed(ctx context.Context, failed *error) iter.Seq[int64] {
	return func(yield func(int64) bool) {
		for info, err := range v.bucket.List(ctx, journalPrefix, "") {
			if err != nil {
				*failed = err
				return
			}
			seq, ok := parseCommitKey(info.Key)
			if !ok {
				v.sum.found(Stray, 0, info.Key, "its name isn't a commit's")
				continue
			}
			if !yield(seq) {
				return
			}
		}
	}
}

// commit checks one commit against what came before.
func (v *verifier) commit(raw rawCommit) error {
	key := commitKey(raw.seq)
	defer func() { v.prev = raw }()
	if missing := raw.seq - v.prev.seq - 1; missing > 0 {
		v.torn = true
		v.sum.found(Gap, v.prev.seq+1, "", "%d missing before commit %d", missing, raw.seq)
	}
	if raw.err != nil {
		v.torn = true
		v.sum.found(Unreadable, raw.seq, key, "%v", raw.err)
		return nil
	}
	v.sum.Commits++
	v.sum.Bytes += int64(len(raw.data))
	if at := v.states[raw.seq]; at != nil {
		at.digest = raw.sum
	}
	v.sum.Head = Position{Seq: raw.seq, Head: raw.sum}
	if h := v.opts.Head; h != nil && h.Seq == raw.seq && h.Head != raw.sum {
		v.sum.found(Altered, raw.seq, key, "sha256 is %v, published was %v", raw.sum, h.Head)
	}
	c, err := decodeCommit(raw.seq, raw.data, v.opts.Schema)
	if err != nil {
		v.torn = true
		v.sum.found(Unreadable, raw.seq, key, "%v", err)
		return nil
	}
	v.sum.Head = c.position()
	v.link(raw.seq, key, c.Commit)
	v.last = c.Commit
	if err := v.replay(c.Commit); err != nil {
		return err
	}
	return v.visit(c)
}

// replay follows the records as far as there are checkpoints to compare them with.
func (v *verifier) replay(c *pb.Commit) error {
	if v.torn || len(v.complete) == 0 || c.GetSeq() > v.complete[0].seq { // newest first
		return nil
	}
	for _, t := range c.GetTransactions() {
		for _, change := range t.GetChanges() {
			if err := v.records.change(change); err != nil {
				return err
			}
		}
	}
	if at := v.states[c.GetSeq()]; at != nil {
		records := v.records.tally
		at.records = &records
	}
	return nil
}

// link compares a commit with its predecessor.
func (v *verifier) link(seq int64, key string, c *pb.Commit) {
	want := ""
	if v.prev.seq > 0 {
		want = v.prev.sum.String()
	}
	if known := v.prev.seq == seq-1 && v.prev.err == nil; known && c.GetPrev() != want {
		v.sum.found(BrokenLink, seq, key, "it follows sha256 %q, but commit %d has %q", c.GetPrev(), seq-1, want)
	}
	if v.last == nil {
		return
	}
	if c.GetTime().AsTime().Before(v.last.GetTime().AsTime()) {
		v.sum.found(OutOfOrder, seq, key, "dated %v, commit %d %v", c.GetTime().AsTime(), v.last.GetSeq(), v.last.GetTime().AsTime())
	}
	if c.GetSchema() < v.last.GetSchema() {
		v.sum.found(OutOfOrder, seq, key, "schema level %d, commit %d has %d", c.GetSchema(), v.last.GetSeq(), v.last.GetSchema())
	}
}

// visit counts a readable commit and shows it round.
func (v *verifier) visit(c *Stored) error {
	for _, t := range c.Commit.GetTransactions() {
		v.sum.Transactions++
		v.sum.Changes += int64(len(t.GetChanges()))
	}
	if mark := c.Commit.GetCheckpoint(); mark != nil {
		v.marks[mark.GetFolder()] = mark
	}
	if c.Commit.GetSeq()%reportEvery == 0 {
		v.opts.Report(Progress{Seq: c.Commit.GetSeq()})
	}
	if v.opts.Visit != nil {
		return v.opts.Visit(c)
	}
	return nil
}

// ends compares the end of the journal with what is known to have been there.
func (v *verifier) ends(context.Context) error {
	if h := v.opts.Head; h != nil && h.Seq > v.prev.seq {
		v.sum.found(Truncated, v.prev.seq+1, "", "the journal ends at commit %d, published was commit %d", v.prev.seq, h.Seq)
	}
	for _, c := range v.complete {
		if c.seq > v.prev.seq {
			v.sum.found(Truncated, v.prev.seq+1, "", "the journal ends at commit %d, %s holds commit %d", v.prev.seq, c.folder, c.seq)
		}
	}
	return nil
}
