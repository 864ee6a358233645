package journal

import (
	"fmt"
	"sync"
	"sync/atomic"
	"testing"

	"platarium/storage/dir"
)

// BenchmarkCommit measures commits and changes on a folder, with so many submitters at once, one change each.
func BenchmarkCommit(b *testing.B) {
	for _, submitters := range []int{1, 8, 64} {
		b.Run(fmt.Sprintf("submitters=%d", submitters), func(b *testing.B) {
			bucket, err := dir.Open(b.TempDir())
			if err != nil {
				b.Fatal(err)
			}
			l := open(b, bucket, newRegisters(), quick())
			var next atomic.Int64
			b.ResetTimer()
			var wg sync.WaitGroup
			for range submitters {
				wg.Go(func() {
					for {
						n := next.Add(1)
						if n > int64(b.N) {
							return
						}
						if _, err := l.Submit(b.Context(), set(fmt.Sprint(n), "1", fmt.Sprintf("parties/%d", n%100))); err != nil {
							b.Error(err)
							return
						}
					}
				})
			}
			wg.Wait()
			b.ReportMetric(float64(l.Position().Seq)/b.Elapsed().Seconds(), "commits/s")
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "changes/s")
		})
	}
}

// bigBatch is a request of n changes.
func bigBatch(id string, n int) op {
	o := op{id: id, kind: "set", value: "a note of ordinary length, as a studio would write it about a party"}
	for i := range n {
		o.names = append(o.names, fmt.Sprintf("parties/%06d", i))
	}
	return o
}

// BenchmarkBigCommit measures atomic requests of many changes in memory: the time per change must not grow with their number.
func BenchmarkBigCommit(b *testing.B) {
	for _, changes := range []int{100, 1000, 10000} {
		b.Run(fmt.Sprintf("changes=%d", changes), func(b *testing.B) {
			l := open(b, newMemory(), newRegisters(), quick())
			n := 0
			for b.Loop() {
				n++
				submit(b, l, bigBatch(fmt.Sprint(n), changes))
			}
			b.ReportMetric(float64(changes*n)/b.Elapsed().Seconds(), "changes/s")
		})
	}
}

// BenchmarkReplay measures opening by replay of 200 commits of 100 changes, from memory.
func BenchmarkReplay(b *testing.B) {
	const commits, changes = 200, 100
	bucket := newMemory()
	l := open(b, bucket, newRegisters(), quick())
	for i := range commits {
		submit(b, l, bigBatch(fmt.Sprint(i), changes))
	}
	for b.Loop() {
		open(b, bucket, newRegisters(), quick())
	}
	b.ReportMetric(float64(b.N*commits*changes)/b.Elapsed().Seconds(), "changes/s")
}

// BenchmarkRestore measures opening by a checkpoint of 50,000 records, as many histories and one request.
func BenchmarkRestore(b *testing.B) {
	bucket := newMemory()
	l := open(b, bucket, newRegisters(), quick())
	submit(b, l, bigBatch("all", 50000))
	if _, err := l.Checkpoint(b.Context()); err != nil {
		b.Fatal(err)
	}
	lines := 0
	found, err := listCheckpoints(b.Context(), bucket)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		m := newRegisters()
		behind := &Log{bucket: bucket, machine: m, opts: quick().withDefaults()}
		if err := behind.restoreFrom(b.Context(), found[0], 1<<20); err != nil {
			b.Fatal(err)
		}
		lines += m.restored
	}
	b.ReportMetric(float64(lines)/b.Elapsed().Seconds(), "lines/s")
}
