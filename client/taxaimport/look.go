package taxaimport

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

const (
	namesAtOnce = 250 // a name that isn't known takes some milliseconds, so that a call stays below a few seconds
	callsAtOnce = 4   // such calls occupy the server's processors
	ownAtOnce   = 1000
	candidates  = 10 // for each name; homonyms are few
)

// look asks the archive for all that deciding needs: its own entries, and what the names of the list mean.
func (im *importer) look(ctx context.Context) error {
	status, err := im.c.Admin.GetStatus(ctx, &pb.GetStatusRequest{})
	if err != nil {
		return fmt.Errorf("ask the server how it is: %w", err)
	}
	im.since = status.GetSequence()
	req := &pb.ListTaxaRequest{PageSize: ownAtOnce}
	for {
		page, err := im.c.Taxa.ListTaxa(ctx, req)
		if err != nil {
			return fmt.Errorf("list the studio's entries: %w", err)
		}
		for _, t := range page.GetTaxa() {
			im.own[t.GetName()] = t
		}
		if req.PageToken = page.GetNextPageToken(); req.PageToken == "" {
			return im.matchNames(ctx)
		}
	}
}

// matchNames asks what the names of the list mean, each once.
func (im *importer) matchNames(ctx context.Context) error {
	var asked []string
	ask := func(name string) {
		if _, known := im.names[name]; !known {
			im.names[name] = nil
			asked = append(asked, name)
		}
	}
	for _, it := range im.items {
		if settled(it.Name) {
			ask(it.Name)
		}
		if g := genusOf(it); g != "" && it.above == nil {
			ask(g)
		}
	}
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(callsAtOnce)
	var mu sync.Mutex
	done := 0
	for batch := range slices.Chunk(asked, namesAtOnce) {
		g.Go(func() error {
			found, err := match(ctx, im.c.Taxa, batch, candidates)
			if err != nil {
				return err
			}
			mu.Lock()
			defer mu.Unlock()
			for k, m := range found {
				im.names[batch[k]] = m.GetCandidates()
			}
			done += len(batch)
			im.progress("names", done, len(asked))
			return nil
		})
	}
	return g.Wait()
}

// match asks what names mean; the answers come in order.
func match(ctx context.Context, c pb.TaxaServiceClient, names []string, limit int32) ([]*pb.NameMatches, error) {
	res, err := c.MatchNames(ctx, &pb.MatchNamesRequest{Names: names, Limit: limit})
	if err != nil {
		return nil, fmt.Errorf("look up names: %w", err)
	}
	if len(res.GetMatches()) != len(names) {
		return nil, fmt.Errorf("look up names: %d answers to %d names", len(res.GetMatches()), len(names))
	}
	return res.GetMatches(), nil
}

// genusOf is the genus in the name of a species or of what stands below one, empty for other names.
func genusOf(it *item) string {
	if it.Rank < taxon.Species || it.Status == taxon.Synonym || !strings.Contains(it.Name, " ") {
		return ""
	}
	n, err := taxon.Parse(it.Name)
	if err != nil || n.Hybrid == taxon.HybridFormula {
		return ""
	}
	return n.Genus
}

// meaning is one entry of the archive that a name of the list stands for.
type meaning struct {
	record   *pb.Taxon // the studio's record, or that of the base
	accepted string    // taxa/{id}; its own unless it is a synonym
	earlier  bool      // the record has another name now
	reason   string
}

func (m meaning) synonym() bool { return m.record.GetStatus() == pb.TaxonStatus_TAXON_STATUS_SYNONYM }

// ofStudio says whether the studio made or changed the record.
func (m meaning) ofStudio() bool { return m.record.GetRevision() > 0 }

func (m meaning) candidate() Candidate {
	name := m.record.GetScientificName()
	if a := m.record.GetAuthorship(); a != "" {
		name += " " + a
	}
	return Candidate{Name: name, Taxon: m.record.GetName(), Reason: m.reason}
}

func candidatesOf(list []meaning) []Candidate {
	out := make([]Candidate, len(list))
	for i, m := range list {
		out[i] = m.candidate()
	}
	return out
}

// meanings lists the entries that a name is the scientific name of, as it is spelled, in a rank that goes with the given one.
func (im *importer) meanings(name string, rank taxon.Rank) []meaning {
	var out []meaning
	for _, c := range im.names[name] {
		if !c.GetExact() {
			continue
		}
		m := meaning{record: im.full(c.GetTaxon()), accepted: c.GetAccepted(), reason: c.GetReason()}
		if !sameRank(m.record.GetRank(), rank) {
			continue
		}
		m.earlier = taxon.Fold(m.record.GetScientificName()) != taxon.Fold(name)
		if m.earlier && !m.ofStudio() {
			continue // the base renames nothing: another road led here, such as a hybrid's parent
		}
		out = append(out, m)
	}
	return out
}

// full is the studio's own record of a taxon, which says more than an answer about names, or that of the base.
func (im *importer) full(t *pb.Taxon) *pb.Taxon {
	if own, ok := im.own[t.GetName()]; ok {
		return own
	}
	return t
}

// near lists entries whose names are so much alike that the list's may be a slip.
func (im *importer) near(name string) []string {
	const alike = 0.84 // one letter in a binomial of usual length; common practice, no source
	var out []string
	for _, c := range im.names[name] {
		if !c.GetExact() && c.GetScore() >= alike {
			out = append(out, fmt.Sprintf("%s (%s)", c.GetAcceptedName(), c.GetReason()))
		}
	}
	return out
}

func sameRank(word string, rank taxon.Rank) bool {
	r, _ := taxon.ParseRank(word)
	return r == rank || r == taxon.Unranked || rank == taxon.Unranked
}

// line asks for the taxa above a taxon and itself, root first; each once.
func (im *importer) line(ctx context.Context, name string) ([]*pb.Taxon, error) {
	if name == "" {
		return nil, nil
	}
	if l, ok := im.lines[name]; ok {
		return l, nil
	}
	res, err := im.c.Taxa.GetLineage(ctx, &pb.GetLineageRequest{Name: name})
	if err != nil {
		return nil, fmt.Errorf("ask for the lineage of %s: %w", name, err)
	}
	im.lines[name] = res.GetTaxa()
	return im.lines[name], nil
}
