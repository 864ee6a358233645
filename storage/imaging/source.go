package imaging

import (
	"context"
	"errors"
	"fmt"
	"io"
)

// window is a stretch of a file that is read piece by piece. All windows on one file share one budget, so that a file can make its
// reader neither loop nor read without end, however its offsets point.
type window struct {
	r      io.ReaderAt
	base   int64 // of the window in r
	size   int64 // of the window
	budget *budget
}

// budget is what may still be read of one file. It also stands between the windows and the file.
type budget struct {
	r            io.ReaderAt
	size         int64
	bytes, reads int64
	done         func() error // the caller's context
	// blocks keeps what was read around small pieces: the file may lie in an object store, where each read costs a request.
	blocks [cachedBlocks]block
	oldest int
}

type block struct {
	off  int64
	data []byte // nil for an empty place
}

const (
	blockSize    = 4 << 10
	cachedBlocks = 8
)

var errBudget = fault(ErrMalformed, rightExport, "the header asks for more reading than any sound file needs")

func newWindow(ctx context.Context, r io.ReaderAt, size, maxBytes, maxReads int64) *window {
	b := &budget{r: r, size: size, bytes: maxBytes, reads: maxReads, done: ctx.Err}
	return &window{r: b, size: size, budget: b}
}

// part is the window of n bytes at off; it is cut off where w ends.
func (w *window) part(off, n int64) *window {
	off = min(max(off, 0), w.size)
	return &window{r: w.r, base: w.base + off, size: min(max(n, 0), w.size-off), budget: w.budget}
}

// at reads exactly n bytes at off. A read past the end is ErrTruncated, one past the budget ErrMalformed.
func (w *window) at(off, n int64) ([]byte, error) {
	if off < 0 || n < 0 || off > w.size || n > w.size-off {
		return nil, fault(ErrTruncated, rightCopy, "%d bytes wanted at offset %d of %d", n, w.base+off, w.base+w.size)
	}
	if err := w.budget.done(); err != nil {
		return nil, err
	}
	if w.budget.reads--; w.budget.reads < 0 || n > w.budget.bytes+blockSize {
		return nil, errBudget
	}
	buf := make([]byte, n)
	got, err := w.r.ReadAt(buf, w.base+off)
	var f *Fault
	switch {
	case int64(got) == n:
		return buf, nil
	case err == nil || errors.Is(err, io.EOF):
		return nil, fault(ErrTruncated, rightCopy, "the file ends %d bytes into the %d wanted at offset %d", got, n, w.base+off)
	case errors.As(err, &f):
		return nil, f
	default:
		return nil, fmt.Errorf("read %d bytes at offset %d: %w", n, w.base+off, err)
	}
}

// head reads up to n bytes from the start, fewer if the window is shorter.
func (w *window) head(n int64) ([]byte, error) { return w.at(0, min(n, w.size)) }

// ReadAt lets a window be read as a file of its own.
func (w *window) ReadAt(p []byte, off int64) (int, error) {
	if off < 0 || off >= w.size {
		return 0, io.EOF
	}
	n := min(int64(len(p)), w.size-off)
	b, err := w.at(off, n)
	copy(p, b)
	if err == nil && n < int64(len(p)) {
		err = io.EOF
	}
	return len(b), err
}

// ReadAt reads from the file: large pieces as they are, small ones through the blocks.
func (b *budget) ReadAt(p []byte, off int64) (n int, err error) {
	if len(p) > blockSize/2 {
		return b.fetch(p, off)
	}
	for n < len(p) {
		at := off + int64(n)
		data, err := b.block(at - at%blockSize)
		if err != nil {
			return n, err
		}
		got := copy(p[n:], data[min(at%blockSize, int64(len(data))):])
		if got == 0 {
			return n, io.EOF
		}
		n += got
	}
	return n, nil
}

func (b *budget) block(off int64) ([]byte, error) {
	for _, c := range b.blocks {
		if c.data != nil && c.off == off {
			return c.data, nil
		}
	}
	data := make([]byte, min(blockSize, b.size-off))
	n, err := b.fetch(data, off)
	if n < len(data) && !errors.Is(err, io.EOF) {
		return nil, err
	}
	b.blocks[b.oldest] = block{off, data[:n]}
	b.oldest = (b.oldest + 1) % cachedBlocks
	return data[:n], nil
}

func (b *budget) fetch(p []byte, off int64) (int, error) {
	if b.bytes -= int64(len(p)); b.bytes < 0 {
		return 0, errBudget
	}
	n, err := b.r.ReadAt(p, off)
	if n == len(p) {
		return n, nil
	}
	if err == nil {
		err = io.EOF // a reader that gives less without saying why
	}
	return n, err
}
