// Package preview makes the derived images of originals behind the writes: a record is acknowledged when original and record are durable, and
// its previews follow.
//
// Invariants: what is derived lies at derived/<sha256>/ with its record derived.json written last, so that a record means that the previews are there; a file that can't be decoded gets a record that
// says why; all of it can be deleted and is made again at the next start. The queue itself is kept nowhere: at start it is what the bucket lacks.
//
// Left out: decoding (storage/imaging).
package preview

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"path"
	"strings"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/imaging"
	"platarium/storage/original"
)

const (
	prefix       = "derived/"
	infoMax      = 1 << 20 // bytes of a record
	tries        = 3       // of an original whose derivation fails for reasons that aren't its own
	firstPause   = time.Second
	longestPause = time.Minute
)

// Queue makes previews. Its methods may be called concurrently.
type Queue struct {
	bucket    storage.Bucket
	originals *original.Store
	runner    *imaging.Runner
	workers   int
	log       *slog.Logger
	pause     time.Duration // before something is tried again

	traffic traffic
	looks   looks

	mu       sync.Mutex
	waiting  []job
	queued   map[storage.Digest]bool // waiting or under way
	gaveUp   map[storage.Digest]bool // until they are asked for again
	finished int64
	failed   int64
	wake     chan struct{} // closed and made anew when something is added
}

type job struct {
	sum   storage.Digest
	tries int
}

// New makes a queue; Run works it off.
func New(bucket storage.Bucket, originals *original.Store, runner *imaging.Runner, workers int, log *slog.Logger) *Queue {
	return &Queue{
		bucket: bucket, originals: originals, runner: runner, workers: max(workers, 1), log: log, pause: firstPause,
		queued: map[storage.Digest]bool{}, gaveUp: map[storage.Digest]bool{}, wake: make(chan struct{}),
	}
}

// Committed takes up the originals that a commit names. It doesn't block.
func (q *Queue) Committed(c *pb.Commit) {
	for _, t := range c.GetTransactions() {
		for _, change := range t.GetChanges() {
			q.Add(change.GetPicture().GetOriginal().GetSha256())
		}
	}
}

// Add takes up an original by its sha256 in hex; an empty one is passed over.
func (q *Queue) Add(hex string) {
	sum, err := storage.ParseDigest(hex)
	if err != nil {
		return
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.queued[sum] {
		q.queued[sum] = true
		q.push(job{sum: sum})
	}
}

func (q *Queue) push(j job) {
	q.waiting = append(q.waiting, j)
	close(q.wake)
	q.wake = make(chan struct{})
}

// Pending is how many originals wait or are under way.
func (q *Queue) Pending() int64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	return int64(len(q.queued))
}

// Done is how many originals were handled since the start, and how many of these couldn't be decoded.
func (q *Queue) Done() (finished, failed int64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.finished, q.failed
}

// Decoder names the decoder in use.
func (q *Queue) Decoder() string {
	if q.runner.HasVips() {
		return "libvips"
	}
	return "Go"
}

// Run takes up what the pictures lack, then makes previews until ctx ends.
func (q *Queue) Run(ctx context.Context, missing func(ctx context.Context, have map[string]bool) ([]string, error)) error {
	var g errgroup.Group
	g.Go(func() error { return q.takeUp(ctx, missing) })
	for range q.workers {
		g.Go(func() error { return q.work(ctx) })
	}
	return g.Wait()
}

// takeUp adds what the bucket lacks. A bucket that doesn't answer is asked again: without this, what an earlier server left undone would wait for the next start.
func (q *Queue) takeUp(ctx context.Context, missing func(ctx context.Context, have map[string]bool) ([]string, error)) error {
	for pause := q.pause; ; pause = min(2*pause, longestPause) {
		have, err := q.made(ctx)
		var lacking []string
		if err == nil {
			lacking, err = missing(ctx, have)
		}
		if err == nil {
			for _, sum := range lacking {
				q.Add(sum)
			}
			q.learn(ctx, have)
			return nil
		}
		if ctx.Err() != nil {
			return nil //nolint:nilerr // told to stop
		}
		q.log.Warn("can't find out which previews are missing; trying again", "error", err)
		if !wait(ctx, pause) {
			return nil
		}
	}
}

// wait waits; false if ctx ended first.
func wait(ctx context.Context, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return true
	}
}

// made lists the originals, hex, that have a record.
func (q *Queue) made(ctx context.Context) (map[string]bool, error) {
	have := map[string]bool{}
	for info, err := range q.bucket.List(ctx, prefix, "") {
		if err != nil {
			return nil, err
		}
		if dir, file := path.Split(info.Key); file == imaging.InfoName {
			have[path.Base(dir)] = true
		}
	}
	return have, nil
}

