package imaging

import (
	"syscall"
	"testing"
	"time"
)

// childPeak is the largest resident memory of any child that has ended, in bytes. It only grows, so that a benchmark is to be run alone.
func childPeak(t testing.TB) int64 {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_CHILDREN, &u); err != nil {
		t.Fatal(err)
	}
	return u.Maxrss << 10
}

// childTime is the processor time of all children that have ended.
func childTime(t testing.TB) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_CHILDREN, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
