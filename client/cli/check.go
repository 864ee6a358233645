package cli

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	"platarium/indexer/meristic"
	pb "platarium/proto/platarium/v1"
)

// Verdicts of the contract on proportions.
const (
	agrees  = "agrees"
	outside = "outside"
)

func (a *App) check() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "check PICTURE...",
		Short: "Hold a picture's counts, proportions and scale against what is published of its animal",
		Long: "Gives a verdict for each count and each proportion with the publication it rests on, the lengths measured from landmarks, and what is wrong with the\n" +
			"scale. Exits with 8 if a count contradicts or a proportion lies outside.",
		Example: "  platarium check pictures/perch-plate\n  platarium check pictures/perch-plate pictures/perch-outline --json",
		Args:    args(cobra.MinimumNArgs(1)),
	}
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			wrong := 0
			for i, name := range names {
				res, err := c.Commission.CheckPicture(cmd.Context(), &pb.CheckPictureRequest{Name: name})
				if err != nil {
					return err
				}
				switch {
				case a.json:
					err = a.printJSON(res)
				default:
					if i > 0 {
						a.printf("\n")
					}
					a.printf("%s\n", name)
					a.printCheck(res)
				}
				if err != nil {
					return err
				}
				if disagrees(res) {
					wrong++
				}
			}
			if wrong > 0 {
				return &coded{code: Problems, err: errors.New("a picture disagrees with what is published"), quiet: true}
			}
			return nil
		})
	}
	return cmd
}

// disagrees says whether a count contradicts or a proportion lies outside.
func disagrees(res *pb.PictureCheck) bool {
	for _, v := range res.GetCounts() {
		if v.GetVerdict() == meristic.Contradicts.String() {
			return true
		}
	}
	for _, v := range res.GetProportions() {
		if v.GetVerdict() == outside {
			return true
		}
	}
	return false
}

func (a *App) printCheck(res *pb.PictureCheck) {
	if len(res.GetCounts())+len(res.GetProportions()) == 0 {
		a.notef("nothing published of its animal to compare with; add counts with: platarium taxa diagnoses FILE.tsv\n")
	}
	a.printVerdicts(res.GetCounts())
	if len(res.GetProportions()) > 0 {
		a.printf("proportions:\n")
	}
	for _, v := range res.GetProportions() {
		a.printf("    %-14s  %s\n", v.GetVerdict(), proportionLine(v))
	}
	if s := res.GetScale(); s != nil {
		a.printf("scale: %s\n", scaleLine(s))
		for _, w := range s.GetWarnings() {
			a.printf("    ! %s\n", w)
		}
	}
	if len(res.GetLengths()) > 0 {
		a.printf("lengths:\n")
	}
	for _, l := range res.GetLengths() {
		a.printf("    %-4s  %8.1f pixels", l.GetMeasurement(), l.GetPixels())
		if l.GetMm() > 0 {
			a.printf("  %8.1f mm", l.GetMm())
		}
		if l.GetUncertaintyMm() > 0 {
			a.printf(" ± %.1f", l.GetUncertaintyMm())
		}
		a.printf("\n")
	}
	for _, r := range res.GetRemarks() {
		a.printf("! %s\n", r)
	}
}

// proportionLine names a proportion and says in the server's words what was found, what is wanted and after whom.
func proportionLine(v *pb.ProportionVerdict) string {
	name := v.GetLength() + "/" + v.GetOver()
	switch said := v.GetExplanation(); {
	case strings.HasPrefix(said, v.GetLength()+" "):
		return said
	case said != "":
		return name + ": " + said
	}
	return fmt.Sprintf("%s: %.3f; %s gives %.3f to %.3f", name, v.GetFound(), v.GetAgainst(), v.GetMin(), v.GetMax())
}
