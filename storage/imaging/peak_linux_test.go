package imaging

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// peakFile is where a decoder process of the tests leaves its largest resident memory, beside its temporary folder. The parent can't ask the system
// for it, since Linux counts the parent's own memory at the time of the fork too.
const peakFile = "peak"

// leavePeak writes the larger of this process's own peak and that of the programs it started, in bytes.
func leavePeak() {
	var children syscall.Rusage
	status, err := os.ReadFile("/proc/self/status")
	if err == nil {
		err = syscall.Getrusage(syscall.RUSAGE_CHILDREN, &children)
	}
	if err != nil {
		return
	}
	peak := children.Maxrss
	for line := range bytes.Lines(status) {
		if rest, ok := strings.CutPrefix(string(line), "VmHWM:"); ok {
			own, _ := strconv.ParseInt(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(rest), "kB")), 10, 64)
			peak = max(peak, own)
		}
	}
	_ = os.WriteFile(filepath.Join(os.Getenv("TMPDIR"), "..", peakFile), []byte(strconv.FormatInt(peak<<10, 10)), 0o600)
}

// childPeak is what the last decoder process with that temporary folder left, in bytes.
func childPeak(t testing.TB, tempDir string) int64 {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(tempDir, peakFile))
	if err != nil {
		t.Fatal(err)
	}
	n, err := strconv.ParseInt(string(b), 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
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
