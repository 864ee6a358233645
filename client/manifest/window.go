package manifest

import (
	"context"
	"errors"

	"golang.org/x/sync/errgroup"

	pb "platarium/proto/platarium/v1"
)

// Size of a window: the rows whose records go in with one call, once their files are there.
const (
	windowRows    = 500
	windowBytes   = 256 << 20
	batchesAtOnce = 2
)

// window is a run of rows, every row after those it derives from.
type window struct {
	rows  []int32
	known map[int32]bool // rows whose file the archive has
	done  chan struct{}  // closed when every row is settled
}

func (im *importer) windows(order []int32) []*window {
	var all []*window
	var bytes int64
	for _, i := range order {
		it := &im.pictures.items[i]
		if len(all) == 0 || len(all[len(all)-1].rows) == windowRows || bytes+it.size > windowBytes && bytes > 0 {
			all = append(all, &window{known: map[int32]bool{}, done: make(chan struct{})})
			bytes = 0
		}
		w := all[len(all)-1]
		w.rows = append(w.rows, i)
		it.window = int32(len(all) - 1)
		bytes += it.size
	}
	return all
}

// importPictures runs three stages side by side, each on another window: files are hashed, sent, and recorded.
func (im *importer) importPictures(ctx context.Context) error {
	order := im.pictures.order(im.circle)
	im.stage("pictures")
	all := im.windows(order)
	hashed, sent := make(chan *window, 1), make(chan *window, 1)
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error {
		defer close(hashed)
		return pass(ctx, all, hashed, im.hash)
	})
	g.Go(func() error {
		defer close(sent)
		for w := range hashed {
			if err := im.send(ctx, w); err != nil {
				return err
			}
			select {
			case sent <- w:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	slots := make(chan struct{}, batchesAtOnce)
	for w := range sent {
		select {
		case slots <- struct{}{}:
		case <-ctx.Done():
			return errors.Join(ctx.Err(), g.Wait())
		}
		g.Go(func() error {
			defer func() { <-slots }()
			return im.record(ctx, w, all)
		})
	}
	return g.Wait()
}

// circle rejects a row that derives from itself over others.
func (im *importer) circle(i int, way []int) {
	text := "column derived_from: closes a circle: " + im.pictures.where(i)
	for _, j := range way {
		text += " from " + im.pictures.where(j)
	}
	im.reject(im.pictures, i, text)
}

func pass(ctx context.Context, all []*window, next chan<- *window, work func(context.Context, *window) error) error {
	for _, w := range all {
		if err := work(ctx, w); err != nil {
			return err
		}
		select {
		case next <- w:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// record makes the records of a window, once the windows of their sources are done.
func (im *importer) record(ctx context.Context, w *window, all []*window) error {
	for _, i := range w.rows {
		for _, source := range im.pictures.items[i].sources {
			if of := all[im.pictures.items[source].window]; of != w {
				select {
				case <-of.done:
				case <-ctx.Done():
					return ctx.Err()
				}
			}
		}
	}
	var rows []int32
	var requests []*pb.CreatePictureRequest
	var entries []*entry
	for _, i := range w.rows {
		if im.stateOf(im.pictures, int(i)) != pending {
			continue
		}
		e, faults := im.build(int(i))
		if len(faults) > 0 {
			im.reject(im.pictures, int(i), reasonOf(faults))
			continue
		}
		id := im.pictures.items[i].id
		rows, entries = append(rows, i), append(entries, e)
		requests = append(requests, &pb.CreatePictureRequest{Picture: e.picture, PictureId: id, RequestId: im.requestID("create", e.picture, id)})
	}
	if err := im.create(ctx, w, rows, entries, requests); err != nil {
		return err
	}
	close(w.done)
	return nil
}
