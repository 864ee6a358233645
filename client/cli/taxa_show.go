package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/encoding/protojson"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) taxaShow() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "show NAME",
		Short: "A taxon with its place, synonyms, vernaculars, diagnoses and the number of pictures",
		Long: "The name may be a scientific name, a synonym or a vernacular, as it is spelled, or taxa/{id}; the taxon in use is shown.\n" +
			"With --json: one line with taxon, lineage (root first), synonyms and pictures.",
		Example: "  platarium taxa show \"Perca fluviatilis\"\n  platarium taxa show taxa/T009326 --json",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			id, road, err := taxonOf(cmd.Context(), c, names[0])
			if err != nil {
				return err
			}
			t, err := readTaxon(cmd.Context(), c, id)
			if err != nil {
				return err
			}
			if a.json {
				return t.writeJSON(a)
			}
			if road != "" {
				a.printf("%s: %s\n", names[0], road)
			}
			t.write(a)
			return nil
		})
	}
	return cmd
}

// taxonOf finds the accepted taxon that a name means as it is spelled, vernaculars included, and by which road if it isn't its own name.
func taxonOf(ctx context.Context, c *client.Client, name string) (id, road string, err error) {
	if strings.HasPrefix(name, "taxa/") {
		return name, "", nil
	}
	res, err := c.Taxa.MatchNames(ctx, &pb.MatchNamesRequest{Names: []string{name}, Limit: 10})
	if err != nil {
		return "", "", err
	}
	found := res.GetMatches()[0].GetCandidates()
	var best []*pb.NameMatch
	for _, m := range found {
		if sure(m) && (len(best) == 0 || m.GetScore() == best[0].GetScore()) {
			best = append(best, m)
		}
	}
	switch {
	case len(best) > 1:
		return "", "", Code(Missing, fmt.Errorf("%q may mean several taxa; name one of them: %s", name, nearText(best)))
	case len(best) == 1 && best[0].GetTaxon().GetScientificName() != best[0].GetAcceptedName(), len(best) == 1 && !best[0].GetExact():
		return best[0].GetAccepted(), best[0].GetReason(), nil
	case len(best) == 1:
		return best[0].GetAccepted(), "", nil
	case len(found) == 0:
		return "", "", Code(Missing, fmt.Errorf("no taxon is called %q", name))
	}
	return "", "", Code(Missing, fmt.Errorf("no taxon is called %q; near it: %s", name, nearText(found)))
}

// sure says whether a name was found as it is spelled, be it scientific or of a living language.
func sure(m *pb.NameMatch) bool {
	return m.GetExact() || strings.HasPrefix(m.GetReason(), "vernacular name")
}

func nearText(list []*pb.NameMatch) string {
	var out []string
	for _, m := range list {
		out = append(out, fmt.Sprintf("%s (%s, %s)", m.GetAcceptedName(), m.GetReason(), m.GetAccepted()))
	}
	return strings.Join(out, ", ")
}

// wholeTaxon is a taxon with all that hangs on it.
type wholeTaxon struct {
	record   *pb.Taxon
	lineage  []*pb.Taxon // root first, without itself
	synonyms []*pb.Taxon
	below    []*pb.Taxon // accepted taxa directly below
	pictures int64       // identified as it, or as something below it
}

func readTaxon(ctx context.Context, c *client.Client, id string) (*wholeTaxon, error) {
	line, err := c.Taxa.GetLineage(ctx, &pb.GetLineageRequest{Name: id})
	if err != nil {
		return nil, err
	}
	w := &wholeTaxon{}
	if n := len(line.GetTaxa()); n > 0 { // the last is the accepted taxon, of which id may be a synonym
		w.record, w.lineage = line.GetTaxa()[n-1], line.GetTaxa()[:n-1]
		id = w.record.GetName()
	}
	req := &pb.ListTaxaRequest{Parent: id, PageSize: 1000}
	for {
		page, err := c.Taxa.ListTaxa(ctx, req)
		if err != nil {
			return nil, err
		}
		for _, t := range page.GetTaxa() {
			if t.GetStatus() == pb.TaxonStatus_TAXON_STATUS_SYNONYM {
				w.synonyms = append(w.synonyms, t)
			} else {
				w.below = append(w.below, t)
			}
		}
		if req.PageToken = page.GetNextPageToken(); req.PageToken == "" {
			break
		}
	}
	byName := func(a, b *pb.Taxon) int { return strings.Compare(a.GetScientificName(), b.GetScientificName()) }
	slices.SortStableFunc(w.below, byName)
	slices.SortStableFunc(w.synonyms, byName)
	hits, err := c.Search.SearchPictures(ctx, &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Taxa: []string{id}}, PageSize: 1})
	if err != nil {
		return nil, err
	}
	w.pictures = int64(hits.GetTotal())
	return w, nil
}

