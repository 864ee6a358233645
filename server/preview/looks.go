package preview

import (
	"context"
	"sync"

	"platarium/storage"
	"platarium/storage/imaging"
)

// looks remembers the perceptual hash of every original whose record of previews has been seen: 40 bytes or so each.
type looks struct {
	mu     sync.RWMutex
	hashes map[storage.Digest]uint64
}

func (l *looks) note(sum storage.Digest, info imaging.Info) {
	hash, ok := info.Hash()
	if !ok {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.hashes == nil {
		l.hashes = map[storage.Digest]uint64{}
	}
	l.hashes[sum] = hash
}

func (l *looks) get(sum storage.Digest) (uint64, bool) {
	l.mu.RLock()
	defer l.mu.RUnlock()
	hash, ok := l.hashes[sum]
	return hash, ok
}

// Look is the perceptual hash of an original, as far as it is known by now: after a start it takes a while until all records of previews have been read, and a
// file that can't be decoded has none.
func (q *Queue) Look(sum storage.Digest) (uint64, bool) { return q.looks.get(sum) }

// learn reads the records of previews that were there before the start. One that can't be read is passed over: it only leaves a likeness unknown.
func (q *Queue) learn(ctx context.Context, have map[string]bool) {
	for hex := range have {
		if ctx.Err() != nil {
			return // told to stop
		}
		if sum, err := storage.ParseDigest(hex); err == nil {
			q.learnOne(ctx, sum)
		}
	}
}

func (q *Queue) learnOne(ctx context.Context, sum storage.Digest) {
	if _, known := q.looks.get(sum); known {
		return
	}
	if _, err := q.Info(ctx, sum); err != nil && ctx.Err() == nil {
		q.log.Debug("record of previews is not readable", "sha256", sum, "error", err)
	}
}
