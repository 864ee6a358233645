package cli

import (
	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) alarms() *cobra.Command {
	var days int32
	cmd := &cobra.Command{
		Use:   "alarms",
		Short: "What somebody should look at: terms that end, copies too many, proofs and payments that lack, uses that nothing covers",
		Long: "Lists, by day, what falls due within some days and what is wrong already: grants and exclusivity that end, options that are open, over-runs,\n" +
			"voucher copies that haven't come, payments that are a condition, and uses without a grant or beyond one.",
		Example: "  platarium alarms\n  platarium alarms --days 180 --json",
		Args:    args(cobra.NoArgs),
	}
	cmd.Flags().Int32Var(&days, "days", 60, "look so many days ahead")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return a.with(func(c *client.Client) error {
			req := &pb.ListAlarmsRequest{Days: days}
			for {
				res, err := c.Licensing.ListAlarms(cmd.Context(), req)
				if err != nil {
					return err
				}
				for _, al := range res.GetAlarms() {
					if err := a.alarmLine(al); err != nil {
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

func (a *App) alarmLine(al *pb.Alarm) error {
	if a.json {
		return a.printJSON(al)
	}
	who := al.GetPartyName()
	if who != "" {
		who = ", " + who
	}
	a.printf("%s  %-18s  %s%s: %s\n", al.GetDay(), al.GetKind(), al.GetName(), who, al.GetText())
	return nil
}
