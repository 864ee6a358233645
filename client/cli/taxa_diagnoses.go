package cli

import (
	"context"
	"errors"
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"platarium/client"
	"platarium/client/manifest"
	"platarium/client/taxaimport"
)

func (a *App) taxaDiagnoses() *cobra.Command {
	var opts taxaimport.DiagnosisOptions
	var quiet, columns bool
	cmd := &cobra.Command{
		Use:   "diagnoses FILE.tsv",
		Short: "Add published counts of taxa, with their citation",
		Long: "Reads a table parted by tabs, one row for each species and publication, makes one formula of each row's counts and adds it to the taxon's diagnoses, against\n" +
			"which counts are then checked. A publication that the taxon has already isn't doubled: the same counts are left alone, others take their place.\n" +
			"A species must be spelled as the archive spells it, or be one of its synonyms; near names are offered. Exits with 4 if rows were rejected.",
		Example: "  platarium taxa diagnoses --columns\n  platarium taxa diagnoses counts.tsv --dry-run\n  platarium taxa diagnoses counts.tsv",
		Args: func(cmd *cobra.Command, list []string) error {
			if columns {
				return args(cobra.NoArgs)(cmd, list)
			}
			return args(cobra.ExactArgs(1))(cmd, list)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&opts.DryRun, "dry-run", false, "compare and store nothing; every change is listed")
	f.BoolVar(&columns, "columns", false, "list the columns with their meaning and an example")
	f.BoolVar(&quiet, "quiet", false, "no progress and no remarks, only what was rejected and the sum")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		if columns {
			return a.diagnosisColumns()
		}
		opts.Path = words[0]
		return a.with(func(c *client.Client) error { return a.runDiagnoses(cmd.Context(), c, opts, quiet) })
	}
	return cmd
}

func (a *App) diagnosisColumns() error {
	w := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
	for _, c := range taxaimport.DiagnosisColumns() {
		if a.json {
			if err := a.jsonLine(c); err != nil {
				return err
			}
			continue
		}
		meaning := c.Meaning
		if c.Example != "" {
			meaning += "; such as: " + c.Example
		}
		if _, err := fmt.Fprintf(w, "%s\t%s\n", c.Name, meaning); err != nil {
			return err
		}
	}
	return w.Flush()
}

func (a *App) runDiagnoses(ctx context.Context, c *client.Client, opts taxaimport.DiagnosisOptions, quiet bool) error {
	var write error // the first line that couldn't be written
	progress := a.progress(quiet || a.json)
	opts.Progress = func(p taxaimport.Progress) {
		progress.show(manifest.Progress{Stage: p.Stage, Rows: p.Done, AllRows: p.All, Elapsed: p.Elapsed})
	}
	opts.Report = func(r taxaimport.DiagnosisResult) {
		if a.json {
			write = errors.Join(write, a.jsonLine(r))
			return
		}
		progress.clear()
		at := fmt.Sprintf("%s, row %d", r.File, r.Row)
		if r.Species != "" {
			at += ": " + r.Species
		}
		switch {
		case r.Fault != nil:
			a.printf("%s: %s, %s\n", at, r.Outcome, r.Fault)
			for _, near := range r.Candidates {
				a.printf("    %s\n", near)
			}
		case opts.DryRun && r.Outcome != taxaimport.Unchanged:
			a.printf("%s: %s %s  [%s]\n", at, r.Outcome, r.Formula, r.Citation)
		}
		for _, remark := range r.Remarks {
			if !quiet {
				a.printf("%s: remark: %s\n", at, remark)
			}
		}
	}
	sum, err := taxaimport.ImportDiagnoses(ctx, c, opts)
	progress.end()
	return a.endTaxa(sum, "diagnoses", err, write)
}
