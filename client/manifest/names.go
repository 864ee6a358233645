package manifest

import (
	"context"
	"fmt"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// answer is what a scientific name turned out to mean.
type answer struct {
	taxon  string // taxa/{id}; empty if the name isn't taken
	reason string // why not
	remark string // what was taken although it is spelled otherwise
}

const (
	namesAtOnce = 500
	candidates  = 5
	// clearlyAhead is how far the best candidate must be ahead of the next other taxon to be taken without asking. Common practice, no source.
	clearlyAhead = 0.05
)

// matchNames asks what the names of all rows mean, each once, and rejects the rows whose names aren't taken.
func (im *importer) matchNames(ctx context.Context) error {
	im.stage("names")
	var asked []string
	for s := range im.sheets {
		for i := range s.items {
			name := s.items[i].taxon
			if _, known := im.names[name]; name != "" && !known && s.items[i].state == pending {
				im.names[name] = answer{}
				asked = append(asked, name)
			}
		}
	}
	for batch := range slices.Chunk(asked, namesAtOnce) {
		res, err := im.c.Taxa.MatchNames(ctx, &pb.MatchNamesRequest{Names: batch, Limit: candidates})
		if err != nil {
			return fmt.Errorf("look up names: %w", err)
		}
		if len(res.GetMatches()) != len(batch) {
			return fmt.Errorf("look up names: %d answers to %d names", len(res.GetMatches()), len(batch))
		}
		for k, m := range res.GetMatches() {
			if im.names[batch[k]], err = im.judge(ctx, batch[k], m.GetCandidates()); err != nil {
				return err
			}
		}
	}
	for s := range im.sheets {
		for i := range s.items {
			it := &s.items[i]
			if it.taxon == "" || it.state != pending {
				continue
			}
			a := im.names[it.taxon]
			if a.taxon == "" {
				im.reject(s, i, "column scientific_name: "+a.reason)
			} else if a.remark != "" {
				it.remarks = append(it.remarks, a.remark)
			}
		}
	}
	return nil
}

// sheets gives the tables in the order in which they go in.
func (im *importer) sheets(yield func(*sheet) bool) {
	if im.animals != nil && !yield(im.animals) {
		return
	}
	yield(im.pictures)
}

// judge takes a name that is spelled as the archive has it and means one taxon, or one that the caller allows to be taken.
func (im *importer) judge(ctx context.Context, name string, found []*pb.NameMatch) (answer, error) {
	if len(found) == 0 {
		return answer{reason: fmt.Sprintf("found %q, which the classification doesn't have, nor anything near it; want a name it has, or the taxon added first", short(name))}, nil
	}
	best := found[0]
	if best.GetExact() && (len(found) == 1 || !found[1].GetExact() || found[1].GetScore() < best.GetScore()) {
		return answer{taxon: best.GetTaxon().GetName()}, nil
	}
	list := make([]Candidate, len(found))
	for i, m := range found {
		list[i] = Candidate{Name: candidateName(m), Score: m.GetScore(), Reason: m.GetReason(), taxon: m.GetTaxon().GetName()}
	}
	took := func(c Candidate, how string) answer {
		return answer{taxon: c.taxon, remark: fmt.Sprintf("scientific_name: took %q for %q (%s; score %.2f%s)", c.Name, short(name), c.Reason, c.Score, how)}
	}
	if near := im.opts.AcceptNear; near > 0 && list[0].Score >= near && ahead(found) {
		return took(list[0], ""), nil
	}
	if im.opts.Confirm != nil {
		k, err := im.opts.Confirm(ctx, name, list)
		if err != nil {
			return answer{}, fmt.Errorf("ask about %q: %w", name, err)
		}
		if k >= 0 && k < len(list) {
			return took(list[k], "; confirmed"), nil
		}
	}
	texts := make([]string, len(list))
	for i, c := range list {
		texts[i] = fmt.Sprintf("%s (%s, score %.2f)", c.Name, c.Reason, c.Score)
	}
	wrong := "which the classification doesn't have as it is spelled; near it"
	if best.GetExact() {
		wrong = "which means more than one taxon; want the column taxon filled with one of"
		for i, c := range list {
			texts[i] = c.taxon + " " + texts[i]
		}
	}
	return answer{reason: fmt.Sprintf("found %q, %s: %s", short(name), wrong, strings.Join(texts, ", "))}, nil
}

// ahead says whether the best candidate is clearly better than the next one that means another taxon.
func ahead(found []*pb.NameMatch) bool {
	for _, m := range found[1:] {
		if m.GetAccepted() != found[0].GetAccepted() {
			return found[0].GetScore()-m.GetScore() >= clearlyAhead
		}
	}
	return true
}

func candidateName(m *pb.NameMatch) string {
	name, accepted := m.GetTaxon().GetScientificName(), m.GetAcceptedName()
	if name == accepted || accepted == "" {
		return name
	}
	return name + ", now " + accepted
}