// writeJSON writes one line.
func (w *wholeTaxon) writeJSON(a *App) error {
	raw := func(list []*pb.Taxon) ([]rawJSON, error) {
		out := make([]rawJSON, len(list))
		for i, t := range list {
			var err error
			if out[i], err = protojson.Marshal(t); err != nil {
				return nil, err
			}
		}
		return out, nil
	}
	self, err := raw([]*pb.Taxon{w.record})
	if err != nil {
		return err
	}
	line, err := raw(w.lineage)
	if err != nil {
		return err
	}
	synonyms, err := raw(w.synonyms)
	if err != nil {
		return err
	}
	return a.jsonLine(struct {
		Taxon    rawJSON   `json:"taxon"`
		Lineage  []rawJSON `json:"lineage"`
		Synonyms []rawJSON `json:"synonyms"`
		Below    int       `json:"below"`
		Pictures int64     `json:"pictures"`
	}{self[0], line, synonyms, len(w.below), w.pictures})
}

func (w *wholeTaxon) write(a *App) {
	t := w.record
	a.printf("%s\n%s, %s\n", named(t), t.GetRank(), t.GetName())
	a.field("place", placeText(w.lineage))
	for _, s := range w.synonyms {
		a.field("synonym", fmt.Sprintf("%s  %s", named(s), s.GetName()))
	}
	for _, n := range t.GetFormerNames() {
		a.field("earlier name", n)
	}
	for _, v := range t.GetVernaculars() {
		language := v.GetLanguage()
		if language == "" {
			language = "language not stated"
		}
		a.field("vernacular", fmt.Sprintf("%s (%s)", v.GetVernacular(), language))
	}
	for _, d := range t.GetDiagnoses() {
		a.field("counts", d.GetCounts().GetCanonical())
		for _, p := range d.GetProportions() {
			a.field("proportion", fmt.Sprintf("%s in %s: %g to %g", p.GetLength(), p.GetOver(), p.GetMin(), p.GetMax()))
		}
		a.field("  after", d.GetCitation())
		a.field("  provenance", d.GetProvenance())
	}
	a.field("protection", t.GetProtection())
	a.field("notes", t.GetNotes())
	a.field("source", t.GetSource())
	if n := len(w.below); n > 0 {
		a.field("below it", fmt.Sprintf("%d taxa (platarium taxa tree %s)", n, t.GetName()))
	}
	a.field("pictures", fmt.Sprint(w.pictures))
}

// placeText names the taxa above by the ranks that everybody knows, or all where there are none of these; taxa tree lists every one.
func placeText(lineage []*pb.Taxon) string {
	var known, all []string
	for _, t := range lineage {
		text := t.GetRank() + " " + t.GetScientificName()
		all = append(all, text)
		switch t.GetRank() {
		case "class", "order", "family", "genus", "species":
			known = append(known, text)
		}
	}
	if len(known) == 0 {
		known = all
	}
	return strings.Join(known, ", ")
}

// field writes a labelled line, unless there is nothing to say.
func (a *App) field(label, text string) {
	if text != "" {
		a.printf("  %-13s %s\n", label, text)
	}
}

// named is the name of a taxon with its authors.
func named(t *pb.Taxon) string {
	return strings.TrimSpace(t.GetScientificName() + " " + t.GetAuthorship())
}
