//go:build !linux

package indexer

import "time"

// cpuTime isn't measured here.
func cpuTime() time.Duration { return 0 }
