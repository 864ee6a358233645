package taxaimport

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// compare lays what the list adds over an entry that the archive has. What the list says otherwise is taken only where nothing is lost by it (a name of the base
// that the list accepts, or calls a synonym) or where the caller asked for it; else it is a remark.
func (im *importer) compare(ctx context.Context, it *item, m *meaning) error {
	it.target, it.was = m.record.GetName(), m.record
	if im.opts.OnlyNew {
		return nil
	}
	it.write = proto.Clone(m.record).(*pb.Taxon)
	it.write.Vernaculars, it.adds = moreVernaculars(it.write.Vernaculars, it.Vernaculars)
	im.compareName(it, m)
	im.compareStatus(it, m)
	if err := im.compareParent(ctx, it, m); err != nil {
		return err
	}
	if len(it.adds) == 0 {
		it.write = nil
		return nil
	}
	it.state = change(*m)
	im.finishWrite(it)
	return nil
}

// compareName compares authors, and the name of an entry that this list made earlier.
func (im *importer) compareName(it *item, m *meaning) {
	have := m.record.GetAuthorship()
	switch {
	case it.Authorship == "" || it.Authorship == have:
	case have == "":
		it.write.Authorship = it.Authorship
		it.adds = append(it.adds, "authorship "+it.Authorship)
	case im.opts.Update:
		it.write.Authorship = it.Authorship
		it.adds = append(it.adds, fmt.Sprintf("authorship %s instead of %s", it.Authorship, have))
	case sameAuthors(it.Authorship, have) == differs:
		it.remarks = append(it.remarks, fmt.Sprintf("authorship: the archive has %q, the list %q", have, it.Authorship))
	}
	was, rank := m.record.GetScientificName(), m.record.GetRank()
	if it.Name != was {
		im.otherwise(it, fmt.Sprintf("name %s instead of %s", it.Name, was), func() { it.write.ScientificName = it.Name })
	}
	if r, _ := taxon.ParseRank(rank); it.Status != taxon.Synonym && it.Rank != taxon.Unranked && r != it.Rank {
		im.otherwise(it, fmt.Sprintf("rank %s instead of %s", it.Rank, rank), func() { it.write.Rank = it.Rank.String() })
	}
}

// otherwise changes what the archive says differently, if the caller wants that, and remarks on it if not.
func (im *importer) otherwise(it *item, what string, take func()) {
	if im.opts.Update {
		take()
		it.adds = append(it.adds, what)
		return
	}
	it.remarks = append(it.remarks, "the list says otherwise: "+what)
}

// compareStatus makes an accepted name of a synonym, or a synonym of an accepted name.
func (im *importer) compareStatus(it *item, m *meaning) {
	var what string
	var take func()
	switch {
	case it.Status == taxon.Synonym && (!m.synonym() || m.accepted != it.above.target):
		what = "now a synonym of " + it.above.Name
		take = func() {
			it.write.Status, it.write.Accepted, it.write.Parent = pb.TaxonStatus_TAXON_STATUS_SYNONYM, it.above.target, ""
		}
	case it.Status != taxon.Synonym && m.synonym():
		what = "now an accepted name"
		take = func() {
			it.write.Status, it.write.Accepted = pb.TaxonStatus_TAXON_STATUS_ACCEPTED, ""
			if it.above != nil {
				it.write.Parent = it.above.target
			} else {
				it.write.Parent = im.genus(it)
			}
		}
	default:
		return
	}
	if m.ofStudio() {
		im.otherwise(it, what, take)
		return
	}
	take()
	it.adds = append(it.adds, what)
}

// compareParent compares the place. A list that leaves out ranks between says nothing else.
func (im *importer) compareParent(ctx context.Context, it *item, m *meaning) error {
	if it.Status == taxon.Synonym || it.above == nil || it.above.out() || it.write.GetParent() == it.above.target {
		return nil
	}
	if have := m.record.GetParent(); have != "" {
		line, err := im.line(ctx, have)
		if err != nil {
			return err
		}
		if len(line) == 0 || slices.ContainsFunc(line, func(t *pb.Taxon) bool { return t.GetName() == it.above.target }) {
			return nil
		}
		im.otherwise(it, fmt.Sprintf("under %s instead of %s", it.above.Name, line[len(line)-1].GetScientificName()), func() { it.write.Parent = it.above.target })
		return nil
	}
	it.write.Parent = it.above.target
	it.adds = append(it.adds, "place under "+it.above.Name)
	return nil
}

// finishWrite says in the entry which list had a part in it.
func (im *importer) finishWrite(it *item) {
	source := im.source(it)
	switch have := it.write.GetSource(); {
	case have == "":
		it.write.Source = source
	case !strings.Contains(have, source):
		it.write.Source = have + "; " + source
	}
}

// moreVernaculars adds the names that are not there yet, and says which. A name whose language one side leaves open is the same name.
func moreVernaculars(have []*pb.Vernacular, list []taxon.Vernacular) (all []*pb.Vernacular, added []string) {
	all = have
	for _, v := range list {
		there := slices.IndexFunc(all, func(h *pb.Vernacular) bool {
			return taxon.Fold(h.GetVernacular()) == taxon.Fold(v.Name) && (h.GetLanguage() == v.Lang || h.GetLanguage() == "" || v.Lang == "")
		})
		what := "vernacular " + v.Name
		if v.Lang != "" {
			what += " (" + v.Lang + ")"
		}
		switch {
		case there < 0:
			all = append(all, &pb.Vernacular{Vernacular: v.Name, Language: v.Lang})
		case all[there].GetLanguage() == "" && v.Lang != "":
			all[there].Language = v.Lang
		default:
			continue
		}
		added = append(added, what)
	}
	return all, added
}
