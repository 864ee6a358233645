package journal

import (
	"context"
	"iter"
	"sync"
)

// readAhead is how many commits are read at once; memory is bounded by so many objects.
const readAhead = 8

// inOrder calls read for each key, up to most at once, and yields the answers in the order of the keys. It begins with one and reads further ahead with
// each answer taken, so that looking for a single key costs little. No read is under way any more when it returns.
func inOrder[K, V any](ctx context.Context, most int, keys iter.Seq[K], read func(context.Context, K) V) iter.Seq[V] {
	return func(yield func(V) bool) {
		next, stop := iter.Pull(keys)
		defer stop()
		ctx, cancel := context.WithCancel(ctx)
		var readers sync.WaitGroup
		defer readers.Wait()
		defer cancel()
		var ahead []chan V
		more := true
		for width := 1; ; width = min(2*width, most) {
			for more && len(ahead) < width {
				var key K
				if key, more = next(); !more {
					break
				}
				answer := make(chan V, 1)
				readers.Go(func() { answer <- read(ctx, key) })
				ahead = append(ahead, answer)
			}
			if len(ahead) == 0 || !yield(<-ahead[0]) {
				return
			}
			ahead = ahead[1:]
		}
	}
}

// counting yields from, from+1 and so on.
func counting(from int64) iter.Seq[int64] {
	return func(yield func(int64) bool) {
		for n := from; yield(n); n++ {
		}
	}
}
