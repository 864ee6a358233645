package indexer

import (
	"context"
	"errors"
	"log/slog"
)

var (
	// ErrClosed: the index was closed; the caller is shutting down as well.
	ErrClosed = errors.New("index is closed")
	// ErrLocked: another process has the index open; use another folder or stop it.
	ErrLocked = errors.New("index is open in another process")
)

// Options of an index; the zero value is good.
type Options struct {
	// Logger for rebuilds and repairs; nil for none.
	Logger *slog.Logger
}

// Index is safe for concurrent use.
type Index struct{}

var errUnfinished = errors.New("not written yet")

// Open opens the index in dir, which belongs to it alone, or builds it from src
// if there is none, it is damaged, of another schema or of another archive. An
// index that is behind src is opened as it is: the caller applies what is
// missing, by Sequence, or rebuilds.
func Open(ctx context.Context, dir string, src Source, opts Options) (*Index, error) {
	return nil, errUnfinished
}

// Apply brings in the changes of commit seq: the names of pictures, taxa and
// specimens that it wrote or deleted. They are visible to every Search that
// begins after Apply returned. Commits may be applied together under the number
// of the last, and applied again.
func (x *Index) Apply(ctx context.Context, seq int64, changed []string) error { return errUnfinished }

// Sequence is the last commit applied.
func (x *Index) Sequence() int64 { return 0 }

// Search answers a question. A wrong request is a *FieldError.
func (x *Index) Search(ctx context.Context, q Query) (*Answer, error) { return nil, errUnfinished }

// Rebuild makes the index anew beside the old one and swaps them; searches and
// changes go on meanwhile. progress may be nil; total is 0 while unknown.
func (x *Index) Rebuild(ctx context.Context, progress func(done, total int64)) error {
	return errUnfinished
}

// Close waits for what is under way and releases the folder.
func (x *Index) Close() error { return errUnfinished }
