package original

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"

	"platarium/storage"
)

// A probe of a picture's header reads a few bytes here and there. A block answers most of it with one request, and a few blocks suffice for
// tables that refer to each other.
const (
	blockSize = 128 << 10 // bytes
	maxBlocks = 8         // 1 MiB a reader
)

// ReaderAt gives random access to an original of size bytes, for probing headers: small reads are answered from a cache of blocks, large ones go to the
// store. It may be used concurrently, until ctx ends. What it reads isn't verified.
func (s *Store) ReaderAt(ctx context.Context, sum storage.Digest, size int64) io.ReaderAt {
	return &readerAt{size: size, fetch: func(p []byte, offset int64) error {
		r, err := s.Open(ctx, sum, offset, int64(len(p)))
		if err != nil {
			return err
		}
		_, err = io.ReadFull(r, p)
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			err = fmt.Errorf("%w: original %s is shorter than %d bytes", ErrDamaged, sum, size)
		}
		return errors.Join(err, r.Close())
	}}
}

type readerAt struct {
	size  int64
	fetch func(p []byte, offset int64) error

	mu     sync.Mutex
	blocks []block // the most recently used last
}

type block struct {
	offset int64
	data   []byte
}

// ReadAt implements io.ReaderAt.
func (r *readerAt) ReadAt(p []byte, offset int64) (n int, err error) {
	if offset < 0 {
		return 0, fmt.Errorf("reading an original: found offset %d, want 0 or more", offset)
	}
	want := p[:min(int64(len(p)), max(r.size-offset, 0))]
	if len(want) >= blockSize {
		if err := r.fetch(want, offset); err != nil {
			return 0, err
		}
		n = len(want)
	}
	for n < len(want) {
		at := offset + int64(n)
		data, err := r.block(at - at%blockSize)
		if err != nil {
			return n, err
		}
		n += copy(want[n:], data[at%blockSize:])
	}
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// block gives the cached block at offset. The lock is held while fetching: those who wait mostly want the same block.
func (r *readerAt) block(offset int64) ([]byte, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if i := slices.IndexFunc(r.blocks, func(b block) bool { return b.offset == offset }); i >= 0 {
		b := r.blocks[i]
		r.blocks = append(slices.Delete(r.blocks, i, i+1), b)
		return b.data, nil
	}
	data := make([]byte, min(blockSize, r.size-offset))
	if err := r.fetch(data, offset); err != nil {
		return nil, err
	}
	if len(r.blocks) == maxBlocks {
		r.blocks = slices.Delete(r.blocks, 0, 1)
	}
	r.blocks = append(r.blocks, block{offset: offset, data: data})
	return data, nil
}
