package taxaimport

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/sync/errgroup"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

const (
	mostInBatch   = 1000
	changesAtOnce = 8
)

// store writes what was decided, level by level, so that what stands above is there first.
func (im *importer) store(ctx context.Context) error {
	var levels [][]*item
	done := 0
	for _, it := range im.items {
		if it.write == nil || im.opts.DryRun {
			im.settle(it)
			done++
			continue
		}
		for len(levels) <= it.depth {
			levels = append(levels, nil)
		}
		levels[it.depth] = append(levels[it.depth], it)
	}
	for _, level := range levels {
		var fresh, changed []*item
		for _, it := range level {
			if it.above != nil && it.above.out() {
				it.leaveOut(Rejected, Fault{Column: "parent", Found: it.above.Name, Wanted: "a taxon above it that went in; " + it.above.where() + " was refused"})
				im.settle(it)
				done++
				continue
			}
			if it.was.GetRevision() > 0 {
				changed = append(changed, it)
			} else {
				fresh = append(fresh, it)
			}
		}
		for batch := range slices.Chunk(fresh, mostInBatch) {
			if err := im.create(ctx, batch); err != nil {
				return err
			}
			done += len(batch)
			im.progress("storing", done, len(im.items))
		}
		for batch := range slices.Chunk(changed, mostInBatch) {
			if err := im.change(ctx, batch); err != nil {
				return err
			}
			done += len(batch)
			im.progress("storing", done, len(im.items))
		}
	}
	return nil
}

// create makes new entries, those laid over the base among them.
func (im *importer) create(ctx context.Context, batch []*item) error {
	req := &pb.BatchCreateTaxaRequest{}
	for _, it := range batch {
		r := &pb.CreateTaxonRequest{Taxon: it.write, TaxonId: strings.TrimPrefix(it.target, "taxa/")}
		var err error
		if r.RequestId, err = requestID("create", r, im.since); err != nil {
			return fmt.Errorf("%s: %w", it.where(), err)
		}
		req.Requests = append(req.Requests, r)
	}
	res, err := im.c.Taxa.BatchCreateTaxa(ctx, req)
	if err != nil {
		return fmt.Errorf("store %d taxa: %w", len(batch), err)
	}
	if len(res.GetOutcomes()) != len(batch) {
		return fmt.Errorf("store %d taxa: %d answers", len(batch), len(res.GetOutcomes()))
	}
	for i, o := range res.GetOutcomes() {
		if p := o.GetError(); p != nil {
			batch[i].leaveOut(Rejected, faultOf(p.GetMessage(), p.GetViolations()))
		}
		im.settle(batch[i])
	}
	return nil
}

// change writes over entries that the studio had, provided that nobody changed them meanwhile.
func (im *importer) change(ctx context.Context, batch []*item) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(changesAtOnce)
	for _, it := range batch {
		g.Go(func() error {
			err := update(ctx, im.c.Taxa, it.write, []string{"scientific_name", "authorship", "rank", "status", "accepted", "parent", "vernaculars", "source"}, im.since)
			if f, ok := refusal(err); ok {
				it.leaveOut(Rejected, f)
				err = nil
			}
			if err != nil {
				return fmt.Errorf("change %s: %w", it.target, err)
			}
			return nil
		})
	}
	if err := g.Wait(); err != nil {
		return err
	}
	for _, it := range batch {
		im.settle(it)
	}
	return nil
}

func update(ctx context.Context, c pb.TaxaServiceClient, t *pb.Taxon, mask []string, since int64) error {
	req := &pb.UpdateTaxonRequest{Taxon: t, UpdateMask: &fieldmaskpb.FieldMask{Paths: mask}}
	var err error
	if req.RequestId, err = requestID("update", req, since); err != nil {
		return err
	}
	_, err = c.UpdateTaxon(ctx, req)
	return err
}
