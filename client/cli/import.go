package cli

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	terminal "golang.org/x/term"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/client"
	"platarium/client/manifest"
)

func (a *App) importCommand() *cobra.Command {
	var opts manifest.Options
	var quiet, ask bool
	cmd := &cobra.Command{
		Use:   "import MANIFEST",
		Short: "Bring in many pictures at once, from a table with one row a picture",
		Long: "Reads a table (CSV or TSV in UTF-8), sends the files it names and makes a record of every row. A bad row doesn't stop the others: it is\n" +
			"reported with its row, column and reason, and written to MANIFEST.rejects.csv to be mended and imported again. Importing the same table\n" +
			"again does no harm: what is there and says the same is left alone, and an import that was broken off goes on where it was.\n\n" +
			"A first table of a folder is written by: platarium manifest draft. The columns: platarium manifest columns.",
		Example: "  platarium import plates.csv --dry-run\n  platarium import plates.csv --specimens specimens.csv\n  platarium import plates.csv --accept-near 0.9 --json",
		Args:    args(cobra.ExactArgs(1)),
	}
	f := cmd.Flags()
	f.StringVar(&opts.Specimens, "specimens", "", "table of specimens, which go in first")
	f.StringVar(&opts.Files, "files", "", "folder below which the files lie (the manifest's own)")
	f.StringVar(&opts.Encoding, "encoding", "", "encoding of the tables: "+strings.Join(manifest.Encodings(), ", "))
	f.BoolVar(&opts.DryRun, "dry-run", false, "check everything and store nothing")
	f.BoolVar(&opts.Update, "update", false, "change what is in the archive and differs; an empty cell changes nothing")
	f.IntVar(&opts.Jobs, "jobs", 4, "files read and sent at once")
	f.Float64Var(&opts.AcceptNear, "accept-near", 0, "take the nearest known name when it scores at least so much (0 to 1) and is clearly ahead; 0 takes none")
	f.BoolVar(&ask, "ask", false, "ask about names that are only near a known one")
	f.StringVar(&opts.Rejects, "rejects", "", "write rejected rows to this file (MANIFEST.rejects.csv)")
	f.BoolVar(&quiet, "quiet", false, "no progress, only rejected rows and the sum")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		opts.Path = words[0]
		if opts.AcceptNear < 0 || opts.AcceptNear > 1 || opts.Jobs < 1 || opts.Jobs > 64 {
			return usage(fmt.Errorf("found --accept-near %v and --jobs %d; want 0 to 1, and 1 to 64", opts.AcceptNear, opts.Jobs))
		}
		if ask {
			in, ok := a.In.(*os.File)
			if !ok || !terminal.IsTerminal(int(in.Fd())) {
				return usage(errors.New("--ask needs a terminal to ask at; want --accept-near in a script"))
			}
			opts.Confirm = a.asker(bufio.NewReader(a.In))
		}
		return a.with(func(c *client.Client) error {
			return a.runImport(func(o manifest.Options) (*manifest.Summary, error) { return manifest.Import(cmd.Context(), c, o) }, opts, quiet)
		})
	}
	return cmd
}

// runImport runs an import or a check and tells of it.
func (a *App) runImport(run func(manifest.Options) (*manifest.Summary, error), opts manifest.Options, quiet bool) error {
	var write error // the first line of JSON that couldn't be written
	progress := a.progress(quiet || a.json || opts.Confirm != nil)
	opts.Progress = progress.show
	opts.Report = func(r manifest.RowResult) {
		switch {
		case a.json:
			write = errors.Join(write, a.jsonLine(r))
		case r.Outcome == manifest.Rejected:
			progress.clear()
			a.printf("%s, row %d, %s\n", r.Table, r.Row, r.Reason)
		case len(r.Remarks) > 0 && !quiet:
			progress.clear()
			a.printf("%s, row %d: %s; remark: %s\n", r.Table, r.Row, r.Outcome, strings.Join(r.Remarks, "; "))
		}
	}
	sum, err := run(opts)
	progress.end()
	if sum != nil {
		if a.json {
			write = errors.Join(write, a.jsonLine(struct {
				Summary *manifest.Summary `json:"summary"`
			}{sum}))
		} else {
			a.printf("%s\n", sum)
		}
	}
	switch {
	case errors.Is(err, manifest.ErrUnusable):
		return usage(err)
	case errors.Is(err, context.Canceled) || status.Code(err) == codes.Canceled:
		return Code(Interrupted, errors.New("stopped; importing the same table again goes on from here"))
	case err != nil:
		return err
	case write != nil:
		return write
	case sum.Rejected() > 0:
		return &coded{code: Rejected, err: fmt.Errorf("%d rows were rejected", sum.Rejected()), quiet: true}
	}
	return nil
}

// jsonLine writes one value as one line of JSON.
func (a *App) jsonLine(v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(a.Out, "%s\n", b)
	return err
}

// asker asks a person which taxon a name means.
func (a *App) asker(in *bufio.Reader) func(context.Context, string, []manifest.Candidate) (int, error) {
	return func(ctx context.Context, name string, list []manifest.Candidate) (int, error) {
		a.notef("%q isn't known as it is spelled. Did the writer mean:\n", name)
		for i, c := range list {
			a.notef("  %d  %s (%s)\n", i+1, c.Name, c.Reason)
		}
		for {
			a.notef("number, or enter for none of them: ")
			line, err := in.ReadString('\n')
			if line = strings.TrimSpace(line); line == "" || ctx.Err() != nil {
				if errors.Is(err, io.EOF) {
					err = nil
				}
				return -1, errors.Join(err, ctx.Err())
			}
			if n, err := strconv.Atoi(line); err == nil && n >= 1 && n <= len(list) {
				return n - 1, nil
			}
			a.notef("found %q; want 1 to %d\n", line, len(list))
		}
	}
}

// seconds rounds a duration for a person.
func seconds(d time.Duration) string { return d.Round(time.Second).String() }
