package dir

import (
	"errors"

	"golang.org/x/sys/windows"
)

func otherDevice(err error) bool { return errors.Is(err, windows.ERROR_NOT_SAME_DEVICE) }
