package commission

import (
	"cmp"
	"math"
	"slices"

	"platarium/indexer/rank"
	"platarium/server/plan"
)

// choose settles which pictures the plan uses, after what may be taken from each is known.
func (j *job) choose(show int) error {
	needs := make([]plan.Need, len(j.wanted))
	for i := range j.wanted {
		w := &j.wanted[i]
		w.uses = cut(w.uses, max(pool, show))
		for _, u := range w.uses {
			var err error
			if u.rights, err = j.rightsOf(u.sight); err != nil {
				return err
			}
			if u.fixed != "" {
				needs[i].Fixed = append(needs[i].Fixed, u.GetName())
			}
			j.weigh(w, u)
			needs[i].Candidates = append(needs[i].Candidates, plan.Candidate{Picture: u.GetName(), Loss: -u.score})
		}
		w.sort()
	}
	var free []string
	if j.body != nil {
		free = append(free, j.body.GetName())
	}
	cover := j.weights.Choose(needs, free...)
	if !cover.Exact {
		j.remark("the choice of pictures is within %.2f points of the best there could be", cover.Cost-cover.Bound)
	}
	for i := range j.wanted {
		for _, u := range j.wanted[i].uses {
			u.chosen = slices.Contains(cover.Chosen[i], u.GetName())
		}
		j.wanted[i].uses = cut(j.wanted[i].uses, show)
	}
	return nil
}

// cut keeps the first n, with those that a person or the plan chose beyond them.
func cut(uses []*use, n int) []*use {
	kept := slices.DeleteFunc(slices.Clone(uses[min(n, len(uses)):]), func(u *use) bool { return u.fixed == "" && !u.chosen })
	return append(slices.Clone(uses[:max(0, min(n, len(uses))-len(kept))]), kept...)
}

// weigh adds to a use's score what speaks against it.
func (j *job) weigh(w *want, u *use) {
	against := j.weights.Against(plan.Use{
		Scaled: j.scaleOf(u.sight).pixels > 0, Lacks: plan.Lacks(w.structure, w.view, u.shown()), Deformed: len(j.deformations(u.sight)) > 0,
		Differing: len(u.differing), Permission: u.rights.permission,
	})
	for _, r := range against {
		u.score += r.Weight
	}
	u.reasons = weighty(append(u.reasons, against...))
}

// weighty puts the weightiest reasons first; equals stay as they are.
func weighty(reasons []rank.Reason) []rank.Reason {
	slices.SortStableFunc(reasons, func(a, b rank.Reason) int { return cmp.Compare(math.Abs(b.Weight), math.Abs(a.Weight)) })
	return reasons
}
