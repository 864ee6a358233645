package preview

import (
	"context"
	"sync"
	"time"
)

// Previews take the machine's cores, which an import needs: while files come in they wait for a pause, though not for ever.
const (
	pause       = 500 * time.Millisecond // without a transfer
	longestWait = 30 * time.Second       // of one preview for a pause
	lookEvery   = 50 * time.Millisecond
)

// traffic counts the transfers under way.
type traffic struct {
	mu    sync.Mutex
	open  int
	ended time.Time // the last one
}

// Transfer tells the queue that a file is coming in; the caller calls end when it is there.
func (q *Queue) Transfer() (end func()) {
	q.traffic.mu.Lock()
	defer q.traffic.mu.Unlock()
	q.traffic.open++
	return func() {
		q.traffic.mu.Lock()
		defer q.traffic.mu.Unlock()
		q.traffic.open--
		q.traffic.ended = time.Now()
	}
}

func (t *traffic) quiet() bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.open == 0 && time.Since(t.ended) >= pause
}

// waitForPause returns when no file has come in for a moment, after the longest wait, or when ctx ends.
func (q *Queue) waitForPause(ctx context.Context) {
	if q.traffic.quiet() {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, longestWait)
	defer cancel()
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for !q.traffic.quiet() {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}
