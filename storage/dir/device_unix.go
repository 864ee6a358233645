//go:build !windows

package dir

import (
	"errors"
	"syscall"
)

func otherDevice(err error) bool { return errors.Is(err, syscall.EXDEV) }
