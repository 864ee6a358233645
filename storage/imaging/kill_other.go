//go:build !unix

package imaging

import "os/exec"

func separate(*exec.Cmd) {}

// kill ends the child alone; what it started ends by the time limit that the child set.
func kill(cmd *exec.Cmd) error { return cmd.Process.Kill() }