func (q *Queue) work(ctx context.Context) error {
	for {
		j, wake, ok := q.take()
		if !ok {
			select {
			case <-ctx.Done():
				return nil
			case <-wake:
				continue
			}
		}
		q.waitForPause(ctx)
		info, err := q.make(ctx, j.sum)
		switch {
		case ctx.Err() != nil:
			return nil //nolint:nilerr // told to stop: the job is begun again at the next start
		case err != nil && j.tries+1 < tries:
			q.log.Warn("previews failed and are tried again", "sha256", j.sum, "error", err)
			q.again(ctx, j)
		default:
			if err != nil {
				q.log.Error("previews failed; they are tried again at the next start", "sha256", j.sum, "error", err)
			}
			q.finish(j.sum, err != nil, info.Failure != nil)
		}
	}
}

func (q *Queue) take() (j job, wake <-chan struct{}, ok bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.waiting) == 0 {
		return job{}, q.wake, false
	}
	j = q.waiting[0]
	q.waiting = q.waiting[1:]
	return j, nil, true
}

// again puts a job back after a short while.
func (q *Queue) again(ctx context.Context, j job) {
	if !wait(ctx, q.pause<<j.tries) {
		return
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	q.push(job{j.sum, j.tries + 1})
}

// finish notes what has become of an original: given up for now, found to be undecodable, or neither.
func (q *Queue) finish(sum storage.Digest, gaveUp, undecodable bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	delete(q.queued, sum)
	delete(q.gaveUp, sum)
	q.finished++
	if gaveUp {
		q.gaveUp[sum] = true
	}
	if gaveUp || undecodable {
		q.failed++
	}
}

// GaveUp says whether the previews of an original couldn't be made for a reason that isn't its own, and nobody tries any more until the next start.
func (q *Queue) GaveUp(sum storage.Digest) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.gaveUp[sum] && !q.queued[sum]
}

// make derives one original, unless another server has done so.
func (q *Queue) make(ctx context.Context, sum storage.Digest) (imaging.Info, error) {
	info, err := q.Info(ctx, sum)
	if !errors.Is(err, storage.ErrNotExist) {
		return info, err
	}
	r, err := q.originals.Open(ctx, sum, 0, -1)
	if err != nil {
		return info, err
	}
	derived, err := q.runner.Derive(ctx, r)
	err = errors.Join(err, r.Close())
	if info, err = imaging.NewInfo(derived, err); err != nil {
		return info, err
	}
	for _, p := range derived.Previews {
		if err := q.put(ctx, key(sum, p.Name), p.Bytes); err != nil {
			return info, err
		}
	}
	b, err := json.Marshal(info)
	if err != nil {
		return info, err
	}
	if err := q.put(ctx, key(sum, imaging.InfoName), b); err != nil {
		return info, err
	}
	q.looks.note(sum, info)
	return info, nil
}

func (q *Queue) put(ctx context.Context, key string, b []byte) error {
	sum := storage.Digest(sha256.Sum256(b))
	if err := q.bucket.Put(ctx, key, bytes.NewReader(b), int64(len(b)), &sum); err != nil {
		return fmt.Errorf("store %s: %w", key, err)
	}
	return nil
}

// Info is the record of an original's previews; storage.ErrNotExist while they are being made. One that this program can't read counts as absent, and is made anew.
func (q *Queue) Info(ctx context.Context, sum storage.Digest) (imaging.Info, error) {
	r, err := q.bucket.Open(ctx, key(sum, imaging.InfoName), 0, -1)
	if err != nil {
		return imaging.Info{}, err
	}
	defer func() { _ = r.Close() }()
	b, err := io.ReadAll(io.LimitReader(r, infoMax))
	if err != nil {
		return imaging.Info{}, err
	}
	info, err := imaging.ParseInfo(b)
	if err != nil {
		q.log.Warn("record of previews is unreadable; they are made again", "sha256", sum, "error", err)
		q.Add(sum.String())
		return imaging.Info{}, fmt.Errorf("%w: a readable record of the previews of %s", storage.ErrNotExist, sum)
	}
	q.looks.note(sum, info)
	return info, nil
}

// Open reads a preview, or a part of it, by its file name.
func (q *Queue) Open(ctx context.Context, sum storage.Digest, file string, offset, length int64) (io.ReadCloser, error) {
	return q.bucket.Open(ctx, key(sum, file), offset, length)
}

// Variant is the name by which a preview is asked for: its file name without the ending.
func Variant(file string) string { return strings.TrimSuffix(file, path.Ext(file)) }

func key(sum storage.Digest, file string) string { return prefix + sum.String() + "/" + file }
