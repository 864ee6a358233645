package commission

import (
	"context"
	"slices"

	"platarium/indexer"
	"platarium/indexer/rank"
	pb "platarium/proto/platarium/v1"
	"platarium/server/plan"
	"platarium/server/scale"
)

// use is a picture that could serve a structure.
type use struct {
	*sight
	as           string // the name under which it shows the structure; empty for the whole animal
	completeness rank.Completeness
	region       *pb.Region
	note         string // of the structure as shown
	mirror       bool
	fixed        string // a person's words, if a person chose it
	chosen       bool
	score        float64
	reasons      []rank.Reason
	differing    []plan.Difference
	rights       *taken
}

// search asks the index once; the hits best first.
func (j *job) search(ctx context.Context, structures []string, wanted *pb.Wanted, views ...pb.View) ([]*sight, error) {
	wanted.Near = j.taxon.GetName()
	answer, err := j.index.Search(ctx, indexer.Query{Request: &pb.SearchPicturesRequest{
		Filter: &pb.PictureFilter{Structures: structures, Views: views}, Wanted: wanted, PageSize: asked, Order: pb.SearchPicturesRequest_ORDER_RELEVANCE,
	}})
	if err != nil {
		return nil, err
	}
	j.sequence = max(j.sequence, answer.Sequence)
	var out []*sight
	for _, h := range answer.Hits {
		s, err := j.look(h.Name)
		if err != nil {
			return nil, err
		}
		if s != nil && s.GetName() != j.brief.GetPlate() { // the plate that came of the brief is no source of it
			out = append(out, s)
		}
	}
	return out, nil
}

// wholes finds pictures of the whole animal from a side, or from the other one where that can be mirrored.
func (j *job) wholes(ctx context.Context, view rank.View) ([]*sight, error) {
	views := []pb.View{pb.View(view)}
	for _, other := range []rank.View{rank.LeftLateral, rank.RightLateral} {
		if plan.Mirror(other, view, j.lineage, j.ranking) {
			views = append(views, pb.View(other))
		}
	}
	hits, err := j.search(ctx, nil, &pb.Wanted{Counts: formulaOf(j.target), View: pb.View(view)}, views...)
	return slices.DeleteFunc(hits, func(s *sight) bool { return !whole(s.Picture) }), err
}

// whole says whether a picture shows the animal from end to end: by its landmarks, or by a tail with other parts that stand apart from it.
func whole(p *pb.Picture) bool {
	var snout, tail bool
	for _, l := range p.GetLandmarks() {
		switch l.GetLandmark() {
		case scale.SnoutTip:
			snout = true
		case scale.HypuralEnd, scale.TailTip, scale.Fork:
			tail = true
		}
	}
	caudal, others := false, 0
	for _, s := range p.GetStructures() {
		switch s.GetStructure() {
		case "body shape", "body":
			return true
		case "caudal fin":
			caudal = true
		default:
			others++
		}
	}
	const enough = 2 // parts beside the tail
	return snout && tail || caudal && others >= enough
}

// findBody takes the brief's body, else the best view of the whole animal that has a scale, is of its family and shows no sign of a deformed body.
func (j *job) findBody(ctx context.Context) error {
	if name := j.brief.GetBody(); name != "" {
		s, err := j.look(name)
		if err != nil {
			return err
		}
		if s != nil {
			j.body = s
			if k := j.scaleOf(s); k.problem != "" {
				j.remark("the body %s has no sound scale: %s", name, k.problem)
			}
			return nil
		}
		j.remark("%s, chosen as the body, was deleted", name)
	}
	hits, err := j.wholes(ctx, j.view)
	if err != nil {
		return err
	}
	for _, s := range hits {
		k := j.scaleOf(s)
		if k.problem != "" || k.pixels == 0 || s.common.Rank < bodyRank || len(j.deformations(s)) > 0 {
			continue
		}
		j.body = s
		j.remark("the body is %s (%s), the best one with a scale: choose another in the brief if it isn't true to life", s.GetName(), s.animal)
		return nil
	}
	j.remark("no picture of the whole animal has a scale and a body that can be built on: set a scale bar or the landmarks “snout tip” and “hypural end” of one, or name a body in the brief")
	return nil
}

