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
