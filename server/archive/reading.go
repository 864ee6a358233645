package archive

import (
	"fmt"
	"strings"

	"platarium/indexer/meristic"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// resolveIdentification finds the taxon of a name given without one, or the name of a taxon. A name is taken only as it is spelled; near ones are offered.
func (a *Archive) resolveIdentification(c *checks, field string, id *pb.Identification) {
	named := strings.TrimSpace(id.GetScientificName()) != ""
	if id.GetTaxon() != "" && !named {
		if t, ok := a.Taxa().Taxon(strings.TrimPrefix(id.GetTaxon(), Taxa+"/")); ok {
			id.ScientificName = t.Name
		}
	}
	if id.GetTaxon() != "" || !named {
		return
	}
	found := a.Taxa().Match(id.GetScientificName(), 3)
	if exactOnly(found) {
		id.Taxon = Taxa + "/" + found[0].MatchedID
		return
	}
	var near []string
	for _, cand := range found {
		near = append(near, fmt.Sprintf("%s (%s)", cand.Name, cand.Reason))
	}
	if len(near) == 0 {
		c.add(field+".scientific_name", "found %q, which the classification doesn't have; want a name it has, or add the taxon first", id.GetScientificName())
		return
	}
	c.add(field+".scientific_name", "found %q, which the classification doesn't have; near it: %s", id.GetScientificName(), strings.Join(near, ", "))
}

// exactOnly says whether a name means one taxon as it is spelled: by its scientific name, now or earlier, or a synonym. Homonyms are left to a person.
func exactOnly(found []taxon.Candidate) bool {
	if len(found) == 0 || !Spelled(found[0]) {
		return false
	}
	return len(found) == 1 || !Spelled(found[1]) || found[1].Score < found[0].Score
}

// Spelled says whether a name was found as it is spelled, among the scientific names.
func Spelled(c taxon.Candidate) bool {
	return c.Kind == taxon.ByName || c.Kind == taxon.ByEarlierName || c.Kind == taxon.BySynonym
}

// readCounts fills the reading of counts as written; what can't be meant is a violation that names the column.
func readCounts(c *checks, field string, counts *pb.Counts) {
	if counts == nil {
		return
	}
	counts.Parsed, counts.Warnings, counts.Canonical = nil, nil, ""
	if strings.TrimSpace(counts.GetFormula()) == "" {
		return
	}
	r, err := meristic.Parse(counts.GetFormula(), meristic.Options{})
	if err != nil {
		c.add(field+".formula", "found %q: %s", counts.GetFormula(), strings.TrimPrefix(err.Error(), "meristic: "))
		return
	}
	counts.Canonical = meristic.Print(r.Statements)
	for _, s := range r.Statements {
		for _, n := range s.Counts {
			count := &pb.Count{Character: s.Character.String(), Element: n.Element.String(), Min: n.Min, Max: n.Max}
			if mode := n.Mode(); len(mode) == 1 {
				count.Mode = mode[0]
			}
			counts.Parsed = append(counts.Parsed, count)
		}
	}
	for _, n := range r.Warnings {
		counts.Warnings = append(counts.Warnings, n.String())
	}
	for _, alt := range r.Alternatives {
		counts.Warnings = append(counts.Warnings, fmt.Sprintf("column %d: %s", alt.Column, alt.Text))
	}
}
