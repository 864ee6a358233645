package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"platarium/client"
	"platarium/client/manifest"
)

func (a *App) manifestCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "manifest", Short: "Write, check and explain the tables that import reads"}
	cmd.AddCommand(a.manifestDraft(), a.manifestCheck(), a.manifestColumns())
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

func (a *App) manifestDraft() *cobra.Command {
	var out string
	var offline bool
	cmd := &cobra.Command{
		Use:   "draft FOLDER",
		Short: "Write a first manifest of a folder of scans, with doubtful guesses marked",
		Long: "Guesses kind, title, species, view, stage and date from the names of files and folders, from what the files say about themselves, and from the\n" +
			"species the archive knows. What is doubtful stands in the column doubts: settle it in a spreadsheet and clear the cell, since a row with\n" +
			"doubts isn't imported. Files that are left out are listed with the reason.",
		Example: "  platarium manifest draft scans\n  platarium manifest draft scans -o first.csv --offline",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVarP(&out, "output", "o", "", "file to write, or - for standard output (FOLDER/manifest.csv)")
	cmd.Flags().BoolVar(&offline, "offline", false, "look up no names at the server")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		folder := words[0]
		if info, err := os.Stat(folder); err != nil || !info.IsDir() {
			return usage(fmt.Errorf("found %q; want a folder of scans", folder))
		}
		if out == "" {
			out = filepath.Join(folder, "manifest.csv")
		}
		if _, err := os.Stat(out); out != "-" && !errors.Is(err, fs.ErrNotExist) {
			return usage(fmt.Errorf("%s is there already; want another file with -o, so that nobody's work is lost", out))
		}
		opts := manifest.DraftOptions{Folder: folder, Year: time.Now().Year()}
		if offline {
			return a.writeDraft(cmd.Context(), nil, opts, out)
		}
		return a.with(func(c *client.Client) error { return a.writeDraft(cmd.Context(), c, opts, out) })
	}
	return cmd
}

func (a *App) writeDraft(ctx context.Context, c *client.Client, opts manifest.DraftOptions, out string) error {
	d, err := manifest.Draft(ctx, c, opts)
	if err != nil {
		return err
	}
	if out == "-" {
		err = d.Write(a.Out)
	} else {
		err = writeNew(out, d)
	}
	if err != nil {
		return err
	}
	a.notef("%s\n", d)
	for _, l := range d.LeftOut {
		a.notef("left out: %s %s\n", l.File, l.Why)
	}
	if out == "-" {
		return nil
	}
	next := "platarium import " + out + " --dry-run"
	if filepath.Clean(filepath.Dir(out)) != filepath.Clean(opts.Folder) {
		next += " --files " + opts.Folder
	}
	a.notef("wrote %s; next: %s\n", out, next)
	return nil
}

// writeNew writes a file that isn't there yet.
func writeNew(path string, d *manifest.Drafted) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	return errors.Join(d.Write(f), f.Close())
}
