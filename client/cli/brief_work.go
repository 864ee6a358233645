package cli

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// amendTries is how often a change to a list is tried again because somebody else changed the brief meanwhile.
const amendTries = 5

// amendBrief reads a brief, changes one of its lists and writes it back, unless somebody else was faster: then it begins anew, so that no entry is lost.
func (a *App) amendBrief(ctx context.Context, name, field string, change func(*pb.Brief)) error {
	return a.with(func(c *client.Client) error {
		for try := 1; ; try++ {
			b, err := c.Commission.GetBrief(ctx, &pb.GetBriefRequest{Name: name})
			if err != nil {
				return err
			}
			change(b)
			made, err := c.Commission.UpdateBrief(ctx, &pb.UpdateBriefRequest{Brief: b, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{field}}})
			if status.Code(err) == codes.Aborted && try < amendTries {
				continue
			}
			if err != nil {
				return err
			}
			return a.printMade(made)
		}
	})
}

// sameStructure compares names of structures as the server folds them.
func sameStructure(a, b string) bool {
	fold := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	return fold(a) == fold(b)
}

func (a *App) briefChoose() *cobra.Command {
	var leaveOut, undo bool
	var note string
	cmd := &cobra.Command{
		Use:   "choose BRIEF STRUCTURE PICTURE",
		Short: "Choose a picture for a structure, or leave it out; that goes before the plan's own choice",
		Example: "  platarium brief choose briefs/perch-panel opercle pictures/perch-head --note \"cleanest edge\"\n" +
			"  platarium brief choose briefs/perch-panel opercle pictures/old-plate --leave-out --note \"spine missing\"",
		Args: args(cobra.ExactArgs(3)),
	}
	cmd.Flags().BoolVar(&leaveOut, "leave-out", false, "don't use the picture for the structure")
	cmd.Flags().BoolVar(&undo, "undo", false, "take back what was chosen or left out; the plan decides again")
	cmd.Flags().StringVar(&note, "note", "", "why")
	cmd.MarkFlagsMutuallyExclusive("leave-out", "undo")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		return a.amendBrief(cmd.Context(), words[0], "choices", func(b *pb.Brief) {
			b.Choices = slices.DeleteFunc(b.Choices, func(ch *pb.Choice) bool {
				return ch.GetPicture() == words[2] && sameStructure(ch.GetStructure(), words[1])
			})
			if !undo {
				b.Choices = append(b.Choices, &pb.Choice{Structure: words[1], Picture: words[2], LeftOut: leaveOut, Note: note})
			}
		})
	}
	return cmd
}

func (a *App) briefStudy() *cobra.Command {
	var note string
	cmd := &cobra.Command{
		Use:     "study BRIEF PICTURE [STRUCTURE...]",
		Short:   "Log an outline or study drawn for a brief, and the structures that it works out",
		Example: "  platarium brief study briefs/perch-panel pictures/perch-outline \"first dorsal fin\" opercle",
		Args:    args(cobra.MinimumNArgs(2)),
	}
	cmd.Flags().StringVar(&note, "note", "", "remarks")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		return a.amendBrief(cmd.Context(), words[0], "studies", func(b *pb.Brief) {
			b.Studies = slices.DeleteFunc(b.Studies, func(s *pb.BriefStudy) bool { return s.GetPicture() == words[1] })
			b.Studies = append(b.Studies, &pb.BriefStudy{Picture: words[1], Structures: words[2:], Note: note})
		})
	}
	return cmd
}

func (a *App) briefCheck() *cobra.Command {
	var by, on, against, note string
	cmd := &cobra.Command{
		Use:   "check BRIEF STRUCTURE [FORMULA]",
		Short: "Tick a structure: its count was verified, by whom and against what",
		Long:  "Ticks a structure of the brief's checklist. The formula is the count as found; a structure without counts is ticked without one.",
		Example: "  platarium brief check briefs/perch-panel \"first dorsal fin\" \"D1 XIV\" --by \"Maren Oltedal\" --against specimens/perch-7\n" +
			"  platarium brief check briefs/perch-panel opercle --by \"Maren Oltedal\" --on 2026-11-02 --against \"Whitehead et al. 1986\"",
		Args: args(cobra.RangeArgs(2, 3)),
	}
	f := cmd.Flags()
	f.StringVar(&by, "by", "", "who verified it")
	f.StringVar(&on, "on", "", "day; today if left out")
	f.StringVar(&against, "against", "", "against what: a citation, specimens/{id} or pictures/{id}")
	f.StringVar(&note, "note", "", "remarks")
	_ = cmd.MarkFlagRequired("by")
	_ = cmd.MarkFlagRequired("against")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		if on == "" {
			on = time.Now().Format(time.DateOnly)
		}
		tick := &pb.CheckedCount{Structure: words[1], CheckedBy: by, CheckedOn: on, Against: against, Note: note}
		if len(words) == 3 {
			tick.Formula = words[2]
		}
		return a.amendBrief(cmd.Context(), words[0], "checked", func(b *pb.Brief) { b.Checked = append(b.Checked, tick) })
	}
	return cmd
}

func (a *App) briefDeliver() *cobra.Command {
	var copied []string
	var etag, requestID string
	cmd := &cobra.Command{
		Use:   "deliver BRIEF PLATE",
		Short: "Record the plate delivered, and what it was made from",
		Long: "Records the plate delivered, and that it derives from the brief's body, chosen pictures and studies, in one commit. Name the pictures from which lines\n" +
			"or tone were copied: of the others only facts were taken. A brief is delivered once, and stays from then on.",
		Example: "  platarium brief deliver briefs/perch-panel pictures/perch-plate --copied pictures/perch-outline",
		Args:    args(cobra.ExactArgs(2)),
	}
	cmd.Flags().StringSliceVar(&copied, "copied", nil, "picture from which lines or tone were copied, pictures/{id}; repeat or part with commas")
	cmd.Flags().StringVar(&etag, "etag", "", "deliver only if the brief still has this etag")
	cmd.Flags().StringVar(&requestID, "request-id", "", "makes a repetition harmless")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			b, err := c.Commission.DeliverBrief(cmd.Context(), &pb.DeliverBriefRequest{Name: names[0], Plate: names[1], Copied: copied, Etag: etag, RequestId: requestID})
			if err != nil {
				return err
			}
			if a.json {
				return a.printJSON(b)
			}
			a.printf("%s: delivered as %s on %s\n", b.GetName(), b.GetPlate(), b.GetDeliveredOn())
			return nil
		})
	}
	return cmd
}
