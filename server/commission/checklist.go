package commission

import (
	"fmt"
	"strconv"
	"strings"

	"platarium/indexer"
	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/plan"
)

// Checklist names the structures that usually identify an animal of a taxon's group; the taxon is taxa/{id} or a scientific name as it is spelled. Errors:
// archive.ErrNotFound, and *indexer.FieldError for a name that the classification doesn't have.
func (p *Planner) Checklist(name string) (*pb.Checklist, error) {
	id := &pb.Identification{Taxon: name}
	if !strings.HasPrefix(name, taxaPrefix) {
		var err error
		if id.Taxon, err = p.taxonNamed(name); err != nil {
			return nil, err
		}
	}
	t, err := p.taxonOf(id)
	if err != nil {
		return nil, err
	}
	if t == nil {
		return nil, fmt.Errorf("%w: %s", archive.ErrNotFound, name)
	}
	j := &job{Planner: p, taxon: t, brief: &pb.Brief{}}
	list := plan.ChecklistOf(indexer.LineageOf(p.records.Taxa(), t.GetName()), j.knownCounts())
	out := &pb.Checklist{Group: list.Group}
	for _, it := range list.Structures {
		out.Structures = append(out.Structures, &pb.WantedStructure{Structure: it.Structure, View: pb.View(it.View), Note: it.Note})
	}
	return out, nil
}

// taxonNamed finds the one taxon that a name means as it is spelled; near names are offered.
func (p *Planner) taxonNamed(name string) (string, error) {
	hits := p.records.Taxa().Match(name, 3)
	if len(hits) > 0 && archive.Spelled(hits[0]) && (len(hits) == 1 || !archive.Spelled(hits[1]) || hits[1].Score < hits[0].Score) {
		return taxaPrefix + hits[0].ID, nil
	}
	want := "taxa/{id} or a scientific name of the classification"
	for i, h := range hits {
		want += []string{"; near it: ", ", "}[min(i, 1)] + h.Name
	}
	return "", &indexer.FieldError{Field: "taxon", Found: strconv.Quote(name), Want: want}
}
