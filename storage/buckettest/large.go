package buckettest

import (
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"platarium/storage"
)

// memoryBound is what the heap may grow while a large object passes through, whatever its size.
const memoryBound = 48 << 20

func testLarge(t *testing.T, b storage.Bucket) {
	for _, c := range []struct {
		name    string
		content Content
		known   bool
	}{
		{"64MiB", Content{Seed: 64, Size: 64 << 20}, true},
		{"64MiBUnknownDigest", Content{Seed: 65, Size: 64<<20 + 7}, false},
		{"300MiB", Content{Seed: 300, Size: 300 << 20}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			var sum *storage.Digest
			if c.known {
				s := c.content.Digest()
				sum = &s
			}
			grown := heapGrowth(func() {
				if err := b.Put(t.Context(), "large", c.content.Reader(), c.content.Size, sum); err != nil {
					t.Fatal(err)
				}
				check(t, b, "large", c.content)
			})
			t.Logf("the heap grew by %d KiB", grown>>10)
			if grown > memoryBound {
				t.Errorf("the heap grew by %d MiB, want at most %d", grown>>20, memoryBound>>20)
			}
			if err := b.Delete(t.Context(), "large"); err != nil {
				t.Error(err)
			}
		})
	}
}

// heapGrowth samples the heap while f runs and gives the peak above the start, in bytes.
func heapGrowth(f func()) int64 {
	heap := func() int64 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return int64(m.HeapInuse)
	}
	runtime.GC()
	start := heap()
	var peak atomic.Int64
	done, sampled := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(sampled)
		for {
			peak.Store(max(peak.Load(), heap()))
			select {
			case <-done:
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	}()
	defer func() { <-sampled }()
	defer close(done)
	f()
	peak.Store(max(peak.Load(), heap()))
	return peak.Load() - start
}
