package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) taxa() *cobra.Command {
	cmd := &cobra.Command{Use: "taxa", Short: "Names and the classification: match, show, tree; import checklists and diagnoses"}
	cmd.AddCommand(a.taxaMatch(), a.taxaShow(), a.taxaTree(), a.taxaImport(), a.taxaDiagnoses())
	return cmd
}

// linesOr gives the arguments, or the lines of the standard input if there are none.
func (a *App) linesOr(list []string) ([]string, error) {
	if len(list) > 0 {
		return list, nil
	}
	var out []string
	sc := bufio.NewScanner(io.LimitReader(a.In, 64<<20))
	for sc.Scan() {
		if s := strings.TrimSpace(sc.Text()); s != "" {
			out = append(out, s)
		}
	}
	if len(out) == 0 && sc.Err() == nil {
		return nil, usage(errors.New("nothing was given, neither as arguments nor on the standard input"))
	}
	return out, sc.Err()
}

// perCall is how many names or formulae are asked about at once.
const perCall = 500

func (a *App) taxaMatch() *cobra.Command {
	var limit int32
	cmd := &cobra.Command{
		Use:     "match [NAME...]",
		Short:   "What taxa names may mean: exact, by synonym, by vernacular, or misspelt, with the reason",
		Long:    "Names are given as arguments or one a line on the standard input. Exits with 3 if a name has no exact match.",
		Example: "  platarium taxa match \"Perca fluviatillis\"\n  platarium taxa match --json < names.txt",
	}
	cmd.Flags().Int32Var(&limit, "limit", 5, "at most so many candidates for each")
	cmd.RunE = func(cmd *cobra.Command, list []string) error {
		names, err := a.linesOr(list)
		if err != nil {
			return err
		}
		return a.with(func(c *client.Client) error {
			unsure := 0
			for len(names) > 0 {
				n := min(perCall, len(names))
				res, err := c.Taxa.MatchNames(cmd.Context(), &pb.MatchNamesRequest{Names: names[:n], Limit: limit})
				if err != nil {
					return err
				}
				names = names[n:]
				for _, m := range res.GetMatches() {
					if len(m.GetCandidates()) == 0 || !m.GetCandidates()[0].GetExact() {
						unsure++
					}
					if err := a.printMatches(m); err != nil {
						return err
					}
				}
			}
			if unsure > 0 {
				return &coded{code: Missing, err: fmt.Errorf("%d names without an exact match", unsure), quiet: true}
			}
			return nil
		})
	}
	return cmd
}

func (a *App) printMatches(m *pb.NameMatches) error {
	if a.json {
		return a.printJSON(m)
	}
	a.printf("%s\n", m.GetQuery())
	if len(m.GetCandidates()) == 0 || m.GetCandidates()[0].GetExact() || !sure(m.GetCandidates()[0]) { // a vernacular needn't be a scientific name
		for _, w := range m.GetWarnings() {
			a.printf("    ! %s\n", w)
		}
	}
	if len(m.GetCandidates()) == 0 {
		a.printf("    nothing near it\n")
	}
	for _, c := range m.GetCandidates() {
		a.printf("    %.2f  %s  (%s)  %s\n", c.GetScore(), c.GetAcceptedName(), c.GetReason(), c.GetAccepted())
	}
	return nil
}
