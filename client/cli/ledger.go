package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	"platarium/client/ledger"
)

func (a *App) ledger() *cobra.Command {
	cmd := &cobra.Command{Use: "ledger", Short: "Bring in an old ledger of licences"}
	cmd.AddCommand(a.ledgerImport(), a.ledgerColumns())
	return cmd
}

func (a *App) ledgerColumns() *cobra.Command {
	return &cobra.Command{
		Use:   "columns",
		Short: "The columns of a ledger",
		Args:  args(cobra.NoArgs),
		RunE: func(*cobra.Command, []string) error {
			for _, c := range ledger.Columns() {
				if a.json {
					if err := a.writeJSON(c); err != nil {
						return err
					}
					continue
				}
				required := ""
				if c.Required {
					required = " (required)"
				}
				a.printf("%-12s %s%s\n", c.Name, c.Meaning, required)
				if c.Example != "" {
					a.printf("%-12s   such as: %s\n", "", c.Example)
				}
			}
			return nil
		},
	}
}

func (a *App) ledgerImport() *cobra.Command {
	var opts ledger.Options
	cmd := &cobra.Command{
		Use:   "import FILE",
		Short: "Bring in a table of old licences, one a row",
		Long: "Reads a table (CSV in UTF-8, parted by commas, semicolons or tabs) with one agreement a row and makes a grant of each. A licensee is named by its id or\n" +
			"by exactly what it is called; the party it was taken for is reported. Rows that collide, with each other or with what is there, are rejected, the later in\n" +
			"the file, unless --record-collisions says that the contracts stand nevertheless: they are then stored as executed and name what they collide with.\n" +
			"Rejected rows are written to FILE.rejects.csv to be mended and imported again. Importing the same file again does no harm.\n\n" +
			"What the ledger lacks is listed at the end:\n" +
			"  gap          times between two agreements of a series: one party, one picture, with media and territories in common\n" +
			"  numbers      running numbers that no row bears, or several do, in each series (a year, a prefix); needs the column number\n" +
			"  no document  rows that name no signed document, or one that isn't there; needs the column document, whose files are stored with the grants\n" +
			"What isn't found: agreements missing before the first or after the last of a series, times that a rejected row would fill (mend it and look\n" +
			"again), licences that the ledger never had, and uses.\n\n" +
			"The columns: platarium ledger columns.",
		Example: "  platarium ledger import ledger-1990.csv --dry-run\n  platarium ledger import ledger-1990.csv --record-collisions",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().BoolVar(&opts.DryRun, "dry-run", false, "only check: nothing is stored")
	cmd.Flags().BoolVar(&opts.RecordCollisions, "record-collisions", false, "store colliding contracts with a note of what they collide with (owners only)")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		opts.Path = names[0]
		var failed error
		opts.Report = func(r ledger.Result) { failed = errors.Join(failed, a.ledgerLine(r)) }
		return a.with(func(c *client.Client) error {
			sum, err := ledger.Import(cmd.Context(), c, opts)
			if errors.Is(err, ledger.ErrUnusable) {
				return usage(err)
			}
			if err := errors.Join(err, failed); err != nil {
				return err
			}
			return a.ledgerSummary(sum, opts.DryRun)
		})
	}
	return cmd
}

func (a *App) ledgerLine(r ledger.Result) error {
	if a.json {
		return a.writeJSON(r)
	}
	a.printf("line %d: %s", r.Line, r.State)
	if r.Grant != "" {
		a.printf(" as %s", r.Grant)
	}
	if r.Party != "" {
		a.printf(", to %s (%s)", r.Called, r.Party)
	}
	if r.Reason != "" {
		a.printf(": %s", r.Reason)
	} else if len(r.Collides) > 0 {
		a.printf(": collides with %s", strings.Join(r.Collides, ", "))
	}
	a.printf("\n")
	for _, w := range r.Warnings {
		a.printf("  warning: %s\n", w)
	}
	return nil
}

func (a *App) ledgerSummary(sum *ledger.Summary, dryRun bool) error {
	rejected := sum.States[ledger.Rejected]
	if a.json {
		if err := a.writeJSON(sum); err != nil {
			return err
		}
	} else {
		a.ledgerLacks(sum)
		a.printf("%d rows", sum.Rows)
		for _, s := range []ledger.State{ledger.Acceptable, ledger.Stored, ledger.Recorded, ledger.There, ledger.Rejected} {
			if n := sum.States[s]; n > 0 {
				a.printf(", %d %s", n, s)
			}
		}
		a.printf("\n")
		if dryRun {
			a.printf("nothing was stored\n")
		}
		if sum.Rejects != "" {
			a.printf("rejected rows: %s\n", sum.Rejects)
		}
	}
	if rejected > 0 {
		return &coded{code: Rejected, err: fmt.Errorf("%d rows were rejected", rejected), quiet: true}
	}
	return nil
}

// ledgerLacks says what is missing in a ledger.
func (a *App) ledgerLacks(sum *ledger.Summary) {
	for _, g := range sum.Gaps {
		a.printf("gap: %s\n", g)
	}
	for _, n := range sum.Numbers {
		a.printf("numbers: %s\n", n)
	}
	if lines := sum.Unnumbered; len(lines) > 0 {
		a.printf("numbers: none on %d rows, the first on line %d\n", len(lines), lines[0])
	}
	for _, u := range sum.Undocumented {
		a.printf("no document: %s\n", u)
	}
	if sum.NoDocuments && sum.Rows > 0 {
		a.printf("no document: on any row, since the ledger has no column document\n")
	}
}

// writeJSON writes a value as one line of JSON.
func (a *App) writeJSON(v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	a.printf("%s\n", b)
	return nil
}
