// Package storage is the port to the archive's bucket: a flat, strongly consistent store of immutable objects.
//
// The bucket is the archive; whatever else the program keeps can be built again from it. The port asks for as little as an
// object store and a plain folder both give: streamed writes of a known size, creation that fails when the key exists, reads of a range,
// an ordered listing and deletion. Adapters stand in storage/dir and storage/s3; storage/open chooses one by URL, and storage/buckettest is the
// suite that each passes.
//
// Left out on purpose: overwriting under a condition, conditional deletion, copies and notifications, because object stores
// disagree about them.
package storage

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"iter"
	"strings"
	"time"
)

// Sentinel errors of every adapter, to be tested with errors.Is.
var (
	// ErrNotExist: there is no object under the key. The caller treats the thing as absent.
	ErrNotExist = errors.New("no such object")
	// ErrExist: Create found the key taken. The caller reads the object that is there and decides again.
	ErrExist = errors.New("object exists already")
	// ErrChecksum: the bytes differ from the length or digest that was promised. Nothing was stored, or what was read must not be used.
	ErrChecksum = errors.New("content does not match its digest or length")
	// ErrKey: the key breaks the key rules (see CheckKey). The caller has a bug or passed on unchecked input.
	ErrKey = errors.New("key not allowed")
	// ErrUnsuitable: the store can't keep the promises of this port (no conditional creation, no links). The caller refuses to start.
	ErrUnsuitable = errors.New("store is unsuitable for an archive")
	// ErrDoubtful: the store gave no clear answer, so that the write may have happened or not. The caller reads back and compares.
	ErrDoubtful = errors.New("outcome unknown")
)

// Digest is the sha256 of an object's bytes.
type Digest [sha256.Size]byte

// String gives the digest as 64 lower-case hex digits.
func (d Digest) String() string { return fmt.Sprintf("%x", d[:]) }

// ParseDigest reads a digest as String writes it.
func ParseDigest(s string) (Digest, error) {
	var d Digest
	b, err := hex.DecodeString(s)
	if err != nil || len(b) != len(d) || strings.ToLower(s) != s {
		return Digest{}, fmt.Errorf("found %q; want a sha256 as 64 lower-case hex digits", s)
	}
	copy(d[:], b)
	return d, nil
}

// Info describes one object.
type Info struct {
	Key      string
	Size     int64     // bytes
	Modified time.Time // by the store's clock; good for sweeping, never for order
}

// Bucket is one archive's store. All methods may be called concurrently. An error wraps one of the sentinels above where it applies;
// a cancelled context leaves no object and no partial file behind.
type Bucket interface {
	// Put stores size bytes of body under key, replacing what is there. Sum, when not nil, is what the bytes must hash to: on a
	// mismatch, a short or a long body nothing is stored and the error is ErrChecksum. Memory is bounded whatever the size. Put reads body
	// only until it returns, and waits for a Read under way.
	Put(ctx context.Context, key string, body io.Reader, size int64, sum *Digest) error
	// Create stores data under key only if the key is free, else ErrExist: of many racing callers exactly one wins. Meant for
	// small objects (16 MiB at most, else ErrKey). After ErrExist or ErrDoubtful the caller must read back: a retry inside the
	// client can turn one's own success into ErrExist.
	Create(ctx context.Context, key string, data []byte) error
	// Open reads length bytes from offset on; length < 0 means to the end. Reading past the end gives what there is (an offset beyond the end reads
	// as empty). The reader fails with ErrNotExist at the latest on first Read if the object is gone, and must be closed.
	Open(ctx context.Context, key string, offset, length int64) (io.ReadCloser, error)
	// Stat describes the object, or fails with ErrNotExist.
	Stat(ctx context.Context, key string) (Info, error)
	// List yields the objects whose key begins with prefix and is greater than after, in bytewise order of key, until the
	// caller stops, or yields one error and ends: of ctx, of the store, or ErrKey for a prefix that no key can have. What isn't a key by CheckKey is passed over.
	List(ctx context.Context, prefix, after string) iter.Seq2[Info, error]
	// Delete removes the object; deleting what is absent is no error.
	Delete(ctx context.Context, key string) error
}

// MaxCreate is the largest object that Create takes, in bytes.
const MaxCreate = 16 << 20
