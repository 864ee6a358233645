package manifest

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// Import brings a manifest's rows and files into an archive. The summary is there whenever the tables could be read, with the error or without: rows that
// were rejected are no error, a server that can't be reached or a cancelled ctx is one. After an error the same import may be repeated.
func Import(ctx context.Context, c *client.Client, opts Options) (*Summary, error) {
	im, err := load(opts)
	if err != nil {
		return nil, err
	}
	im.c = c
	err = im.run(ctx)
	err = errors.Join(err, im.writeRejects(), im.folder.close())
	return im.finish(), err
}

func (im *importer) run(ctx context.Context) error {
	status, err := im.c.Admin.GetStatus(ctx, &pb.GetStatusRequest{})
	if err != nil {
		return fmt.Errorf("ask the server how it is: %w", err)
	}
	im.since = status.GetSequence()
	for _, stage := range []func(context.Context) error{im.matchNames, im.importAnimals, im.keptAnimals, im.importPictures} {
		if err := stage(ctx); err != nil {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}

// Check looks at a manifest without an archive: all that can be told from the tables and the files alone.
func Check(ctx context.Context, opts Options) (*Summary, error) {
	opts.DryRun = true
	im, err := load(opts)
	if err != nil {
		return nil, err
	}
	for _, i := range im.pictures.order(im.circle) {
		if im.pictures.items[i].file == "" {
			im.identify(int(i))
		}
		for _, source := range im.pictures.items[i].sources {
			if im.pictures.items[source].state == refused && im.pictures.items[i].state == pending {
				im.reject(im.pictures, int(i), "column derived_from: "+im.refusedSource(int(source)))
			}
		}
	}
	for s := range im.sheets {
		for i := range s.items {
			if s.items[i].state == pending {
				im.settle(s, i, RowResult{Outcome: Sound})
			}
		}
	}
	return im.finish(), errors.Join(ctx.Err(), im.folder.close())
}

// finish closes the account.
func (im *importer) finish() *Summary {
	im.mu.Lock()
	defer im.mu.Unlock()
	im.summary.Elapsed = time.Since(im.begun)
	s := im.summary
	return &s
}

// filesFolder is the folder below which files lie.
func filesFolder(opts Options) string {
	if opts.Files != "" {
		return opts.Files
	}
	return filepath.Dir(opts.Path)
}
