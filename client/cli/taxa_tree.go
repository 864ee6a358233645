package cli

import (
	"encoding/json"
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/encoding/protojson"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// rawJSON is a message that has been written already.
type rawJSON = json.RawMessage

func (a *App) taxaTree() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "tree NAME",
		Short: "The taxa above a taxon, and those directly below it",
		Long: "Lists the way from the root, the taxon itself, its synonyms and the taxa directly below it.\n" +
			"With --json: one line each, with its relation: above, itself, synonym or below.",
		Example: "  platarium taxa tree Percidae\n  platarium taxa tree Percidae --json",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			id, _, err := taxonOf(cmd.Context(), c, names[0])
			if err != nil {
				return err
			}
			w, err := readTaxon(cmd.Context(), c, id)
			if err != nil {
				return err
			}
			return a.writeTree(w)
		})
	}
	return cmd
}

func (a *App) writeTree(w *wholeTaxon) error {
	table := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
	for _, group := range []struct {
		relation, mark string
		list           []*pb.Taxon
	}{{"above", "", w.lineage}, {"itself", "> ", []*pb.Taxon{w.record}}, {"synonym", "  = ", w.synonyms}, {"below", "    ", w.below}} {
		for _, t := range group.list {
			if a.json {
				b, err := protojson.Marshal(t)
				if err != nil {
					return err
				}
				if err := a.jsonLine(struct {
					Relation string  `json:"relation"`
					Taxon    rawJSON `json:"taxon"`
				}{group.relation, b}); err != nil {
					return err
				}
				continue
			}
			if _, err := fmt.Fprintf(table, "%s%s\t%s\t%s\n", group.mark, t.GetRank(), named(t), t.GetName()); err != nil {
				return err
			}
		}
	}
	return table.Flush()
}
