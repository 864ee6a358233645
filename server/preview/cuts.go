package preview

import (
	"context"
	"errors"
	"fmt"
	"io"

	"platarium/storage"
	"platarium/storage/imaging"
)

// Cuts makes several cuts of one original, which is read once for all of them, and asks for the writer of each in turn. Otherwise it is as Cut.
func (q *Queue) Cuts(ctx context.Context, sum storage.Digest, cuts []imaging.Cut, to func(i int) (io.Writer, error)) (_ []imaging.CutInfo, err error) {
	r, err := q.originals.Open(ctx, sum, 0, -1)
	if err != nil {
		return nil, fmt.Errorf("open the original: %w", err)
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	return q.runner.Cuts(ctx, r, cuts, to)
}
