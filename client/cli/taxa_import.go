package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	"platarium/client/manifest"
	"platarium/client/taxaimport"
)

func (a *App) taxaImport() *cobra.Command {
	var opts taxaimport.Options
	var homonyms string
	var quiet bool
	cmd := &cobra.Command{
		Use:   "import FILE_OR_FOLDER",
		Short: "Add the taxa, synonyms and vernaculars of a checklist",
		Long: "Reads a Darwin Core Archive or a ColDP package (folder or .zip), or a table (.tsv, .csv) with at least a column scientificName, and lays it over what the\n" +
			"archive has. A taxon that is there under the same name and rank only gets what it lacks: vernaculars, synonyms, authorship, or its standing as an accepted\n" +
			"name or synonym. What the list says otherwise is a remark, unless --update takes the list's word. A name that the archive has elsewhere in the tree, or by\n" +
			"other authors, is left out as doubtful until --homonyms says what it is. Importing the same list again changes nothing.\n\n" +
			"Columns of a table: taxonID, scientificName, scientificNameAuthorship, taxonRank, parentNameUsageID, taxonomicStatus, acceptedNameUsageID, vernacularName\n" +
			"(de:Barsch|fr:Perche), vernacular:de, source, and kingdom to genus. Exits with 4 if rows were left out.",
		Example: "  platarium taxa import reef-fishes.zip --dry-run\n  platarium taxa import reef-fishes.zip\n  platarium taxa import names.tsv --list \"studio names\" --update --json",
		Args:    args(cobra.ExactArgs(1)),
	}
	f := cmd.Flags()
	f.BoolVar(&opts.DryRun, "dry-run", false, "compare and store nothing; every change is listed")
	f.BoolVar(&opts.OnlyNew, "only-new", false, "leave alone what the archive has")
	f.BoolVar(&opts.Update, "update", false, "take the list's word where the archive says otherwise")
	f.StringVar(&homonyms, "homonyms", string(taxaimport.Leave), "names that stand elsewhere in the tree: leave, add (another taxon) or same (the same taxon)")
	f.StringVar(&opts.List, "list", "", "name of the list, from which ids are made (the file's name); keep it for later editions")
	f.BoolVar(&quiet, "quiet", false, "no progress and no remarks, only what was left out and the sum")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		opts.Path = words[0]
		var err error
		if opts.Homonyms, err = taxaimport.ParseHomonyms(homonyms); err != nil {
			return usage(fmt.Errorf("--homonyms: %w", err))
		}
		if opts.OnlyNew && opts.Update {
			return usage(errors.New("--only-new and --update contradict each other"))
		}
		return a.with(func(c *client.Client) error { return a.runTaxaImport(cmd.Context(), c, opts, quiet) })
	}
	return cmd
}

func (a *App) runTaxaImport(ctx context.Context, c *client.Client, opts taxaimport.Options, quiet bool) error {
	var write error // the first line that couldn't be written
	progress := a.progress(quiet || a.json)
	opts.Progress = func(p taxaimport.Progress) {
		progress.show(manifest.Progress{Stage: p.Stage, Rows: p.Done, AllRows: p.All, Elapsed: p.Elapsed})
	}
	opts.Report = func(r taxaimport.TaxonResult) {
		if a.json {
			write = errors.Join(write, a.jsonLine(r))
			return
		}
		if text := taxonLine(r, opts.DryRun, quiet); text != "" {
			progress.clear()
			a.printf("%s", text)
		}
	}
	sum, err := taxaimport.Import(ctx, c, opts)
	progress.end()
	return a.endTaxa(sum, "taxa", err, write)
}

// taxonLine tells a person of a taxon: of all that was left out, and of changes in a trial.
func taxonLine(r taxaimport.TaxonResult, trial, quiet bool) string {
	var b strings.Builder
	at := "the list"
	if r.Row > 0 {
		at = fmt.Sprintf("%s, row %d", r.File, r.Row)
	}
	if r.Name != "" {
		at += ": " + r.Name
	}
	switch {
	case r.Fault != nil:
		fmt.Fprintf(&b, "%s: %s, %s\n", at, r.Outcome, r.Fault)
		for _, c := range r.Candidates {
			fmt.Fprintf(&b, "    %s\n", c)
		}
	case trial && r.Outcome != taxaimport.Unchanged && r.Outcome != "":
		fmt.Fprintf(&b, "%s: %s %s", at, r.Outcome, r.Taxon)
		if len(r.Adds) > 0 {
			fmt.Fprintf(&b, ": %s", strings.Join(r.Adds, "; "))
		}
		b.WriteByte('\n')
	}
	if !quiet {
		for _, remark := range r.Remarks {
			fmt.Fprintf(&b, "%s: remark: %s\n", at, remark)
		}
	}
	return b.String()
}

// endTaxa writes the sum and turns what happened into an exit code.
func (a *App) endTaxa(sum *taxaimport.Summary, what string, err, write error) error {
	if sum != nil && a.json {
		write = errors.Join(write, a.jsonLine(struct {
			Summary *taxaimport.Summary `json:"summary"`
		}{sum}))
	} else if sum != nil {
		a.printf("%s: %s\n", what, taxaTally(sum))
		if sum.DryRun {
			a.printf("nothing was stored\n")
		}
	}
	switch {
	case errors.Is(err, taxaimport.ErrUnusable):
		return usage(err)
	case err != nil:
		return err
	case write != nil:
		return write
	case sum.LeftOut() > 0:
		return &coded{code: Rejected, err: fmt.Errorf("%d rows were left out", sum.LeftOut()), quiet: true}
	}
	return nil
}

func taxaTally(s *taxaimport.Summary) string {
	list := []string{fmt.Sprintf("%d rows", s.Rows)}
	for _, part := range []struct {
		n    int
		what string
	}{
		{s.Added, "added"}, {s.LaidOver, "laid over the base"}, {s.Changed, "changed"}, {s.Unchanged, "unchanged"}, {s.Doubtful, "doubtful"},
		{s.Rejected, "rejected"}, {s.NotReached, "not reached"},
	} {
		if part.n > 0 {
			list = append(list, fmt.Sprintf("%d %s", part.n, part.what))
		}
	}
	return strings.Join(list, ", ")
}
