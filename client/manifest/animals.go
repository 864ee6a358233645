package manifest

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// callsAtOnce bounds calls about single records.
const callsAtOnce = 16

// importAnimals brings in the specimens, before the pictures that show them.
func (im *importer) importAnimals(ctx context.Context) error {
	if im.animals == nil {
		return nil
	}
	im.stage("specimens")
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(callsAtOnce)
	for i := range im.animals.items {
		if im.animals.items[i].state == pending {
			g.Go(func() error { return im.importAnimal(ctx, i) })
		}
	}
	return g.Wait()
}

func (im *importer) importAnimal(ctx context.Context, i int) error {
	s := im.animals
	e := s.entry(i, true)
	if e.animal.GetCatalogNumber() == "" {
		e.animal.CatalogNumber = e.key
		e.paths = append(e.paths, "catalog_number")
	}
	if a := im.names[s.items[i].taxon]; a.taxon != "" {
		e.identification().Taxon = a.taxon
	}
	name := "specimens/" + s.items[i].id
	if !im.opts.DryRun { // first, since a record may appear at any time: one that an import broken off left under way
		_, err := im.c.Archive.CreateSpecimen(ctx, &pb.CreateSpecimenRequest{Specimen: e.animal, SpecimenId: s.items[i].id, RequestId: im.requestID("create", e.animal, name)})
		if !alreadyThere(problemOf(err)) {
			return im.outcome(s, i, RowResult{Outcome: Created, Name: name}, err)
		}
	}
	there, err := im.c.Archive.GetSpecimen(ctx, &pb.GetSpecimenRequest{Name: name})
	switch {
	case status.Code(err) == codes.NotFound && im.opts.DryRun:
		im.settle(s, i, RowResult{Outcome: WouldCreate, Name: name})
		return nil
	case err != nil:
		return im.outcome(s, i, RowResult{Name: name}, err)
	}
	fields := differing(e.animal, there, e.paths)
	switch {
	case len(fields) == 0:
		im.settle(s, i, RowResult{Outcome: Unchanged, Name: name})
		return nil
	case !im.opts.Update:
		im.settle(s, i, RowResult{Outcome: Rejected, Name: name, stands: true, Reason: differsText(fields, SpecimenColumns())})
		return nil
	case im.opts.DryRun:
		im.settle(s, i, RowResult{Outcome: WouldUpdate, Name: name})
		return nil
	}
	e.animal.Name, e.animal.Etag = name, there.GetEtag()
	_, err = im.c.Archive.UpdateSpecimen(ctx, &pb.UpdateSpecimenRequest{Specimen: e.animal, UpdateMask: &fieldmaskpb.FieldMask{Paths: fields},
		RequestId: im.requestID("update", e.animal, strings.Join(fields, ","))})
	return im.outcome(s, i, RowResult{Outcome: Updated, Name: name, stands: true, Remarks: []string{"changed " + columnsOf(fields, SpecimenColumns())}}, err)
}

// alreadyThere says whether a creation was refused because the record exists, or because another key asked for the very same.
func alreadyThere(p *pb.Problem) bool {
	return codes.Code(p.GetCode()) == codes.AlreadyExists || p.GetReason() == "REQUEST_ID_REUSED"
}

// outcome settles a row by what a call answered. Only what stops the whole import is an error.
func (im *importer) outcome(s *sheet, i int, r RowResult, err error) error {
	switch {
	case err == nil:
		im.settle(s, i, r)
		return nil
	case fatal(err):
		return err
	}
	im.settle(s, i, RowResult{Outcome: Rejected, Name: r.Name, stands: r.stands, Reason: problemText(s, problemOf(err))})
	return nil
}

// fatal says whether an error is about the server or the caller rather than about the row.
func fatal(err error) bool {
	switch status.Code(err) {
	case codes.InvalidArgument, codes.FailedPrecondition, codes.AlreadyExists, codes.Aborted, codes.NotFound:
		return false
	default:
		return true
	}
}

// keptAnimals reads the catalog numbers of the archive's specimens, if a picture names one that no row of the specimens file is.
func (im *importer) keptAnimals(ctx context.Context) error {
	wanted := false
	for i := range im.pictures.items {
		it := &im.pictures.items[i]
		if it.animal != "" && it.state == pending && !strings.HasPrefix(it.animal, "specimens/") {
			if _, found := im.animalRow(it.animal); !found {
				wanted = true
			}
		}
	}
	if !wanted {
		return nil
	}
	im.kept = map[string]string{}
	req := &pb.ListSpecimensRequest{PageSize: 1000}
	for {
		res, err := im.c.Archive.ListSpecimens(ctx, req)
		if err != nil {
			return fmt.Errorf("list specimens: %w", err)
		}
		for _, a := range res.GetSpecimens() {
			if _, twice := im.kept[a.GetCatalogNumber()]; twice {
				im.kept[a.GetCatalogNumber()] = ""
			} else {
				im.kept[a.GetCatalogNumber()] = a.GetName()
			}
		}
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
			return nil
		}
	}
}

// animalRow finds the row of the specimens file that a word means; -1 if several do.
func (im *importer) animalRow(word string) (row int, found bool) {
	if im.animals == nil {
		return 0, false
	}
	for _, m := range []map[string]int{im.animals.byKey, im.animals.byID, im.animals.numbers} {
		if row, ok := m[strings.TrimPrefix(word, "specimens/")]; ok {
			return row, true
		}
	}
	return 0, false
}

// animalName turns a picture's word for its specimen into a resource name.
func (im *importer) animalName(word string) (string, error) {
	row, found := im.animalRow(word)
	id, named := strings.CutPrefix(word, "specimens/")
	switch {
	case found && row < 0:
		return "", fmt.Errorf("found %q, a number that several rows of %s have; want the key of one", short(word), im.animals.name)
	case found && im.animals.items[row].state == refused:
		return "", fmt.Errorf("found %q, but %s of %s was rejected; want that mended first", short(word), im.animals.where(row), im.animals.name)
	case found:
		return "specimens/" + im.animals.items[row].id, nil
	case named && plainID.MatchString(id):
		return word, nil
	case im.kept[word] != "":
		return im.kept[word], nil
	}
	if _, several := im.kept[word]; several {
		return "", fmt.Errorf("found %q, a catalog number that several specimens of the archive have; want specimens/{id}", short(word))
	}
	return "", errors.New(unknownAnimal(word))
}

func unknownAnimal(word string) string {
	return fmt.Sprintf("found %q, which neither the specimens file nor the archive has; want the key, id or catalog number of a specimen", short(word))
}
