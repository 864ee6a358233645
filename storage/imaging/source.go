package imaging

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync/atomic"
)

// window is a stretch of a file that is read piece by piece. All windows on one file share one budget, so that a file can make its
// reader neither loop nor read without end, however its offsets point.
type window struct {
	r      io.ReaderAt
	base   int64 // of the window in r
	size   int64 // of the window
	budget *budget
}

type budget struct {
	bytes, reads atomic.Int64
	done         func() error // the caller's context
}

func newWindow(ctx context.Context, r io.ReaderAt, size, maxBytes, maxReads int64) *window {
	b := &budget{done: ctx.Err}
	b.bytes.Store(maxBytes)
	b.reads.Store(maxReads)
	return &window{r: r, size: size, budget: b}
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
	if w.budget.bytes.Add(-n) < 0 || w.budget.reads.Add(-1) < 0 {
		return nil, fault(ErrMalformed, rightExport, "the header asks for more reading than any sound file needs")
	}
	buf := make([]byte, n)
	got, err := w.r.ReadAt(buf, w.base+off)
	switch {
	case int64(got) == n:
		return buf, nil
	case err == nil || errors.Is(err, io.EOF):
		return nil, fault(ErrTruncated, rightCopy, "the file ends %d bytes into the %d wanted at offset %d", got, n, w.base+off)
	default:
		return nil, fmt.Errorf("read %d bytes at offset %d: %w", n, w.base+off, err)
	}
}

// head reads up to n bytes from the start, fewer if the window is shorter.
func (w *window) head(n int64) ([]byte, error) { return w.at(0, min(n, w.size)) }

// ReadAt lets a window be read as a file of its own, within the budget.
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