// findCandidates gathers for each structure the pictures that could serve.
func (j *job) findCandidates(ctx context.Context) error {
	for _, c := range j.brief.GetChoices() {
		if !slices.ContainsFunc(j.wanted, func(w want) bool { return w.structure == plan.Fold(c.GetStructure()) }) {
			j.remark("a choice is for the %s, which isn't among the structures wanted", c.GetStructure())
		}
	}
	wholes := map[rank.View][]*sight{}
	for i := range j.wanted {
		w := &j.wanted[i]
		names := plan.NamesOf(w.structure)
		hits, err := j.showing(ctx, w, names)
		if err != nil {
			return err
		}
		if names.Outside {
			more, ok := wholes[w.view]
			if !ok {
				if more, err = j.wholes(ctx, w.view); err != nil {
					return err
				}
				wholes[w.view] = more
			}
			hits = append(hits, more...)
		}
		if err := j.gather(w, names, hits); err != nil {
			return err
		}
	}
	return nil
}

// showing finds pictures of a structure under each of its names; larger ones are looked for where there are few of it alone.
func (j *job) showing(ctx context.Context, w *want, names plan.Names) ([]*sight, error) {
	var out []*sight
	for i, name := range names.All() {
		if i >= len(names.Same) && len(out) >= pool {
			break
		}
		hits, err := j.search(ctx, []string{name}, &pb.Wanted{Counts: formulaOf(w.target), Structures: []string{name}, View: pb.View(w.view)})
		if err != nil {
			return nil, err
		}
		out = append(out, hits...)
	}
	return out, nil
}

// gather makes uses of what was found and of what a person chose, best first.
func (j *job) gather(w *want, names plan.Names, hits []*sight) error {
	fixed, out := map[string]string{}, map[string]bool{}
	for _, c := range j.brief.GetChoices() {
		switch {
		case plan.Fold(c.GetStructure()) != w.structure:
		case c.GetLeftOut():
			out[c.GetPicture()] = true
		default:
			fixed[c.GetPicture()] = "chosen by hand"
			if c.GetNote() != "" {
				fixed[c.GetPicture()] += ": " + c.GetNote()
			}
			s, err := j.look(c.GetPicture())
			if err != nil {
				return err
			}
			if s == nil {
				j.remark("%s, chosen for the %s, was deleted", c.GetPicture(), w.structure)
				continue
			}
			hits = append(hits, s)
		}
	}
	for _, s := range hits {
		if out[s.GetName()] || slices.ContainsFunc(w.uses, func(u *use) bool { return u.sight == s }) {
			continue
		}
		words, byHand := fixed[s.GetName()]
		if u := j.useOf(w, names, s); u.completeness != rank.Hidden && w.scorer.Relationship(s.rank.Lineage) > 0 || byHand {
			u.fixed = words
			w.uses = append(w.uses, u)
		}
	}
	w.sort()
	return nil
}

func (w *want) sort() {
	slices.SortFunc(w.uses, func(a, b *use) int { return rank.Compare(a.score, a.GetName(), b.score, b.GetName()) })
}

// useOf says how a picture would serve a structure; hidden if it doesn't show it.
func (j *job) useOf(w *want, names plan.Names, s *sight) *use {
	u := &use{sight: s, mirror: plan.Mirror(s.rank.View, w.view, j.lineage, j.ranking)}
	same := u.find(names.Same, w.scorer)
	shown := s.rank
	shown.Structures = nil
	if same && u.completeness != rank.Hidden {
		shown.Structures = []rank.Structure{{Name: w.structure, Completeness: u.completeness}}
	}
	u.score, u.reasons = w.scorer.Score(shown), w.scorer.Reasons(shown)
	if !same {
		share := j.weights.Within
		if !u.find(names.Within, w.scorer) {
			share = j.weights.Whole
			if !names.Outside || !whole(s.Picture) {
				u.completeness = rank.Hidden
			}
		}
		text := "on the whole animal"
		if u.as != "" {
			text = "with the " + u.as + ", " + u.completeness.String()
		}
		if brings := w.scorer.Structure(u.completeness) * share; brings != 0 {
			u.score += brings
			u.reasons = weighty(append(u.reasons, rank.Reason{Kind: "structure", Text: text, Weight: brings}))
		}
	}
	u.differing = plan.Differences(w.structure, s.counts, w.target)
	return u
}

// find takes the best of the structures that a picture shows under some names.
func (u *use) find(names []string, scorer *rank.Scorer) bool {
	ok := false
	for _, name := range names {
		for _, st := range u.GetStructures() {
			c := rank.Completeness(st.GetCompleteness())
			if plan.Fold(st.GetStructure()) == name && (!ok || scorer.Structure(c) > scorer.Structure(u.completeness)) {
				ok = true
				u.as, u.completeness, u.region, u.note = name, c, st.GetRegion(), st.GetNote()
			}
		}
	}
	return ok
}

// shown is the use as a gap is told of.
func (u *use) shown() plan.Shown {
	return plan.Shown{Animal: u.animal, Picture: u.GetName(), As: u.as, Completeness: u.completeness, View: u.rank.View, Mirror: u.mirror, Common: u.common}
}
