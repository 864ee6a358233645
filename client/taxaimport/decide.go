package taxaimport

import (
	"context"
	"strings"

	"google.golang.org/protobuf/proto"

	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// decideAll settles what is to be done with each taxon, from the top down.
func (im *importer) decideAll(ctx context.Context) error {
	for i, it := range im.items {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := im.decide(ctx, it); err != nil {
			return err
		}
		if it.state == "" {
			it.state = Unchanged
		}
		if above := it.above; it.write != nil && above != nil && above.write != nil {
			it.depth = above.depth + 1
		}
		if i%namesAtOnce == 0 {
			im.progress("comparing", i, len(im.items))
		}
	}
	return nil
}

func (im *importer) decide(ctx context.Context, it *item) error {
	found, err := im.find(ctx, it)
	if err != nil || it.out() {
		return err
	}
	orphan := it.above != nil && it.above.out()
	switch {
	case orphan && it.Status == taxon.Synonym:
		it.leaveOut(Rejected, Fault{Column: "accepted", Found: it.above.Name, Wanted: "an accepted taxon that goes in; " + it.above.where() + " was left out"})
	case orphan && found == nil:
		it.leaveOut(Rejected, Fault{Column: "parent", Found: it.above.Name, Wanted: "a taxon above it that goes in; " + it.above.where() + " was left out"})
	case found != nil:
		return im.compare(ctx, it, found)
	case it.Status == taxon.Synonym:
		return im.decideSynonym(ctx, it)
	default:
		im.add(it)
	}
	return nil
}

// find looks for the entry that an item is: by its own id, which an earlier import gave, then by its name. Without one and without a doubt the item is new.
func (im *importer) find(ctx context.Context, it *item) (*meaning, error) {
	if own, ok := im.own[it.target]; ok {
		im.claimed[it.target] = it
		return &meaning{record: own, accepted: own.GetAccepted()}, nil
	}
	if !settled(it.Name) || it.Status == taxon.Synonym {
		return nil, nil
	}
	var accepted, synonyms []meaning
	for _, m := range im.meanings(it.Name, it.Rank) {
		switch {
		case m.earlier:
			it.candidates = candidatesOf([]meaning{m})
			it.leaveOut(Doubtful, Fault{Column: "scientificName", Found: it.Name, Wanted: "the name that the studio uses now, " + m.record.GetScientificName()})
			return nil, nil
		case m.synonym():
			synonyms = append(synonyms, m)
		default:
			accepted = append(accepted, m)
		}
	}
	if len(accepted) == 0 {
		accepted = synonyms // the list accepts a name that the archive holds for a synonym
	}
	return im.choose(ctx, it, accepted)
}

// decideSynonym looks whether the archive knows a synonym, and of what.
func (im *importer) decideSynonym(ctx context.Context, it *item) error {
	of := it.above.target
	var other []meaning
	for _, m := range im.meanings(it.Name, taxon.Unranked) {
		switch {
		case m.record.GetName() == of: // the very name of its taxon, by other authors
			it.target = of
			return nil
		case m.accepted == of:
			return im.compare(ctx, it, &m)
		case sameAuthors(it.Authorship, m.record.GetAuthorship()) != differs:
			other = append(other, m)
		}
	}
	if len(other) == 0 {
		im.add(it)
		return nil
	}
	m := other[0]
	it.candidates = candidatesOf(other)
	switch taken := im.claimed[m.record.GetName()]; {
	case len(other) > 1:
		it.leaveOut(Doubtful, Fault{Column: "scientificName", Found: it.Name, Wanted: "a name that means one taxon of the archive; it may mean several"})
	case taken != nil && taken != it:
		it.leaveOut(Doubtful, Fault{Column: "scientificName", Found: it.Name, Wanted: "a name that the list accepts nowhere else; " + taken.where() + " does"})
	case m.earlier, m.ofStudio() && !im.opts.Update:
		it.leaveOut(Doubtful, Fault{Column: "accepted", Found: it.above.Name, Wanted: "what the studio has entered itself: " + m.candidate().String()})
	case im.opts.OnlyNew:
		it.target, it.candidates = m.record.GetName(), nil
	default:
		it.candidates = nil
		im.claimed[m.record.GetName()] = it
		im.sink(it, m)
	}
	return nil
}

// sink makes a synonym of an entry that the archive accepted, or gives it to another taxon.
func (im *importer) sink(it *item, m meaning) {
	it.target, it.was, it.state = m.record.GetName(), m.record, change(m)
	it.write = proto.Clone(m.record).(*pb.Taxon)
	it.write.Status, it.write.Accepted, it.write.Parent = pb.TaxonStatus_TAXON_STATUS_SYNONYM, it.above.target, ""
	it.adds = append(it.adds, "now a synonym of "+it.above.Name)
	im.finishWrite(it)
}

// change is the outcome of writing over an entry.
func change(m meaning) Outcome {
	if m.ofStudio() {
		return Changed
	}
	return LaidOver
}

// add makes a new entry.
func (im *importer) add(it *item) {
	t := &pb.Taxon{ScientificName: it.Name, Authorship: it.Authorship, Rank: it.Rank.String(), Status: pb.TaxonStatus_TAXON_STATUS_ACCEPTED, Source: im.source(it)}
	switch {
	case it.Status == taxon.Synonym:
		t.Status, t.Accepted = pb.TaxonStatus_TAXON_STATUS_SYNONYM, it.above.target
		it.adds = append(it.adds, "synonym of "+it.above.Name)
	case it.above != nil:
		t.Parent = it.above.target
	default:
		t.Parent = im.genus(it)
	}
	t.Vernaculars, _ = moreVernaculars(nil, it.Vernaculars)
	if near := im.near(it.Name); len(near) > 0 {
		it.remarks = append(it.remarks, "the archive has a name much like it: "+strings.Join(near, ", "))
	}
	it.state, it.write = Added, t
}

// genus places a species that the list leaves without a taxon above it under the genus that its name says, if the archive has one such genus.
func (im *importer) genus(it *item) string {
	name := genusOf(it)
	if name == "" {
		return ""
	}
	found := ""
	for _, m := range im.meanings(name, taxon.Genus) {
		if m.earlier || m.record.GetRank() != taxon.Genus.String() {
			continue
		}
		if found != "" && found != m.accepted {
			it.remarks = append(it.remarks, "without a place: several genera are called "+name)
			return ""
		}
		found = m.accepted
	}
	if found == "" {
		it.remarks = append(it.remarks, "without a place: neither the list nor the archive has its genus")
	}
	return found
}

// source says where an entry comes from.
func (im *importer) source(it *item) string {
	if it.Source != "" {
		return it.Source
	}
	return im.opts.List
}
