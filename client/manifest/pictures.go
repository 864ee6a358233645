package manifest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// Size of a window: the rows whose records go in with one call, once their files are there.
const (
	windowRows     = 500
	windowBytes    = 256 << 20
	batchesAtOnce  = 2
	remarksOfAFile = 5
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

// build makes the record of a row.
func (im *importer) build(i int) (*entry, []fault) {
	s, it := im.pictures, &im.pictures.items[i]
	e := s.entry(i, true)
	p := e.picture
	var faults []fault
	if a := im.names[it.taxon]; a.taxon != "" {
		e.identification().Taxon = a.taxon
	}
	if e.specimen != "" {
		name, err := im.animalName(e.specimen)
		if err != nil {
			faults = append(faults, fault{"specimen", err.Error()})
		}
		p.Specimen = name
	}
	faults = append(faults, s.link(i, e)...)
	for _, d := range e.sources {
		name := d.name
		if d.item >= 0 {
			if im.stateOf(s, d.item) == refused {
				faults = append(faults, fault{"derived_from", im.refusedSource(d.item)})
			}
			name = "pictures/" + s.items[d.item].id
		}
		p.DerivedFrom = append(p.DerivedFrom, &pb.Derivation{Picture: name, Role: d.role})
	}
	for _, d := range e.outside {
		p.DerivedFrom = append(p.DerivedFrom, &pb.Derivation{Source: d.name, Role: d.role})
	}
	if it.sum != "" {
		p.Original = &pb.Original{Sha256: it.sum}
		e.paths = append(e.paths, "original")
	}
	p.Provenance = &pb.Provenance{FileName: it.file, ImportId: im.importID, Row: int32(s.rows[i].row)}
	return e, faults
}

func (im *importer) refusedSource(row int) string {
	return fmt.Sprintf("its source, %s, was rejected; want that mended first", im.pictures.where(row))
}

// create sends a batch and settles its rows.
func (im *importer) create(ctx context.Context, w *window, rows []int32, entries []*entry, requests []*pb.CreatePictureRequest) error {
	if len(rows) == 0 {
		return nil
	}
	if im.opts.DryRun {
		requests = im.trial(w, rows, entries, requests)
	}
	outcomes, err := im.batch(ctx, requests)
	if err != nil {
		return err
	}
	again, actx := errgroup.WithContext(ctx)
	again.SetLimit(callsAtOnce)
	for k, o := range outcomes {
		i, made, problem := int(rows[k]), o.GetPicture(), o.GetError()
		switch {
		case codes.Code(problem.GetCode()) == codes.AlreadyExists, problem.GetReason() == "REQUEST_ID_REUSED":
			again.Go(func() error { return im.compare(actx, i, entries[k]) })
		case made != nil:
			im.settle(im.pictures, i, im.made(i, made))
		default:
			im.reject(im.pictures, i, im.whyRefused(i, problem))
		}
	}
	return again.Wait()
}

func (im *importer) made(i int, p *pb.Picture) RowResult {
	r := RowResult{Outcome: Created, Name: "pictures/" + im.pictures.items[i].id, Remarks: p.GetOriginal().GetRemarks()}
	if im.opts.DryRun {
		r.Outcome = WouldCreate
	}
	if len(r.Remarks) > remarksOfAFile {
		r.Remarks = r.Remarks[:remarksOfAFile]
	}
	return r
}

// whyRefused puts a refusal into words. One that comes of a source that was itself refused in the same batch says so.
func (im *importer) whyRefused(i int, p *pb.Problem) string {
	for _, source := range im.pictures.items[i].sources {
		if im.stateOf(im.pictures, int(source)) == refused {
			return "column derived_from: " + im.refusedSource(int(source))
		}
	}
	return problemText(im.pictures, p)
}

// trial takes out of requests what a dry run can't have stored: files, specimens and sources of this very import. They were checked by themselves.
func (im *importer) trial(w *window, rows []int32, entries []*entry, requests []*pb.CreatePictureRequest) []*pb.CreatePictureRequest {
	out := make([]*pb.CreatePictureRequest, len(requests))
	for k, r := range requests {
		p := proto.Clone(r.GetPicture()).(*pb.Picture)
		if !w.known[rows[k]] {
			p.Original = nil
		}
		if _, own := im.animalRow(entries[k].specimen); own {
			p.Specimen = ""
		}
		p.DerivedFrom = slices.DeleteFunc(p.DerivedFrom, func(d *pb.Derivation) bool {
			row, _ := im.pictures.find(d.GetPicture())
			return row >= 0 || slices.ContainsFunc(entries[k].sources, func(s derivation) bool {
				return s.item >= 0 && d.GetPicture() == "pictures/"+im.pictures.items[s.item].id
			})
		})
		out[k] = &pb.CreatePictureRequest{Picture: p, PictureId: r.GetPictureId(), RequestId: r.GetRequestId() + "-trial"}
	}
	return out
}

// batch makes records, asking again for those that the server couldn't tell about.
func (im *importer) batch(ctx context.Context, requests []*pb.CreatePictureRequest) ([]*pb.PictureOutcome, error) {
	out := make([]*pb.PictureOutcome, len(requests))
	open := make([]int, len(requests))
	for i := range open {
		open[i] = i
	}
	pause := firstPause
	for try := 1; ; try++ {
		req := &pb.BatchCreatePicturesRequest{ValidateOnly: im.opts.DryRun}
		for _, i := range open {
			req.Requests = append(req.Requests, requests[i])
		}
		res, err := im.c.Archive.BatchCreatePictures(ctx, req)
		if err != nil {
			return nil, fmt.Errorf("create pictures: %w", err)
		}
		if len(res.GetOutcomes()) != len(open) {
			return nil, fmt.Errorf("create pictures: %d answers to %d requests", len(res.GetOutcomes()), len(open))
		}
		first := len(open)
		for k, o := range res.GetOutcomes() {
			if out[open[k]] = o; first == len(open) && unclear(o.GetError()) {
				first = k
			}
		}
		if first == len(open) {
			return out, nil
		}
		if worst := out[open[first]].GetError(); try == sendTries {
			if codes.Code(worst.GetCode()) == codes.Internal {
				return out, nil // the server can't do this row; the others are answered
			}
			return nil, status.Error(codes.Code(worst.GetCode()), worst.GetMessage())
		}
		open = open[first:] // what comes after it may derive from it
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(pause):
			pause *= 2
		}
	}
}

