package taxaimport

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// identity says whether a taxon of the list is the one that an entry of the archive describes, and why it is not thought to be.
//
// Names of one rank that are spelled alike are homonyms when they stand in different places (families and orders both unlike) or, where places can't be
// compared, were given by different authors. Agreeing authors outweigh the place: classifications differ more often than authors do. Above the genus homonyms
// don't occur among fishes (common practice, no source).
func (im *importer) identity(ctx context.Context, it *item, record *pb.Taxon) (same bool, why string, err error) {
	authors := sameAuthors(it.Authorship, record.GetAuthorship())
	if authors == agrees || it.Rank != taxon.Unranked && it.Rank < taxon.Genus {
		return true, "", nil
	}
	place, why, err := im.samePlace(ctx, it, record)
	switch {
	case err != nil:
		return false, "", err
	case place == differs:
		return false, why, nil
	case place == unknown && authors == differs:
		return false, fmt.Sprintf("the archive has it by %s", record.GetAuthorship()), nil
	}
	return true, "", nil
}

// samePlace compares what stands above a taxon in the list with what stands above an entry of the archive.
func (im *importer) samePlace(ctx context.Context, it *item, record *pb.Taxon) (agreement, string, error) {
	if it.above == nil || record.GetParent() == "" {
		return unknown, "", nil
	}
	if it.above.target == record.GetParent() {
		return agrees, "", nil
	}
	line, err := im.line(ctx, record.GetParent())
	if err != nil {
		return unknown, "", err
	}
	result, why := unknown, ""
	for up := it.above; up != nil; up = up.above {
		if up.Rank >= taxon.Genus { // part of the name, or of no weight
			continue
		}
		if slices.ContainsFunc(line, func(t *pb.Taxon) bool {
			return t.GetName() == up.target || taxon.Fold(t.GetScientificName()) == taxon.Fold(up.Name)
		}) {
			if up.Rank >= taxon.Order || result == unknown {
				return agrees, "", nil
			}
			return result, why, nil // what is above an order holds too much to prove anything
		}
		if up.Rank != taxon.Family && up.Rank != taxon.Order {
			continue
		}
		for _, t := range line {
			if t.GetRank() == up.Rank.String() && result == unknown {
				result, why = differs, fmt.Sprintf("the archive has it in the %s %s, the list in %s", t.GetRank(), t.GetScientificName(), up.Name)
			}
		}
	}
	return result, why, nil
}

// choose finds the one entry that a taxon of the list is. Without one the item has been left out as doubtful, or is new.
func (im *importer) choose(ctx context.Context, it *item, list []meaning) (*meaning, error) {
	var fits, strange []meaning
	var reasons []string
	for _, m := range list {
		same, why, err := im.identity(ctx, it, m.record)
		switch {
		case err != nil:
			return nil, err
		case same:
			fits = append(fits, m)
		default:
			strange, reasons = append(strange, m), append(reasons, why)
		}
	}
	switch {
	case len(fits) == 1:
		return im.claim(it, fits[0]), nil
	case len(fits) > 1:
		it.candidates = candidatesOf(fits)
		it.leaveOut(Doubtful, Fault{Column: "scientificName", Found: it.Name, Wanted: "a name that means one taxon of the archive; it may mean several"})
		return nil, nil
	case len(strange) == 0, im.opts.Homonyms == Add:
		return nil, nil
	case im.opts.Homonyms == Same && len(strange) == 1:
		return im.claim(it, strange[0]), nil
	}
	it.candidates = candidatesOf(strange)
	it.leaveOut(Doubtful, Fault{Column: "scientificName", Found: it.Name, Wanted: "a name that the archive doesn't have elsewhere: " + strings.Join(reasons, "; ") + ". Say whether homonyms are to be added or are the same"})
	return nil, nil
}

// claim takes an entry for a taxon of the list, unless another taxon of the list was taken for it; the item is then left out.
func (im *importer) claim(it *item, m meaning) *meaning {
	name := m.record.GetName()
	if other := im.claimed[name]; other != nil && other != it {
		it.candidates = candidatesOf([]meaning{m})
		it.leaveOut(Doubtful, Fault{Column: "scientificName", Found: it.Name, Wanted: fmt.Sprintf("another taxon than %s, which was taken for %s", other.where(), name)})
		return nil
	}
	im.claimed[name] = it
	return &m
}
