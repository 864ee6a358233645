package cli

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"platarium/client/manifest"
)

func (a *App) manifestCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "manifest", Short: "Write, check and explain the tables that import reads"}
	cmd.AddCommand(a.manifestColumns(), a.manifestCheck())
	return cmd
}

func (a *App) manifestColumns() *cobra.Command {
	var specimens bool
	cmd := &cobra.Command{
		Use:     "columns",
		Short:   "List the columns of a manifest, with their meaning and an example",
		Example: "  platarium manifest columns\n  platarium manifest columns --specimens --json",
		Args:    args(cobra.NoArgs),
	}
	cmd.Flags().BoolVar(&specimens, "specimens", false, "the columns of a specimens file instead")
	cmd.RunE = func(*cobra.Command, []string) error {
		list := manifest.Columns()
		if specimens {
			list = manifest.SpecimenColumns()
		}
		if a.json {
			for _, c := range list {
				if err := a.jsonLine(c); err != nil {
					return err
				}
			}
			return nil
		}
		w := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
		for _, c := range list {
			meaning := c.Meaning
			if c.Required {
				meaning += " (required)"
			}
			if c.Example != "" {
				meaning += "; such as: " + c.Example
			}
			if _, err := fmt.Fprintf(w, "%s\t%s\n", c.Name, meaning); err != nil {
				return err
			}
		}
		if specimens {
			if _, err := fmt.Fprintf(w, "NAME_mm\tany other length, in millimeters; such as: body_depth_mm\n"); err != nil {
				return err
			}
		}
		return w.Flush()
	}
	return cmd
}

func (a *App) manifestCheck() *cobra.Command {
	var opts manifest.Options
	cmd := &cobra.Command{
		Use:     "check MANIFEST",
		Short:   "Look for mistakes in a manifest, without a server",
		Long:    "Checks all that can be told from the tables and the files alone. Whether names are known is seen by: platarium import --dry-run",
		Example: "  platarium manifest check plates.csv --specimens specimens.csv",
		Args:    args(cobra.ExactArgs(1)),
	}
	f := cmd.Flags()
	f.StringVar(&opts.Specimens, "specimens", "", "table of specimens")
	f.StringVar(&opts.Files, "files", "", "folder below which the files lie (the manifest's own)")
	f.StringVar(&opts.Encoding, "encoding", "", "encoding of the tables: "+strings.Join(manifest.Encodings(), ", "))
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		opts.Path = words[0]
		return a.runImport(func(o manifest.Options) (*manifest.Summary, error) { return manifest.Check(cmd.Context(), o) }, opts, true)
	}
	return cmd
}
