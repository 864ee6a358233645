package cli

import (
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) briefList() *cobra.Command {
	var open bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List briefs",
		Example: "  platarium brief list --open",
		Args:    args(cobra.NoArgs),
	}
	cmd.Flags().BoolVar(&open, "open", false, "only those without a plate delivered")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return a.with(func(c *client.Client) error {
			req := &pb.ListBriefsRequest{}
			for {
				res, err := c.Commission.ListBriefs(cmd.Context(), req)
				if err != nil {
					return err
				}
				for _, b := range res.GetBriefs() {
					if open && b.GetPlate() != "" {
						continue
					}
					if err := a.briefLine(b); err != nil {
						return err
					}
				}
				if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
					return nil
				}
			}
		})
	}
	return cmd
}

func (a *App) briefLine(b *pb.Brief) error {
	if a.json {
		return a.printJSON(b)
	}
	about := []string{b.GetIdentification().GetScientificName()}
	if about[0] == "" {
		about[0] = b.GetIdentification().GetTaxon()
	}
	add := func(label, value string) {
		if value != "" {
			about = append(about, label+value)
		}
	}
	add("for ", b.GetClient())
	if b.GetPlate() != "" {
		add("delivered "+b.GetDeliveredOn()+" as ", b.GetPlate())
	} else {
		add("due ", b.GetDueOn())
	}
	a.printf("%s  %s: %s\n", b.GetName(), b.GetTitle(), strings.Join(about, "; "))
	return nil
}

func (a *App) briefChecklist() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "checklist TAXON",
		Short:   "Which structures usually identify an animal of a taxon's group",
		Example: "  platarium brief checklist \"Perca fluviatilis\"",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			res, err := c.Commission.GetChecklist(cmd.Context(), &pb.GetChecklistRequest{Taxon: names[0]})
			if err != nil {
				return err
			}
			if a.json {
				return a.printJSON(res)
			}
			a.printf("%s:\n", res.GetGroup())
			for _, w := range res.GetStructures() {
				a.printf("  %s", inView(w.GetStructure(), w.GetView()))
				if w.GetNote() != "" {
					a.printf(": %s", w.GetNote())
				}
				a.printf("\n")
			}
			return nil
		})
	}
	return cmd
}

// inView names a structure and, if it is stated, its view.
func inView(structure string, v pb.View) string {
	if v == pb.View_VIEW_UNSPECIFIED {
		return structure
	}
	return structure + ", " + word(v)
}
