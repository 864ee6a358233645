package preview

import (
	"context"
	"errors"
	"fmt"
	"io"

	"platarium/storage"
	"platarium/storage/imaging"
)

// Cut makes a copy of an original, whole or in part, in another size or format, and writes it to w. It waits its turn among the previews. The error is an *imaging.Fault for what can't be made.
func (q *Queue) Cut(ctx context.Context, sum storage.Digest, c imaging.Cut, w io.Writer) (_ imaging.CutInfo, err error) {
	r, err := q.originals.Open(ctx, sum, 0, -1)
	if err != nil {
		return imaging.CutInfo{}, fmt.Errorf("open the original: %w", err)
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	return q.runner.Cut(ctx, r, c, w)
}
