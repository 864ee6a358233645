package web

import (
	"net/http"

	pb "platarium/proto/platarium/v1"
)

// lookedAt is the answer to a script that asks for the formula.
type lookedAt struct {
	Formula  string    `json:"formula"`
	Tallies  []string  `json:"tallies"`
	Verdicts []verdict `json:"verdicts"`
}

type verdict struct {
	Verdict string `json:"verdict"`
	Text    string `json:"text"`
	Source  string `json:"source"`
}

// look shows the formula that would be saved, and what the diagnosis says of it.
func (s *Site) look(v *visit, page *markedUp) error {
	page.Looked = true
	if t := page.Picture.GetIdentification().GetTaxon(); t != "" && page.Formula != "" {
		res, err := s.services.taxa.CheckCounts(v.ctx(), &pb.CheckCountsRequest{Taxon: t, Formula: page.Formula})
		if err := missing(err); err != nil {
			return err
		}
		page.Verdict = res.GetVerdicts()
	}
	if !wantsJSON(v.r) {
		return s.showMarks(v, http.StatusOK, page)
	}
	out := lookedAt{Formula: page.Formula, Tallies: []string{}, Verdicts: []verdict{}}
	for _, t := range page.Tallies {
		out.Tallies = append(out.Tallies, t.Text())
	}
	for _, c := range page.Verdict {
		out.Verdicts = append(out.Verdicts, verdict{c.GetVerdict(), c.GetExplanation(), c.GetCitation()})
	}
	writeJSON(v.w, http.StatusOK, out)
	return nil
}
