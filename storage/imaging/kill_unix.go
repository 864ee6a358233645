//go:build unix

package imaging

import (
	"os/exec"
	"syscall"
)

// separate puts the child into a process group of its own, so that kill reaches the programs it started too.
func separate(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

func kill(cmd *exec.Cmd) error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