// unclear says whether the server couldn't tell what became of a row.
func unclear(p *pb.Problem) bool {
	switch codes.Code(p.GetCode()) {
	case codes.Unavailable, codes.Internal, codes.Canceled, codes.DeadlineExceeded:
		return true
	default:
		return false
	}
}

// compare settles a row whose picture was made before.
func (im *importer) compare(ctx context.Context, i int, e *entry) error {
	name := "pictures/" + im.pictures.items[i].id
	there, err := im.c.Archive.GetPicture(ctx, &pb.GetPictureRequest{Name: name})
	if err != nil {
		return im.outcome(im.pictures, i, RowResult{Name: name}, err)
	}
	fields, labels := differing(e.picture, there, e.paths, Columns())
	switch {
	case len(fields) == 0:
		im.settle(im.pictures, i, RowResult{Outcome: Unchanged, Name: name})
		return nil
	case !im.opts.Update:
		im.settle(im.pictures, i, RowResult{Outcome: Rejected, Name: name, Reason: differsText(labels)})
		return nil
	case im.opts.DryRun:
		im.settle(im.pictures, i, RowResult{Outcome: WouldUpdate, Name: name})
		return nil
	}
	e.picture.Name, e.picture.Etag = name, there.GetEtag()
	_, err = im.c.Archive.UpdatePicture(ctx, &pb.UpdatePictureRequest{Picture: e.picture, UpdateMask: &fieldmaskpb.FieldMask{Paths: fields},
		RequestId: im.requestID("update", e.picture, strings.Join(fields, ","))})
	return im.outcome(im.pictures, i, RowResult{Outcome: Updated, Name: name, Remarks: []string{"changed " + strings.Join(labels, ", ")}}, err)
}
