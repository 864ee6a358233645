package cli

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) search() *cobra.Command {
	var near, counts, view, kinds, views, stages, order string
	var structures, show, taxa, creators, rights, facets []string
	var yearFrom, yearTo, limit int32
	var all bool
	cmd := &cobra.Command{
		Use:   "search [WORDS...]",
		Short: "Find past work: by words, by conditions, and by likeness to what a commission wants",
		Long: "Finds pictures. Words must all occur in title, notes, names, job or keywords; quotation marks keep words together.\n" +
			"Conditions (--kind, --taxon, ...) shut out what doesn't fit. Wants (--near, --counts, --structure, --view) shut nothing out:\n" +
			"they order the hits by how well each would serve as a reference, and each hit says why it stands where it does.",
		Example: "  platarium search perch dorsal\n" +
			"  platarium search --near \"Perca fluviatilis\" --counts \"D XIV, I,13\" --structure \"first dorsal fin\" --view \"left lateral\"\n" +
			"  platarium search --kind plate --taxon Percidae --facet rights --json",
		Args: cobra.ArbitraryArgs,
	}
	f := cmd.Flags()
	f.StringVar(&near, "near", "", "the animal to be drawn: scientific name or taxa/{id}; its relatives come first")
	f.StringVar(&counts, "counts", "", "its counts, as a formula")
	f.StringArrayVar(&structures, "structure", nil, "a structure to be drawn (repeat for more)")
	f.StringVar(&view, "view", "", "the view to be drawn, such as \"left lateral\"")
	f.StringVar(&kinds, "kind", "", "only these kinds, comma-separated: plate, study, reference")
	f.StringVar(&views, "only-view", "", "only these views, comma-separated")
	f.StringVar(&stages, "stage", "", "only these stages, comma-separated, such as \"final art\"")
	f.StringArrayVar(&show, "shows", nil, "only what shows this structure; with its condition as in \"pectoral fin=complete\"")
	f.StringArrayVar(&taxa, "taxon", nil, "only what is identified as this taxon or below: name or taxa/{id}")
	f.StringArrayVar(&creators, "creator", nil, "only by this maker")
	f.StringArrayVar(&rights, "rights", nil, "only with this standing: free, licensed, open, restricted, assigned")
	f.Int32Var(&yearFrom, "from-year", 0, "only made in or after this year")
	f.Int32Var(&yearTo, "to-year", 0, "only made in or before this year")
	f.StringSliceVar(&facets, "facet", nil, "count the hits by these: family, genus, kind, view, stage, technique, creator, year, structure, rights")
	f.Int32Var(&limit, "limit", 20, "at most so many hits, up to 200")
	f.BoolVar(&all, "all", false, "all hits, page by page")
	f.StringVar(&order, "order", "", "relevance, newest or name")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		req := &pb.SearchPicturesRequest{
			Text: strings.Join(words, " "), PageSize: limit, Facets: facets,
			Wanted: &pb.Wanted{Near: near, Counts: counts, Structures: structures},
			Filter: &pb.PictureFilter{Structures: show, Creators: creators, Rights: rights, YearFrom: yearFrom, YearTo: yearTo},
		}
		var errs []error
		errs = append(errs, setEnum(&req.Wanted.View, view), setEnum(&req.Order, order), setEnums(&req.Filter.Kinds, kinds), setEnums(&req.Filter.Views, views), setEnums(&req.Filter.Stages, stages))
		if err := errors.Join(errs...); err != nil {
			return usage(err)
		}
		return a.with(func(c *client.Client) error {
			for _, t := range taxa {
				id, err := resolveTaxon(cmd.Context(), c, t)
				if err != nil {
					return err
				}
				req.Filter.Taxa = append(req.Filter.Taxa, id)
			}
			return a.runSearch(cmd, c, req, all)
		})
	}
	return cmd
}

func (a *App) runSearch(cmd *cobra.Command, c *client.Client, req *pb.SearchPicturesRequest, all bool) error {
	n := 0
	for {
		res, err := c.Search.SearchPictures(cmd.Context(), req)
		if err != nil {
			return err
		}
		if a.json {
			if err := a.printJSON(res); err != nil {
				return err
			}
		} else {
			if n == 0 {
				for _, r := range res.GetRemarks() {
					a.notef("%s\n", r)
				}
			}
			PrintHits(a.Out, res, n)
		}
		n += len(res.GetHits())
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" || !all {
			if n == 0 {
				return &coded{code: Missing, err: errors.New("nothing was found"), quiet: a.json}
			}
			return nil
		}
		req.Facets = nil // counted once
	}
}

// PrintHits writes hits for a person, the first with number after+1, then the facets.
func PrintHits(w io.Writer, res *pb.SearchPicturesResponse, after int) {
	for i, h := range res.GetHits() {
		p := h.GetPicture()
		about := []string{word(p.GetKind())}
		for _, s := range []string{word(p.GetStage()), word(p.GetView()), p.GetCounts().GetFormula(), p.GetCreated()} {
			if s != "" {
				about = append(about, s)
			}
		}
		_, _ = fmt.Fprintf(w, "%3d  %s  (%s)\n", after+i+1, p.GetTitle(), h.GetAcceptedName())
		_, _ = fmt.Fprintf(w, "     %s: %s\n", p.GetName(), strings.Join(about, "; "))
		if reasons := h.GetReasons(); len(reasons) > 0 {
			texts := make([]string, len(reasons))
			for k, r := range reasons {
				texts[k] = r.GetText()
			}
			_, _ = fmt.Fprintf(w, "     why: %s\n", strings.Join(texts, "; "))
		}
		for _, hl := range h.GetHighlights() {
			_, _ = fmt.Fprintf(w, "     %s: %s\n", hl.GetField(), strings.NewReplacer("\x02", "[", "\x03", "]").Replace(hl.GetFragment()))
		}
		_, _ = fmt.Fprintf(w, "     rights: %s\n", h.GetRights())
	}
	if total := res.GetTotal(); total > 0 {
		_, _ = fmt.Fprintf(w, "%d of %d\n", after+len(res.GetHits()), total)
	}
	for _, facet := range res.GetFacets() {
		_, _ = fmt.Fprintf(w, "by %s:\n", facet.GetFacet())
		for _, v := range facet.GetValues() {
			label := v.GetLabel()
			if label == "" {
				label = v.GetValue()
			}
			_, _ = fmt.Fprintf(w, "  %6d  %s\n", v.GetCount(), label)
		}
	}
}
