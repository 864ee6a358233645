package demo

import (
	"context"
	"fmt"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// Refusal is a grant that the archive refused, as it should.
type Refusal struct {
	Grant  RefusedGrant
	Answer string
}

// FillClients enters the studio's clients; those that are there stay.
func FillClients(ctx context.Context, c *client.Client) error {
	for _, p := range Clients() {
		party := &pb.Party{DisplayName: p.Name, Role: p.Kind, Notes: p.Notes, Contact: &pb.Contact{Email: p.Email, Address: p.Country}}
		_, err := c.Licensing.CreateParty(ctx, &pb.CreatePartyRequest{Party: party, PartyId: id(p.Key), RequestId: "demo-party-" + p.Key})
		if err := unlessThere(err); err != nil {
			return fmt.Errorf("client %s: %w", p.Key, err)
		}
	}
	return nil
}

// FillLicences enters the studio's grants and publications, and tries the grants that must be refused. Names maps works to pictures. All of it can be done
// again: what is there stays.
func FillLicences(ctx context.Context, c *client.Client, names map[string]string) ([]Refusal, error) {
	for _, g := range Grants() {
		grant, err := g.record(names)
		if err != nil {
			return nil, err
		}
		_, err = c.Licensing.CreateGrant(ctx, &pb.CreateGrantRequest{Grant: grant, GrantId: id(g.Key), RequestId: "demo-grant-" + g.Key})
		if err := unlessThere(err); err != nil {
			return nil, fmt.Errorf("grant %s: %w", g.Key, err)
		}
	}
	for _, u := range Uses() {
		_, err := c.Licensing.CreateUse(ctx, &pb.CreateUseRequest{Use: u.record(names), UseId: id(u.Key), RequestId: "demo-use-" + u.Key})
		if err := unlessThere(err); err != nil {
			return nil, fmt.Errorf("use %s: %w", u.Key, err)
		}
	}
	var refused []Refusal
	for _, g := range RefusedGrants() {
		grant, err := g.record(names)
		if err != nil {
			return nil, err
		}
		_, err = c.Licensing.CreateGrant(ctx, &pb.CreateGrantRequest{Grant: grant, ValidateOnly: true})
		if status.Code(err) != codes.FailedPrecondition {
			return nil, fmt.Errorf("grant %s collides with %s and should have been refused; the answer was: %w", g.Key, g.Against, err)
		}
		refused = append(refused, Refusal{g, status.Convert(err).Message()})
	}
	return refused, nil
}

// FillDiagnoses states the published counts of the studio's species.
func FillDiagnoses(ctx context.Context, c *client.Client) error {
	for _, s := range AllSpecies() {
		res, err := c.Taxa.MatchNames(ctx, &pb.MatchNamesRequest{Names: []string{s.Name}, Limit: 1})
		if err != nil {
			return err
		}
		if len(res.GetMatches()[0].GetCandidates()) == 0 {
			return fmt.Errorf("%w: %s is in no classification", ErrStudio, s.Name)
		}
		taxon := &pb.Taxon{
			Name:      res.GetMatches()[0].GetCandidates()[0].GetAccepted(),
			Diagnoses: []*pb.Diagnosis{{Counts: &pb.Counts{Formula: s.Formula()}, Citation: s.Source, Provenance: "demo"}},
		}
		taxon.Diagnoses = append(taxon.Diagnoses, proportions(s)...)
		if s.Vernacular != "" {
			taxon.Vernaculars = []*pb.Vernacular{{Vernacular: s.Vernacular, Language: "en"}}
		}
		_, err = c.Taxa.UpdateTaxon(ctx, &pb.UpdateTaxonRequest{Taxon: taxon, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"diagnoses", "vernaculars"}},
			RequestId: "demo-taxon-" + strings.ReplaceAll(s.Name, " ", "-")})
		if err != nil {
			return fmt.Errorf("diagnosis of %s: %w", s.Name, err)
		}
	}
	return nil
}

// proportions gives a diagnosis for each source of a species' proportions.
func proportions(s Species) []*pb.Diagnosis {
	var out []*pb.Diagnosis
	for _, p := range s.Proportions() {
		if n := len(out); n == 0 || out[n-1].GetCitation() != p.Source {
			out = append(out, &pb.Diagnosis{Citation: p.Source, Provenance: "demo"})
		}
		d := out[len(out)-1]
		d.Proportions = append(d.Proportions, &pb.Proportion{Length: p.Length, Over: p.Over, Min: p.Min, Max: p.Max})
	}
	return out
}

func unlessThere(err error) error {
	if status.Code(err) == codes.AlreadyExists {
		return nil
	}
	return err
}

// id makes a resource id of one of the studio's keys.
func id(key string) string {
	s := strings.ToLower(key)
	if len(s) < 4 {
		s = "studio-" + s
	}
	return s
}

func pictures(names map[string]string, keys []string) ([]string, error) {
	out := make([]string, len(keys))
	for i, k := range keys {
		if out[i] = names[k]; out[i] == "" {
			return nil, fmt.Errorf("%w: %s was not imported", ErrStudio, k)
		}
	}
	return out, nil
}

func (g Grant) record(names map[string]string) (*pb.Grant, error) {
	works, err := pictures(names, g.Works)
	if err != nil {
		return nil, fmt.Errorf("grant %s: %w", g.Key, err)
	}
	excl := map[string]pb.Exclusivity{"exclusive": pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE, "sole": pb.Exclusivity_EXCLUSIVITY_SOLE, "non-exclusive": pb.Exclusivity_EXCLUSIVITY_NON_EXCLUSIVE}
	out := &pb.Grant{
		Licensee: "parties/" + id(g.Licensee), Exclusivity: excl[g.Exclusivity], Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: g.Signed,
		Scope:      &pb.Scope{Works: works, Media: g.Media, Territories: g.Territories, Languages: g.Languages, From: g.From, To: g.To},
		CreditLine: g.Credit, CopiesMax: int64(g.PrintRun), Product: g.Product, Notes: g.Terms, ReservedMedia: g.ReservedMedia, PaymentIsCondition: g.PaymentRequired, EndedOn: g.Ended,
	}
	if currency, amount, ok := strings.Cut(g.Fee, " "); ok {
		out.Fee = &pb.Money{Amount: amount, Currency: currency}
	}
	if g.Paid {
		out.PaidOn = g.Signed
	}
	return out, nil
}

func (u Use) record(names map[string]string) *pb.Use {
	out := &pb.Use{
		User: "parties/" + id(u.User), Title: u.Title, Copies: int64(u.Copies), CreditAsPrinted: u.Credit, Notes: u.Problem,
		Scope: &pb.Scope{Media: []string{u.Medium}, Territories: u.Territories, Languages: []string{u.Language}, From: u.Date, To: u.Date},
	}
	for _, k := range u.Works {
		out.Scope.Works = append(out.Scope.Works, names[k])
	}
	if u.Grant != "" {
		out.Grant = "grants/" + id(u.Grant)
	}
	if u.Number != "" {
		out.Identifier = "invented:" + u.Number // not a number that a book could bear
	}
	return out
}
