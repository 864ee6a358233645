package cli

import (
	"context"
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) grant() *cobra.Command {
	cmd := &cobra.Command{Use: "grant", Short: "Make, offer, execute, amend, end, list and export grants"}
	cmd.AddCommand(a.grantCreate(), a.grantOffer(), a.grantExecute(), a.grantAmend(), a.grantEnd(), a.grantList(), a.grantExport(), a.grantStatement())
	return cmd
}

// scopeFlags are the flags of a scope.
type scopeFlags struct {
	works, media, territories, languages, purposes []string
	from, to                                       string
}

func (s *scopeFlags) add(cmd *cobra.Command, verb string) {
	cmd.Flags().StringSliceVar(&s.works, "work", nil, "pictures "+verb+", pictures/{id}; repeat or part with commas; -X takes X out")
	s.addUse(cmd)
}

// addUse adds the flags of a use of pictures that aren't named.
func (s *scopeFlags) addUse(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringSliceVar(&s.media, "media", nil, "media, such as print.book; * for all")
	f.StringSliceVar(&s.territories, "territory", nil, "ISO 3166 codes such as DE, UN M49 groups such as 150, WORLD, EU@2026-01-01")
	f.StringSliceVar(&s.languages, "language", []string{"*"}, "BCP 47 tags; * for all")
	f.StringSliceVar(&s.purposes, "purpose", nil, "commercial or noncommercial; both if left out")
	f.StringVar(&s.from, "from", "", "first day (or month, or year)")
	f.StringVar(&s.to, "to", "", "last day; none means the legal term of copyright")
}

func (s *scopeFlags) scope() *pb.Scope {
	return &pb.Scope{Works: s.works, Media: s.media, Territories: s.territories, Languages: s.languages, Purposes: s.purposes, From: s.from, To: s.to}
}

