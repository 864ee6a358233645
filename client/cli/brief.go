package cli

import (
	"context"
	"errors"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) brief() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "brief",
		Short: "Keep what commissions ask for, and what is done for them until delivery",
		Long: "Keeps briefs: the animal to be drawn, its structures and views, the size in print and the intended use; then the pictures chosen,\n" +
			"the studies drawn, the counts verified, and the plate delivered. A plan of the work comes from: platarium plan briefs/{id}\n" +
			"One is shown and deleted like every record: platarium show briefs/{id}, platarium delete briefs/{id}",
	}
	cmd.AddCommand(a.briefCreate(), a.briefUpdate(), a.briefList(), a.briefChecklist(), a.briefChoose(), a.briefStudy(), a.briefCheck(), a.briefDeliver())
	return cmd
}

func briefs() collection {
	return collection{
		"brief", func() proto.Message { return &pb.Brief{} },
		func(ctx context.Context, c *client.Client, n string) (proto.Message, error) {
			return c.Commission.GetBrief(ctx, &pb.GetBriefRequest{Name: n})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, id, rid string) (proto.Message, error) {
			return c.Commission.CreateBrief(ctx, &pb.CreateBriefRequest{Brief: m.(*pb.Brief), BriefId: id, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, mask *fieldmaskpb.FieldMask, rid string) (proto.Message, error) {
			return c.Commission.UpdateBrief(ctx, &pb.UpdateBriefRequest{Brief: m.(*pb.Brief), UpdateMask: mask, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, n, etag, rid string) error {
			_, err := c.Commission.DeleteBrief(ctx, &pb.DeleteBriefRequest{Name: n, Etag: etag, RequestId: rid})
			return err
		},
	}
}

func (a *App) briefCreate() *cobra.Command {
	var bf briefFlags
	var file, id, requestID string
	cmd := &cobra.Command{
		Use:   "create",
		Short: "Record what a commission asks for",
		Long: "Records a brief from flags, from a JSON file, or both; flags win. Without --structure the usual checklist of the animal's group is meant, without --view\n" +
			"the left side.",
		Example: "  platarium brief create --title \"Perch wall panel\" --taxon \"Perca fluviatilis\" --structure \"first dorsal fin\" --structure \"head@dorsal\" \\\n" +
			"    --printed \"180 SL\" --rendering line --media print.book --territory DE --language de --from 2027-01-01 --due 2026-12-01 --client parties/reed-press\n" +
			"  platarium brief create --file brief.json --id perch-panel",
		Args: args(cobra.NoArgs),
	}
	bf.add(cmd)
	cmd.Flags().StringVar(&file, "file", "", "JSON file with the brief; - for standard input")
	cmd.Flags().StringVar(&id, "id", "", "the id wanted; one is made if this is left out")
	cmd.Flags().StringVar(&requestID, "request-id", "", "makes a repetition harmless: the same id is answered as the first time")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		b := &pb.Brief{}
		if err := a.readJSON(file, b); err != nil {
			return err
		}
		if _, err := bf.apply(cmd, b); err != nil {
			return err
		}
		return a.with(func(c *client.Client) error {
			made, err := c.Commission.CreateBrief(cmd.Context(), &pb.CreateBriefRequest{Brief: b, BriefId: id, RequestId: requestID})
			if err != nil {
				return err
			}
			return a.printMade(made)
		})
	}
	return cmd
}

func (a *App) briefUpdate() *cobra.Command {
	var bf briefFlags
	var etag, requestID string
	cmd := &cobra.Command{
		Use:   "update BRIEF",
		Short: "Change what a commission asks for",
		Long: "Changes the fields whose flags are given; a list is replaced as a whole, and an empty value clears a field. The intended use is one field: give all of it.\n" +
			"Fields without a flag here can be set with: platarium update briefs/{id} FIELD=VALUE...",
		Example: "  platarium brief update briefs/perch-panel --printed \"240 SL\" --due 2027-01-15",
		Args:    args(cobra.ExactArgs(1)),
	}
	bf.add(cmd)
	cmd.Flags().StringVar(&etag, "etag", "", "change it only if it still has this etag")
	cmd.Flags().StringVar(&requestID, "request-id", "", "makes a repetition harmless")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		b := &pb.Brief{Name: names[0], Etag: etag}
		paths, err := bf.apply(cmd, b)
		if err != nil {
			return err
		}
		if len(paths) == 0 {
			return usage(errors.New("nothing to change; give the flags of the fields to be changed"))
		}
		return a.with(func(c *client.Client) error {
			made, err := c.Commission.UpdateBrief(cmd.Context(), &pb.UpdateBriefRequest{Brief: b, UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}, RequestId: requestID})
			if err != nil {
				return err
			}
			return a.printMade(made)
		})
	}
	return cmd
}
