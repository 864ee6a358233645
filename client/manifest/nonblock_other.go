//go:build !unix

package manifest

// openFlags has nothing to add where named pipes don't stand among files.
const openFlags = 0
