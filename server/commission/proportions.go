package commission

import (
	"fmt"

	"platarium/indexer/rank"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
	"platarium/server/scale"
)

// bodyRank is the least rank of the taxon in common with an animal on whose body another is built; common practice, no source.
const bodyRank = taxon.Family

// published lists the proportions of a taxon's diagnoses; what can't be read goes to doubts.
func published(t *pb.Taxon) (wants []scale.Interval, doubts []string) {
	for _, d := range t.GetDiagnoses() {
		for _, p := range d.GetProportions() {
			in, err := scale.ReadInterval(p.GetLength(), p.GetOver(), p.GetMin(), p.GetMax(), d.GetCitation())
			if err != nil {
				doubts = append(doubts, fmt.Sprintf("%s over %s of %s: %s", p.GetLength(), p.GetOver(), d.GetCitation(), err))
				continue
			}
			wants = append(wants, in)
		}
	}
	return wants, doubts
}

// inProfile says whether lengths along the body lie in the plane of a picture.
func inProfile(s *sight) bool {
	return s.rank.View == rank.LeftLateral || s.rank.View == rank.RightLateral || s.rank.View == rank.AnyView
}

// held compares the proportions of a picture with what is published of the animal to be drawn, and with the body if both are of one species.
func (j *job) held(s *sight) []scale.Comparison {
	if !inProfile(s) {
		return nil
	}
	wants, _ := published(j.taxon)
	pic := j.scaleOf(s).picture
	return append(scale.ComparePublished(pic, wants, j.tolerances), j.heldAgainstBody(s)...)
}

func (j *job) heldAgainstBody(s *sight) []scale.Comparison {
	if j.body == nil || j.body == s || j.body.animal != s.animal || !inProfile(s) {
		return nil
	}
	return scale.CompareBody(j.scaleOf(s).picture, j.scaleOf(j.body).picture, j.body.GetName(), j.tolerances)
}

// deformations are the signs of a deformed body: against what is published of the picture's own species, else against the body.
func (j *job) deformations(s *sight) []scale.Deformation {
	if !inProfile(s) {
		return nil
	}
	var held []scale.Comparison
	if s.common.ID == j.taxon.GetName() {
		wants, _ := published(j.taxon)
		held = scale.ComparePublished(j.scaleOf(s).picture, wants, j.tolerances)
	}
	found := scale.Deformations(j.scaleOf(s).picture, held, j.tolerances)
	if len(found) == 0 {
		found = scale.Deformations(j.scaleOf(s).picture, j.heldAgainstBody(s), j.tolerances)
	}
	return found
}

// verdicts puts comparisons into messages; those that tell nothing only if all are wanted.
func verdicts(held []scale.Comparison, all bool) []*pb.ProportionVerdict {
	var out []*pb.ProportionVerdict
	for _, c := range held {
		if c.Verdict == scale.NotComparable && !all {
			continue
		}
		out = append(out, &pb.ProportionVerdict{
			Length: string(c.Want.Length), Over: string(c.Want.Over), Found: c.Found, Uncertainty: c.Uncertainty, Min: c.Want.Min, Max: c.Want.Max,
			Verdict: c.Verdict.String(), Explanation: c.Explanation, Against: c.Want.Against,
		})
	}
	return out
}
