package indexer

import (
	"time"

	"golang.org/x/sys/unix"
)

// cpuTime is the processor time of the calling thread: what a search costs when
// other work shares the machine.
func cpuTime() time.Duration {
	var t unix.Timespec
	if unix.ClockGettime(unix.CLOCK_THREAD_CPUTIME_ID, &t) != nil {
		return 0
	}
	return time.Duration(t.Nano())
}
