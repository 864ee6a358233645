package commission

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"platarium/indexer"
	"platarium/indexer/meristic"
	"platarium/indexer/rank"
	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/plan"
)

// job is the making of one plan.
type job struct {
	*Planner
	brief    *pb.Brief
	taxon    *pb.Taxon
	lineage  []rank.Taxon
	specimen *pb.Specimen // at hand; nil if none
	view     rank.View    // of the whole animal
	wanted   []want
	sources  []plan.Source
	target   []meristic.Statement
	size     size
	body     *sight // nil if there is none
	seen     map[string]*sight
	sequence int64
	remarks  []string
}

// want is one structure to be drawn.
type want struct {
	structure string
	view      rank.View
	note      string
	uses      []*use // best first
	scorer    *rank.Scorer
	target    []meristic.Statement // of its characters
}

// sight is a picture as a plan looks at it; filled in steps, and once for all structures.
type sight struct {
	*pb.Picture
	specimen *pb.Specimen
	animal   string // accepted name
	rank     rank.Picture
	counts   []meristic.Statement
	scaled   *scaled
	rights   *taken
	common   rank.Taxon
}

// MakePlan makes the plan of a kept brief or a draft. Errors: archive.ErrNotFound, those of archive.PrepareBrief, of the index, and ctx's.
func (p *Planner) MakePlan(ctx context.Context, req *pb.MakePlanRequest) (*pb.Plan, error) {
	var b *pb.Brief
	var err error
	if req.GetBrief() != "" {
		b, err = p.records.GetBrief(req.GetBrief())
	} else {
		b, err = p.records.PrepareBrief(req.GetDraft())
	}
	if err != nil {
		return nil, err
	}
	j := &job{Planner: p, brief: b, seen: map[string]*sight{}}
	show := int(req.GetCandidates())
	if show == 0 {
		show = defaultCandidates
	}
	if err := j.read(); err != nil {
		return nil, err
	}
	if err := j.findBody(ctx); err != nil {
		return nil, err
	}
	j.measure()
	if err := j.findCandidates(ctx); err != nil {
		return nil, err
	}
	return j.plan(show)
}

// read takes in what the brief names.
func (j *job) read() error {
	taxa := j.records.Taxa()
	accepted, ok := taxa.Accepted(strings.TrimPrefix(j.brief.GetIdentification().GetTaxon(), taxaPrefix))
	if !ok {
		return fmt.Errorf("%w: %s, of which the brief is", archive.ErrNotFound, j.brief.GetIdentification().GetTaxon())
	}
	var err error
	if j.taxon, err = j.records.GetTaxon(taxaPrefix + accepted.ID); err != nil {
		return err
	}
	j.lineage = indexer.LineageOf(taxa, j.taxon.GetName())
	if name := j.brief.GetSpecimen(); name != "" {
		if j.specimen, err = j.specimenOf(name); err != nil {
			return err
		}
		if j.specimen == nil {
			j.remark("%s was deleted: the brief has no specimen at hand", name)
		}
	}
	j.view = rank.LeftLateral
	if v := j.brief.GetViews(); len(v) > 0 && v[0] != pb.View_VIEW_UNSPECIFIED {
		j.view = rank.View(v[0])
	}
	j.readWanted()
	j.readCounts()
	for i := range j.wanted {
		w := &j.wanted[i]
		w.target = plan.Of(j.target, plan.Characters(w.structure))
		w.scorer = rank.New(j.ranking, rank.Wanted{Lineage: j.lineage, Counts: countsOf(w.target), Structures: []string{w.structure}, View: w.view})
	}
	return nil
}

// readWanted lists the structures: the brief's, else the usual ones; and the whole animal from every further view.
func (j *job) readWanted() {
	for _, w := range j.brief.GetStructures() {
		j.wanted = append(j.wanted, want{structure: plan.Fold(w.GetStructure()), view: rank.View(w.GetView()), note: w.GetNote()})
	}
	if len(j.wanted) == 0 {
		list := plan.ChecklistOf(j.lineage, j.knownCounts())
		j.remark("no structures were named: the usual checklist of %s", list.Group)
		for _, it := range list.Structures {
			j.wanted = append(j.wanted, want{structure: it.Structure, view: it.View, note: it.Note})
		}
	}
	for i := range j.wanted {
		if j.wanted[i].view == rank.AnyView {
			j.wanted[i].view = j.view
		}
	}
	for _, v := range j.brief.GetViews()[min(1, len(j.brief.GetViews())):] {
		j.wanted = append(j.wanted, want{structure: "body shape", view: rank.View(v), note: "the whole animal from this side"})
	}
}

func (j *job) remark(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if !slices.Contains(j.remarks, text) {
		j.remarks = append(j.remarks, text)
	}
}

// look gives a picture of the archive; nil if it was deleted meanwhile.
func (j *job) look(name string) (*sight, error) {
	if s, ok := j.seen[name]; ok {
		return s, nil
	}
	p, err := found(j.records.GetPicture(name))
	if err != nil || p == nil {
		return nil, err
	}
	s, err := j.sightOf(p)
	if err != nil {
		return nil, err
	}
	s.common = common(j.lineage, s.rank.Lineage)
	j.seen[name] = s
	return s, nil
}

// sightOf gathers what is known of a picture beside its record.
func (p *Planner) sightOf(pic *pb.Picture) (*sight, error) {
	s := &sight{Picture: pic, animal: acceptedName(p.records.Taxa(), pic.GetIdentification())}
	var err error
	if name := pic.GetSpecimen(); name != "" {
		if s.specimen, err = p.specimenOf(name); err != nil {
			return nil, err
		}
	}
	s.rank = indexer.Describe(pic, s.specimen, p.records.Taxa())
	formula := pic.GetCounts().GetFormula()
	if strings.TrimSpace(formula) == "" {
		formula = s.specimen.GetCounts().GetFormula()
	}
	s.counts = statementsOf(formula)
	return s, nil
}

// specimenOf reads a specimen; nil if it was deleted.
func (p *Planner) specimenOf(name string) (*pb.Specimen, error) {
	return found(p.records.GetSpecimen(name))
}

// common is the lowest taxon of both lineages.
func common(a, b []rank.Taxon) (t rank.Taxon) {
	for i := range min(len(a), len(b)) {
		if a[i].ID != b[i].ID {
			break
		}
		t = a[i]
	}
	return t
}
