package manifest

import (
	"context"
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

// remarksOfAFile is how many remarks of the server about one file are told.
const remarksOfAFile = 5

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
		case alreadyThere(problem):
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
	fields := differing(e.picture, there, e.paths)
	switch {
	case len(fields) == 0:
		im.settle(im.pictures, i, RowResult{Outcome: Unchanged, Name: name})
		return nil
	case !im.opts.Update:
		im.settle(im.pictures, i, RowResult{Outcome: Rejected, Name: name, stands: true, Reason: differsText(fields, Columns())})
		return nil
	case im.opts.DryRun:
		im.settle(im.pictures, i, RowResult{Outcome: WouldUpdate, Name: name})
		return nil
	}
	e.picture.Name, e.picture.Etag = name, there.GetEtag()
	_, err = im.c.Archive.UpdatePicture(ctx, &pb.UpdatePictureRequest{Picture: e.picture, UpdateMask: &fieldmaskpb.FieldMask{Paths: fields},
		RequestId: im.requestID("update", e.picture, strings.Join(fields, ","))})
	return im.outcome(im.pictures, i, RowResult{Outcome: Updated, Name: name, stands: true, Remarks: []string{"changed " + columnsOf(fields, Columns())}}, err)
}