func (a *App) grantCreate() *cobra.Command {
	var sc scopeFlags
	var party, exclusivity, status, signed, credit, fee, product, disclosure, id, requestID string
	var copies int64
	var dryRun, paymentFirst bool
	cmd := &cobra.Command{
		Use:   "create",
		Short: "Make a grant over one or many pictures, in one commit",
		Long: "Makes a grant. One that is executed (signed by both sides) and collides with an exclusive one is refused, and the grant in its way is named.\n" +
			"Fields without a flag here can be set with: platarium add grant FIELD=VALUE... The signed agreement governs; this is its record.",
		Example: "  platarium grant create --party parties/reed-press --work pictures/perch-plate --media print.book --territory DE,AT,CH \\\n" +
			"    --from 2026-01-01 --to 2028-12-31 --exclusivity exclusive --signed 2025-12-12 --fee \"450.00 EUR\" --status executed",
		Args: args(cobra.NoArgs),
	}
	sc.add(cmd, "covered")
	f := cmd.Flags()
	f.StringVar(&party, "party", "", "to whom, parties/{id}")
	f.StringVar(&exclusivity, "exclusivity", "", "non-exclusive, sole, exclusive or \"first rights\"")
	f.StringVar(&status, "status", "executed", "draft, offered or executed")
	f.StringVar(&signed, "signed", "", "day of signature")
	f.StringVar(&credit, "credit", "", "credit line as agreed")
	f.StringVar(&fee, "fee", "", "amount and currency, such as \"450.00 EUR\"")
	f.BoolVar(&paymentFirst, "payment-first", false, "nothing may be used before payment")
	f.Int64Var(&copies, "copies", 0, "copies allowed in all")
	f.StringVar(&product, "product", "", "title or edition it is bound to")
	f.StringVar(&disclosure, "disclosure", "", "how much others may learn: summary, full or confidential")
	f.StringVar(&id, "id", "", "the id wanted")
	f.StringVar(&requestID, "request-id", "", "makes a repetition harmless")
	f.BoolVar(&dryRun, "dry-run", false, "only check: nothing is stored")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		g := &pb.Grant{Licensee: party, Scope: sc.scope(), SignedOn: signed, CreditLine: credit, CopiesMax: copies, Product: product, PaymentIsCondition: paymentFirst}
		if err := errors.Join(setEnum(&g.Exclusivity, exclusivity), setEnum(&g.Status, status), setEnum(&g.Disclosure, disclosure)); err != nil {
			return usage(err)
		}
		var err error
		if g.Fee, err = feeOf(fee, nil); err != nil {
			return usage(err)
		}
		return a.with(func(c *client.Client) error {
			made, err := c.Licensing.CreateGrant(cmd.Context(), &pb.CreateGrantRequest{Grant: g, GrantId: id, RequestId: requestID, ValidateOnly: dryRun})
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

func (a *App) grantList() *cobra.Command {
	var picture, party string
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List grants, all or those over a picture or to a party",
		Example: "  platarium grant list --party parties/reed-press",
		Args:    args(cobra.NoArgs),
	}
	cmd.Flags().StringVar(&picture, "picture", "", "only over this picture, pictures/{id}")
	cmd.Flags().StringVar(&party, "party", "", "only to this party, parties/{id}")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return a.with(func(c *client.Client) error {
			req := &pb.ListGrantsRequest{Picture: picture, Party: party}
			for {
				res, err := c.Licensing.ListGrants(cmd.Context(), req)
				if err != nil {
					return err
				}
				for _, g := range res.GetGrants() {
					if err := a.grantLine(g); err != nil {
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

func (a *App) grantLine(g *pb.Grant) error {
	if a.json {
		return a.printJSON(g)
	}
	s := g.GetScope()
	excl := word(g.GetExclusivity())
	if excl == "" {
		excl = "non exclusive"
	}
	a.printf("%s  %s  %s to %s: %s; %s; %d pictures; %s to %s\n", g.GetName(), word(g.GetStatus()), excl, g.GetLicensee(), strings.Join(s.GetMedia(), ", "),
		strings.Join(s.GetTerritories(), ", "), len(s.GetWorks()), s.GetFrom(), s.GetTo())
	return nil
}

func (a *App) grantEnd() *cobra.Command {
	var day, reason, requestID string
	cmd := &cobra.Command{
		Use:     "end GRANT",
		Short:   "Record that a grant is out of force from a day on",
		Example: "  platarium grant end grants/abcd1234 --on 2026-07-01 --reason reversion",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVar(&day, "on", "", "first day no longer in force")
	cmd.Flags().StringVar(&reason, "reason", "", "termination, reversion, cancellation")
	cmd.Flags().StringVar(&requestID, "request-id", "", "makes a repetition harmless")
	_ = cmd.MarkFlagRequired("on")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			g, err := c.Licensing.EndGrant(cmd.Context(), &pb.EndGrantRequest{Name: names[0], EndedOn: day, Reason: reason, RequestId: requestID})
			if err != nil {
				return err
			}
			return a.printMade(g)
		})
	}
	return cmd
}

func (a *App) use() *cobra.Command {
	var sc scopeFlags
	var party, grant, title, identifier, edition, credit, locator, id, requestID string
	var copies int64
	var altered, own bool
	cmd := &cobra.Command{
		Use:   "use",
		Short: "Record a publication that happened, and learn whether it was licensed",
		Example: "  platarium use --party parties/reed-press --grant grants/abcd1234 --work pictures/perch-plate --media print.book.hardback \\\n" +
			"    --territory DE --from 2026-03-01 --title \"Fishes of the Reed Lakes\" --copies 3000",
		Args: args(cobra.NoArgs),
	}
	sc.add(cmd, "used")
	f := cmd.Flags()
	f.StringVar(&party, "party", "", "who published, parties/{id}")
	f.StringVar(&grant, "grant", "", "the grant it rests on, grants/{id}")
	f.StringVar(&title, "title", "", "title of the publication")
	f.StringVar(&identifier, "identifier", "", "ISBN or ISSN, or another with its kind before a colon")
	f.StringVar(&edition, "edition", "", "edition")
	f.Int64Var(&copies, "copies", 0, "copies made")
	f.StringVar(&credit, "credit", "", "credit line as printed")
	f.StringVar(&locator, "locator", "", "page or plate number")
	f.BoolVar(&own, "own", false, "the studio used it itself; without --to the use goes on")
	f.BoolVar(&altered, "altered", false, "the picture was altered beyond what was allowed")
	f.StringVar(&id, "id", "", "the id wanted")
	f.StringVar(&requestID, "request-id", "", "makes a repetition harmless")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		u := &pb.Use{User: party, Grant: grant, Scope: sc.scope(), Title: title, Identifier: identifier, Edition: edition, Copies: copies, CreditAsPrinted: credit, Locator: locator, Altered: altered, Own: own}
		return a.with(func(c *client.Client) error {
			made, err := c.Licensing.CreateUse(cmd.Context(), &pb.CreateUseRequest{Use: u, UseId: id, RequestId: requestID})
			if err != nil {
				return err
			}
			return a.printMade(made)
		})
	}
	return cmd
}

func (a *App) available() *cobra.Command {
	var sc scopeFlags
	var party, exclusivity string
	cmd := &cobra.Command{
		Use:   "available",
		Short: "Ask whether a wanted use is free",
		Long: "Answers yes, no, part (with the free rest) or check (somebody must be asked first); with several\n" +
			"pictures, one line for each. It is a record, not legal advice.",
		Example: "  platarium available --work pictures/perch-plate --media digital.web --territory WORLD --from 2026-06-01 --to 2027-05-31\n" +
			"  platarium available --party parties/reed-press --work pictures/perch-plate --media print.book --territory FR --exclusivity exclusive",
		Args: args(cobra.NoArgs),
	}
	sc.add(cmd, "wanted")
	cmd.Flags().StringVar(&party, "party", "", "who wants it, parties/{id}")
	cmd.Flags().StringVar(&exclusivity, "exclusivity", "", "how exclusive it should be")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		req := &pb.CheckAvailabilityRequest{Requester: party, Scope: sc.scope()}
		if err := setEnum(&req.Exclusivity, exclusivity); err != nil {
			return err
		}
		return a.with(func(c *client.Client) error {
			if severalWorks(sc.works) {
				return a.askMany(cmd.Context(), c, req)
			}
			return a.askAvailable(cmd.Context(), c, req)
		})
	}
	return cmd
}

func (a *App) askAvailable(ctx context.Context, c *client.Client, req *pb.CheckAvailabilityRequest) error {
	res, err := c.Licensing.CheckAvailability(ctx, req)
	if err != nil {
		return err
	}
	if a.json {
		return a.printJSON(res)
	}
	a.printf("%s\n", res.GetAnswer())
	for _, e := range res.GetExplanations() {
		a.printf("  %s\n", e)
	}
	for _, f := range res.GetFree() {
		a.printf("  free: %s\n", f)
	}
	a.notef("%s\n", res.GetCaution())
	return nil
}
