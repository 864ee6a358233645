//go:build unix

package manifest

import "syscall"

// openFlags keeps the opening of a named pipe that took a file's place from waiting for a writer.
const openFlags = syscall.O_NONBLOCK
