package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) grantOffer() *cobra.Command {
	var requestID string
	cmd := &cobra.Command{
		Use:     "offer GRANT",
		Short:   "Record that a draft was sent to the other side",
		Long:    "Records that a draft was sent to the other side. An offer promises nothing yet: several may stand over the same use.",
		Example: "  platarium grant offer grants/abcd1234",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVar(&requestID, "request-id", "", "makes a repetition harmless")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			return a.advance(cmd.Context(), c, &pb.Grant{Name: names[0], Status: pb.GrantStatus_GRANT_STATUS_OFFERED}, requestID, "status")
		})
	}
	return cmd
}

func (a *App) grantExecute() *cobra.Command {
	var signed, document, requestID string
	cmd := &cobra.Command{
		Use:   "execute GRANT",
		Short: "Record that both sides have signed",
		Long: "Records that both sides have signed, from when on the grant binds. It is checked again: one that collides by now is refused, and the grant in its way is\n" +
			"named. Near copies under exclusivity are named as a warning.",
		Example: "  platarium grant execute grants/abcd1234 --signed 2026-03-31",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVar(&signed, "signed", "", "day of signature")
	cmd.Flags().StringVar(&document, "document", "", "sha256 of the signed document among the originals")
	cmd.Flags().StringVar(&requestID, "request-id", "", "makes a repetition harmless")
	_ = cmd.MarkFlagRequired("signed")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		g := &pb.Grant{Name: names[0], Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: signed, DocumentSha256: document}
		fields := []string{"status", "signed_on"}
		if document != "" {
			fields = append(fields, "document_sha256")
		}
		return a.with(func(c *client.Client) error { return a.advance(cmd.Context(), c, g, requestID, fields...) })
	}
	return cmd
}

// advance changes some fields of a grant that isn't executed yet.
func (a *App) advance(ctx context.Context, c *client.Client, g *pb.Grant, requestID string, fields ...string) error {
	made, err := c.Licensing.UpdateGrant(ctx, &pb.UpdateGrantRequest{Grant: g, UpdateMask: &fieldmaskpb.FieldMask{Paths: fields}, RequestId: requestID})
	if err != nil {
		return err
	}
	a.warn(made)
	return a.printMade(made)
}

// warn writes what the server has to remark on a grant.
func (a *App) warn(g *pb.Grant) {
	for _, w := range g.GetWarnings() {
		a.notef("warning: %s\n", w)
	}
}

func (a *App) grantAmend() *cobra.Command {
	var sc scopeFlags
	var effective, signed, fee, credit, exclusivity, id, requestID string
	var copies int64
	var dryRun bool
	cmd := &cobra.Command{
		Use:   "amend GRANT",
		Short: "Make a new grant that restates an earlier one with changes, from a day on",
		Long: "Makes a new grant with all that the earlier one says, changed where a flag is given. It governs from the effective day on; before, the earlier one does.\n" +
			"A list that is given replaces the whole list.",
		Example: "  platarium grant amend grants/abcd1234 --effective 2026-09-01 --signed 2026-08-20 --territory DE,AT,CH,FR --to 2029-12-31",
		Args:    args(cobra.ExactArgs(1)),
	}
	sc.add(cmd, "covered")
	f := cmd.Flags()
	f.StringVar(&effective, "effective", "", "first day on which the change governs")
	f.StringVar(&signed, "signed", "", "day on which the change was signed")
	f.StringVar(&exclusivity, "exclusivity", "", "non-exclusive, sole, exclusive or \"first rights\"")
	f.StringVar(&fee, "fee", "", "amount and currency, such as \"450.00 EUR\"")
	f.StringVar(&credit, "credit", "", "credit line as agreed")
	f.Int64Var(&copies, "copies", 0, "copies allowed in all; 0 for no limit")
	f.StringVar(&id, "id", "", "the id wanted")
	f.StringVar(&requestID, "request-id", "", "makes a repetition harmless")
	f.BoolVar(&dryRun, "dry-run", false, "only check: nothing is stored")
	_ = cmd.MarkFlagRequired("effective")
	_ = cmd.MarkFlagRequired("signed")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			old, err := c.Licensing.GetGrant(cmd.Context(), &pb.GetGrantRequest{Name: names[0]})
			if err != nil {
				return err
			}
			next := restated(old)
			next.EffectiveOn, next.SignedOn = effective, signed
			given := cmd.Flags().Changed
			sc.restate(next.GetScope(), given)
			set := func(flag string, to *string, value string) {
				if given(flag) {
					*to = value
				}
			}
			set("credit", &next.CreditLine, credit)
			if given("copies") {
				next.CopiesMax = copies
			}
			if next.Fee, err = feeOf(fee, next.GetFee()); err != nil {
				return usage(err)
			}
			if given("exclusivity") {
				if err := setEnum(&next.Exclusivity, exclusivity); err != nil {
					return usage(err)
				}
			}
			made, err := c.Licensing.CreateGrant(cmd.Context(), &pb.CreateGrantRequest{Grant: next, GrantId: id, RequestId: requestID, ValidateOnly: dryRun})
			if err != nil {
				return err
			}
			a.warn(made)
			if dryRun && !a.json {
				a.printf("nothing stands in its way; nothing was stored\n")
				return nil
			}
			return a.printMade(made)
		})
	}
	return cmd
}

// restated is an amendment that changes nothing yet: what was agreed, without what has happened to the old grant since.
func restated(old *pb.Grant) *pb.Grant {
	next := proto.Clone(old).(*pb.Grant)
	next.Name, next.Revision, next.Etag, next.CreateTime, next.UpdateTime = "", 0, "", nil, nil
	next.CollidesWith, next.Warnings = nil, nil
	next.Amends, next.Supersedes, next.DocumentSha256, next.EndedOn, next.EndedReason = old.GetName(), "", "", "", ""
	next.Status = pb.GrantStatus_GRANT_STATUS_EXECUTED
	if next.GetScope() == nil {
		next.Scope = &pb.Scope{}
	}
	next.Scope.ExpandedTerritories, next.Scope.ExpandedMedia, next.Scope.Tables = nil, nil, ""
	return next
}

// restate lays the flags that were given over a scope.
func (s *scopeFlags) restate(to *pb.Scope, given func(string) bool) {
	for flag, set := range map[string]func(){
		"work": func() { to.Works = s.works }, "media": func() { to.Media = s.media }, "territory": func() { to.Territories = s.territories },
		"language": func() { to.Languages = s.languages }, "purpose": func() { to.Purposes = s.purposes },
		"from": func() { to.From = s.from }, "to": func() { to.To = s.to },
	} {
		if given(flag) {
			set()
		}
	}
}

// feeOf reads an amount with its currency; the one given otherwise if there is none.
func feeOf(s string, otherwise *pb.Money) (*pb.Money, error) {
	if s == "" {
		return otherwise, nil
	}
	amount, currency, ok := strings.Cut(s, " ")
	if !ok {
		return nil, fmt.Errorf("--fee: found %q; want amount and currency, such as \"450.00 EUR\"", s)
	}
	return &pb.Money{Amount: amount, Currency: strings.TrimSpace(currency)}, nil
}
