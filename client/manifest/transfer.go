package manifest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// hash reads the files of a window and gives its rows their ids. What can't be read is rejected.
func (im *importer) hash(ctx context.Context, w *window) error {
	g, gctx := errgroup.WithContext(ctx)
	g.SetLimit(im.opts.Jobs)
	for _, i := range w.rows {
		if im.pictures.items[i].file != "" && im.pictures.items[i].state == pending {
			g.Go(func() error { return im.hashOne(gctx, int(i)) })
		}
	}
	if err := g.Wait(); err != nil {
		return err
	}
	for _, i := range w.rows {
		if im.pictures.items[i].state == pending {
			im.identify(int(i))
		}
	}
	return im.stat(ctx, w)
}

func (im *importer) hashOne(ctx context.Context, i int) error {
	it := &im.pictures.items[i]
	sum, size, err := func() (string, int64, error) {
		file, info, err := im.folder.open(it.spelled)
		if err != nil {
			return "", 0, err
		}
		sum, size, err := client.Sum(ctx, file)
		if err == nil && size != info.Size() {
			err = wrongFile("found %q, which changed while it was read; want it left alone during the import", short(it.file))
		}
		return sum, size, errors.Join(err, file.Close())
	}()
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		im.rejectFile(i, err)
		return nil
	}
	im.mu.Lock()
	defer im.mu.Unlock()
	it.sum = sum
	im.progress.All += size - it.size
	it.size = size
	im.progress.Checked += size
	im.tell()
	return nil
}

// rejectFile rejects a row for its file, whose bytes then aren't part of the work any more.
func (im *importer) rejectFile(i int, err error) {
	var known *errFile
	text := err.Error()
	if !errors.As(err, &known) {
		text = fmt.Sprintf("found %q, which can't be read: %s", short(im.pictures.items[i].file), err)
	}
	im.reject(im.pictures, i, "column file: "+text)
}

// identify gives a row its id, and rejects it if another row has the same content.
func (im *importer) identify(i int) {
	s, it := im.pictures, &im.pictures.items[i]
	content := ""
	switch {
	case it.sum != "":
		b, err := hex.DecodeString(it.sum)
		if err != nil {
			im.reject(s, i, "column file: "+err.Error())
			return
		}
		content = digestID("x", [sha256.Size]byte(b))
	case it.ownID:
		return
	default:
		content = it.id
	}
	if !it.ownID {
		it.id = content
	}
	first, ok := im.contents[content]
	switch {
	case !ok:
		im.contents[content] = i
	case it.file == "":
		im.reject(s, i, fmt.Sprintf("says the same as %s; want each picture once", s.where(first)))
	case it.ownID && s.items[first].ownID:
		it.remarks = append(it.remarks, fmt.Sprintf("the file is the same as that of %s", s.where(first)))
	default:
		im.reject(s, i, fmt.Sprintf("column file: found %q, which has the same content as that of %s; want each scan once, or an id on both rows where one scan holds several pictures", short(it.file), s.where(first)))
	}
}

// stat asks which files the archive has.
func (im *importer) stat(ctx context.Context, w *window) error {
	var sums []string
	var rows []int32
	for _, i := range w.rows {
		if it := &im.pictures.items[i]; it.sum != "" && it.state == pending {
			sums, rows = append(sums, it.sum), append(rows, i)
		}
	}
	if len(sums) == 0 {
		return nil
	}
	res, err := im.c.Transfer.StatOriginals(ctx, &pb.StatOriginalsRequest{Sha256: sums})
	if err != nil {
		return fmt.Errorf("ask for known files: %w", err)
	}
	if len(res.GetSizes()) != len(sums) {
		return fmt.Errorf("ask for known files: %d answers for %d files", len(res.GetSizes()), len(sums))
	}
	im.mu.Lock()
	defer im.mu.Unlock()
	for k, size := range res.GetSizes() {
		if size >= 0 {
			w.known[rows[k]] = true
			im.pictures.items[rows[k]].sent = true
			im.summary.FilesKnown++
			im.progress.Sent += size
		}
	}
	im.tell()
	return nil
}

// send sends the files of a window that the archive lacks.
func (im *importer) send(ctx context.Context, w *window) error {
	if im.opts.DryRun {
		return nil
	}
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(im.opts.Jobs)
	for _, i := range w.rows {
		if it := &im.pictures.items[i]; it.sum != "" && it.state == pending && !w.known[i] {
			g.Go(func() error { return im.sendOne(ctx, int(i)) })
		}
	}
	return g.Wait()
}

// Sending is tried again when the server was unavailable; pauses double from the first.
const (
	sendTries  = 5
	firstPause = 200 * time.Millisecond
)

func (im *importer) sendOne(ctx context.Context, i int) error {
	pause := firstPause
	for try := 1; ; try++ {
		err := im.upload(ctx, i)
		var local *errFile
		switch {
		case err == nil:
			return nil
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, client.ErrChanged), errors.As(err, &local), !fatal(err):
			im.rejectFile(i, err)
			return nil
		case status.Code(err) != codes.Unavailable || try == sendTries:
			return fmt.Errorf("send %s: %w", im.pictures.items[i].file, err)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause):
			pause *= 2
		}
	}
}

func (im *importer) upload(ctx context.Context, i int) (err error) {
	it := &im.pictures.items[i]
	file, _, err := im.folder.open(it.spelled)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	var sent int64
	res, err := im.c.Upload(ctx, file, it.sum, it.size, it.file, func(n int) {
		im.mu.Lock()
		defer im.mu.Unlock()
		sent += int64(n)
		im.progress.Sent += int64(n)
		im.tell()
	})
	im.mu.Lock()
	defer im.mu.Unlock()
	if err != nil {
		im.progress.Sent -= sent
		return err
	}
	it.sent = true
	if res.GetStored() {
		im.summary.FilesSent++
		im.summary.BytesSent += it.size
	} else {
		im.summary.FilesKnown++
	}
	return nil
}
