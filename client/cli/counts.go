package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) counts() *cobra.Command {
	cmd := &cobra.Command{Use: "counts", Short: "Read count formulae and check them against published diagnoses"}
	cmd.AddCommand(a.countsParse(), a.countsCheck())
	return cmd
}

func (a *App) countsParse() *cobra.Command {
	var character string
	cmd := &cobra.Command{
		Use:     "parse [FORMULA...]",
		Short:   "What formulae say, what had to be assumed, and what else they may mean",
		Long:    "Formulae are given as arguments or one a line on the standard input. Exits with 5 if one can't be meant.",
		Example: "  platarium counts parse \"D X-XI,11-13; A III,8; P 15-17\"\n  platarium counts parse --character GR \"7-9 + 1 + 14-16\"",
	}
	cmd.Flags().StringVar(&character, "character", "", "the character counted, for formulae that don't name theirs: D1, A, P, GR, LL, ...")
	cmd.RunE = func(cmd *cobra.Command, list []string) error {
		formulae, err := a.linesOr(list)
		if err != nil {
			return err
		}
		return a.with(func(c *client.Client) error {
			bad := 0
			for len(formulae) > 0 {
				n := min(perCall, len(formulae))
				res, err := c.Taxa.ParseCounts(cmd.Context(), &pb.ParseCountsRequest{Formulae: formulae[:n], Character: character})
				if err != nil {
					return err
				}
				formulae = formulae[n:]
				for _, r := range res.GetReadings() {
					if r.GetError() != "" {
						bad++
					}
					if err := a.printReading(r); err != nil {
						return err
					}
				}
			}
			if bad > 0 {
				return &coded{code: Refused, err: fmt.Errorf("%d formulae can't be meant", bad), quiet: true}
			}
			return nil
		})
	}
	return cmd
}

func (a *App) printReading(r *pb.CountsReading) error {
	if a.json {
		return a.printJSON(r)
	}
	a.printf("%s\n", r.GetFormula())
	if r.GetError() != "" {
		a.printf("    can't be meant: %s\n", r.GetError())
		return nil
	}
	c := r.GetCounts()
	a.printf("    = %s\n", c.GetCanonical())
	for _, group := range []struct {
		mark  string
		lines []string
	}{{"  ", c.GetStatements()}, {"assumed: ", c.GetAssumptions()}, {"! ", c.GetWarnings()}, {"or: ", c.GetAlternatives()}} {
		for _, l := range group.lines {
			a.printf("    %s%s\n", group.mark, l)
		}
	}
	return nil
}

func (a *App) countsCheck() *cobra.Command {
	var taxon string
	cmd := &cobra.Command{
		Use:     "check --taxon NAME FORMULA",
		Short:   "Compare counts with the diagnoses of a taxon in the archive",
		Long:    "Gives a verdict for each character: agrees, outside, contradicts, not comparable; with the publication. Exits with 8 if one contradicts, with 3 if the taxon has no diagnosis.",
		Example: "  platarium counts check --taxon \"Perca fluviatilis\" \"D XIV, I,14; A II,9\"",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVar(&taxon, "taxon", "", "name or taxa/{id}")
	_ = cmd.MarkFlagRequired("taxon")
	cmd.RunE = func(cmd *cobra.Command, list []string) error {
		return a.with(func(c *client.Client) error {
			id, err := resolveTaxon(cmd.Context(), c, taxon)
			if err != nil {
				return err
			}
			res, err := c.Taxa.CheckCounts(cmd.Context(), &pb.CheckCountsRequest{Taxon: id, Formula: list[0]})
			if err != nil {
				return err
			}
			contradicted := false
			for _, v := range res.GetVerdicts() {
				contradicted = contradicted || v.GetVerdict() == "contradicts"
				if !a.json {
					a.printf("%-14s %s  [%s]\n", v.GetVerdict(), v.GetExplanation(), v.GetCitation())
				}
			}
			if a.json {
				if err := a.printJSON(res); err != nil {
					return err
				}
			}
			switch {
			case contradicted:
				return &coded{code: Problems, err: fmt.Errorf("counts contradict the diagnosis"), quiet: true}
			case len(res.GetVerdicts()) == 0:
				return Code(Missing, fmt.Errorf("%s has no diagnosis that can be compared; add one with: platarium update %s diagnoses='[{...}]'", taxon, id))
			}
			return nil
		})
	}
	return cmd
}
