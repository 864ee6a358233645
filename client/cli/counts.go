package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	"platarium/indexer/meristic"
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
		if err := knownCharacter(character); err != nil {
			return err
		}
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

// knownCharacter refuses a code that no character has, with all that there are.
func knownCharacter(code string) error {
	if _, ok := meristic.CharacterByCode(code); ok || code == "" {
		return nil
	}
	var all []string
	for _, c := range meristic.Characters() {
		all = append(all, c.String())
	}
	return usage(fmt.Errorf("--character: found %q; want one of %s", code, strings.Join(all, ", ")))
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
		Use:   "check --taxon NAME FORMULA",
		Short: "Compare counts with the diagnoses of a taxon in the archive",
		Long: "Gives, for each publication, a verdict for each character: agrees, outside (near enough for a variant or a miscount), contradicts, not comparable, or not in the\n" +
			"diagnosis. Exits with 8 if one contradicts, with 5 if the formula can't be meant, with 3 if there is nothing to compare with.",
		Example: "  platarium counts check --taxon \"Perca fluviatilis\" \"D XIV, I,14; A II,9\"",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVar(&taxon, "taxon", "", "scientific or vernacular name, or taxa/{id}")
	_ = cmd.MarkFlagRequired("taxon")
	cmd.RunE = func(cmd *cobra.Command, list []string) error {
		return a.with(func(c *client.Client) error {
			id, road, err := taxonOf(cmd.Context(), c, taxon)
			if err != nil {
				return err
			}
			if err := a.readFormula(cmd.Context(), c, list[0]); err != nil {
				return err
			}
			res, err := c.Taxa.CheckCounts(cmd.Context(), &pb.CheckCountsRequest{Taxon: id, Formula: list[0]})
			if err != nil {
				return err
			}
			if a.json {
				err = a.printJSON(res)
			} else {
				if road != "" {
					a.notef("%s: %s\n", taxon, road)
				}
				a.printVerdicts(res.GetVerdicts())
			}
			return errors.Join(err, judged(res.GetVerdicts(), taxon))
		})
	}
	return cmd
}

// readFormula refuses a formula that can't be meant, and tells what had to be assumed to read it.
func (a *App) readFormula(ctx context.Context, c *client.Client, formula string) error {
	res, err := c.Taxa.ParseCounts(ctx, &pb.ParseCountsRequest{Formulae: []string{formula}})
	if err != nil {
		return err
	}
	r := res.GetReadings()[0]
	if r.GetError() != "" {
		return Code(Refused, fmt.Errorf("%q can't be meant: %s", formula, r.GetError()))
	}
	for _, s := range r.GetCounts().GetAssumptions() {
		a.notef("assumed: %s\n", s)
	}
	for _, s := range r.GetCounts().GetWarnings() {
		a.notef("! %s\n", s)
	}
	return nil
}

// printVerdicts writes verdicts under the publication that each is about, and what could not be compared for want of a count on one line.
func (a *App) printVerdicts(list []*pb.CountVerdict) {
	for len(list) > 0 {
		n := 1
		for n < len(list) && list[n].GetCitation() == list[0].GetCitation() {
			n++
		}
		a.printf("after %s:\n", list[0].GetCitation())
		var unstated, unsaid []string
		for _, v := range list[:n] {
			switch {
			case v.GetExplanation() == v.GetCharacter()+" is not stated":
				unstated = append(unstated, v.GetCharacter())
			case v.GetVerdict() == notInDiagnosis:
				unsaid = append(unsaid, v.GetCharacter())
			default:
				a.printf("    %-14s  %s\n", v.GetVerdict(), v.GetExplanation())
			}
		}
		if unstated != nil {
			a.printf("    only in the diagnosis: %s\n", strings.Join(unstated, ", "))
		}
		if unsaid != nil {
			a.printf("    not in the diagnosis: %s\n", strings.Join(unsaid, ", "))
		}
		list = list[n:]
	}
}

// notInDiagnosis is the verdict of the contract on a character of which the publication says nothing.
const notInDiagnosis = "not in the diagnosis"

// judged turns verdicts into an exit code.
func judged(list []*pb.CountVerdict, taxon string) error {
	compared := false
	for _, v := range list {
		switch v.GetVerdict() {
		case meristic.Contradicts.String():
			return &coded{code: Problems, err: errors.New("counts contradict the diagnosis"), quiet: true}
		case meristic.Agrees.String(), meristic.OutsideBy.String():
			compared = true
		}
	}
	switch {
	case len(list) == 0:
		return Code(Missing, fmt.Errorf("%s has no diagnosis; add published counts with: platarium taxa diagnoses FILE.tsv", taxon))
	case !compared:
		return Code(Missing, fmt.Errorf("no diagnosis of %s can be compared with these counts", taxon))
	}
	return nil
}
