package commission

import (
	"platarium/indexer/meristic"
	pb "platarium/proto/platarium/v1"
)

// CountVerdicts compares counts with the diagnoses of a taxon, one verdict for each element of both. A diagnosis is read when it is stored; one of an older
// reader may fail now, and says nothing then.
func CountVerdicts(t *pb.Taxon, found []meristic.Statement) []*pb.CountVerdict {
	var out []*pb.CountVerdict
	for _, d := range t.GetDiagnoses() {
		published, err := meristic.Parse(d.GetCounts().GetFormula(), meristic.Options{})
		if err != nil {
			continue
		}
		compared := map[meristic.Character]bool{}
		for _, v := range meristic.Compare(found, published.Statements, meristic.NearMiss()) {
			compared[v.Character] = true
			if v.Verdict != meristic.NotComparable {
				compared[pooled(v.Character)] = true
			}
			out = append(out, &pb.CountVerdict{
				Character: v.Character.String(), Element: v.Element.String(), Verdict: v.Verdict.String(), Explanation: v.Reason(), Citation: d.GetCitation(),
			})
		}
		for _, st := range found {
			if c := st.Character; !compared[c] && !compared[pooled(c)] {
				compared[c] = true
				out = append(out, &pb.CountVerdict{
					Character: c.String(), Verdict: "not in the diagnosis", Explanation: c.String() + ": " + c.Phrase() + ", nothing is said of it", Citation: d.GetCitation(),
				})
			}
		}
	}
	return out
}

// pooled is the character under which the parts of a divided fin are compared with the whole.
func pooled(c meristic.Character) meristic.Character {
	switch c {
	case meristic.Dorsal1, meristic.Dorsal2, meristic.Dorsal3:
		return meristic.Dorsal
	case meristic.Anal1, meristic.Anal2:
		return meristic.Anal
	default:
		return c
	}
}
