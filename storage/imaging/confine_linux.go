package imaging

import (
	"bytes"
	"fmt"
	"os"
	"strconv"

	"golang.org/x/sys/unix"
)

// confineSystem limits the address space to what the process has reserved already plus memory. The Go runtime reserves far more than it uses, so an
// absolute limit would either hit it at once or allow too much.
func confineSystem(memory int64) error {
	b, err := os.ReadFile("/proc/self/statm")
	if err != nil {
		return fmt.Errorf("size of this process: %w", err)
	}
	first, _, _ := bytes.Cut(b, []byte(" "))
	pages, err := strconv.ParseUint(string(first), 10, 64)
	if err != nil {
		return fmt.Errorf("size of this process: %w", err)
	}
	limit := pages*uint64(os.Getpagesize()) + uint64(memory)
	var now unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_AS, &now); err != nil {
		return fmt.Errorf("limit of address space: %w", err)
	}
	limit = min(limit, now.Max)
	if err := unix.Setrlimit(unix.RLIMIT_AS, &unix.Rlimit{Cur: limit, Max: limit}); err != nil {
		return fmt.Errorf("limit address space to %d bytes: %w", limit, err)
	}
	// A crash must not leave a copy of the picture in a core file.
	return unix.Setrlimit(unix.RLIMIT_CORE, &unix.Rlimit{})
}
