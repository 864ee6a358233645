package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// collection is one kind of record as the command line handles it.
type collection struct {
	singular string
	fresh    func() proto.Message
	get      func(context.Context, *client.Client, string) (proto.Message, error)
	create   func(ctx context.Context, c *client.Client, m proto.Message, id, requestID string) (proto.Message, error)
	update   func(ctx context.Context, c *client.Client, m proto.Message, mask *fieldmaskpb.FieldMask, requestID string) (proto.Message, error)
	remove   func(ctx context.Context, c *client.Client, name, etag, requestID string) error
}

// collections, by the first segment of a resource name.
func collections() map[string]collection {
	return map[string]collection{
		"pictures":  pictures(),
		"specimens": specimens(),
		"taxa":      taxa(),
		"parties":   parties(),
		"grants":    grants(),
		"uses":      uses(),
		"briefs":    briefs(),
	}
}

func pictures() collection {
	return collection{
		"picture", func() proto.Message { return &pb.Picture{} },
		func(ctx context.Context, c *client.Client, n string) (proto.Message, error) {
			return c.Archive.GetPicture(ctx, &pb.GetPictureRequest{Name: n})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, id, rid string) (proto.Message, error) {
			return c.Archive.CreatePicture(ctx, &pb.CreatePictureRequest{Picture: m.(*pb.Picture), PictureId: id, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, mask *fieldmaskpb.FieldMask, rid string) (proto.Message, error) {
			return c.Archive.UpdatePicture(ctx, &pb.UpdatePictureRequest{Picture: m.(*pb.Picture), UpdateMask: mask, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, n, etag, rid string) error {
			_, err := c.Archive.DeletePicture(ctx, &pb.DeletePictureRequest{Name: n, Etag: etag, RequestId: rid})
			return err
		},
	}
}

func specimens() collection {
	return collection{
		"specimen", func() proto.Message { return &pb.Specimen{} },
		func(ctx context.Context, c *client.Client, n string) (proto.Message, error) {
			return c.Archive.GetSpecimen(ctx, &pb.GetSpecimenRequest{Name: n})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, id, rid string) (proto.Message, error) {
			return c.Archive.CreateSpecimen(ctx, &pb.CreateSpecimenRequest{Specimen: m.(*pb.Specimen), SpecimenId: id, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, mask *fieldmaskpb.FieldMask, rid string) (proto.Message, error) {
			return c.Archive.UpdateSpecimen(ctx, &pb.UpdateSpecimenRequest{Specimen: m.(*pb.Specimen), UpdateMask: mask, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, n, etag, rid string) error {
			_, err := c.Archive.DeleteSpecimen(ctx, &pb.DeleteSpecimenRequest{Name: n, Etag: etag, RequestId: rid})
			return err
		},
	}
}

func taxa() collection {
	return collection{
		"taxon", func() proto.Message { return &pb.Taxon{} },
		func(ctx context.Context, c *client.Client, n string) (proto.Message, error) {
			return c.Taxa.GetTaxon(ctx, &pb.GetTaxonRequest{Name: n})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, id, rid string) (proto.Message, error) {
			return c.Taxa.CreateTaxon(ctx, &pb.CreateTaxonRequest{Taxon: m.(*pb.Taxon), TaxonId: id, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, mask *fieldmaskpb.FieldMask, rid string) (proto.Message, error) {
			return c.Taxa.UpdateTaxon(ctx, &pb.UpdateTaxonRequest{Taxon: m.(*pb.Taxon), UpdateMask: mask, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, n, etag, rid string) error {
			_, err := c.Taxa.DeleteTaxon(ctx, &pb.DeleteTaxonRequest{Name: n, Etag: etag, RequestId: rid})
			return err
		},
	}
}

func parties() collection {
	return collection{
		"party", func() proto.Message { return &pb.Party{} },
		func(ctx context.Context, c *client.Client, n string) (proto.Message, error) {
			return c.Licensing.GetParty(ctx, &pb.GetPartyRequest{Name: n})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, id, rid string) (proto.Message, error) {
			return c.Licensing.CreateParty(ctx, &pb.CreatePartyRequest{Party: m.(*pb.Party), PartyId: id, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, mask *fieldmaskpb.FieldMask, rid string) (proto.Message, error) {
			return c.Licensing.UpdateParty(ctx, &pb.UpdatePartyRequest{Party: m.(*pb.Party), UpdateMask: mask, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, n, etag, rid string) error {
			_, err := c.Licensing.DeleteParty(ctx, &pb.DeletePartyRequest{Name: n, Etag: etag, RequestId: rid})
			return err
		},
	}
}

func grants() collection {
	return collection{
		"grant", func() proto.Message { return &pb.Grant{} },
		func(ctx context.Context, c *client.Client, n string) (proto.Message, error) {
			return c.Licensing.GetGrant(ctx, &pb.GetGrantRequest{Name: n})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, id, rid string) (proto.Message, error) {
			return c.Licensing.CreateGrant(ctx, &pb.CreateGrantRequest{Grant: m.(*pb.Grant), GrantId: id, RequestId: rid})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, mask *fieldmaskpb.FieldMask, rid string) (proto.Message, error) {
			return c.Licensing.UpdateGrant(ctx, &pb.UpdateGrantRequest{Grant: m.(*pb.Grant), UpdateMask: mask, RequestId: rid})
		},
		nil,
	}
}

func uses() collection {
	return collection{
		"use", func() proto.Message { return &pb.Use{} },
		func(ctx context.Context, c *client.Client, n string) (proto.Message, error) {
			return c.Licensing.GetUse(ctx, &pb.GetUseRequest{Name: n})
		},
		func(ctx context.Context, c *client.Client, m proto.Message, id, rid string) (proto.Message, error) {
			return c.Licensing.CreateUse(ctx, &pb.CreateUseRequest{Use: m.(*pb.Use), UseId: id, RequestId: rid})
		},
		nil, nil,
	}
}

// collectionOf finds the collection of a resource name.
func collectionOf(name string) (collection, error) {
	first, _, ok := strings.Cut(name, "/")
	c, known := collections()[first]
	if !ok || !known {
		return c, usage(fmt.Errorf("found %q; want a resource name such as pictures/{id}, specimens/{id}, taxa/{id}, parties/{id}, grants/{id}, uses/{id} or briefs/{id}", name))
	}
	return c, nil
}

func (a *App) add() *cobra.Command {
	var file, id, requestID string
	cmd := &cobra.Command{
		Use:   "add KIND [FIELD=VALUE...]",
		Short: "Add a record: picture, specimen, taxon, party, grant, use or brief",
		Long: "Adds a record from a JSON file (or - for standard input), from fields on the command line, or both; the latter win.\n" +
			"A field below another is reached with dots; lists are parted by semicolons; fixed words are written plainly (kind=plate).",
		Example: "  platarium add party --id reed-press display_name=\"Reed Press\" role=publisher contact.email=rights@reed.example\n" +
			"  platarium add picture kind=reference title=\"Perch, fresh\" identification.scientific_name=\"Perca fluviatilis\"\n" +
			"  platarium add grant --file grant.json",
		Args: args(cobra.MinimumNArgs(1)),
	}
	cmd.Flags().StringVar(&file, "file", "", "JSON file with the record; - for standard input")
	cmd.Flags().StringVar(&id, "id", "", "the id wanted; one is made if this is left out")
	cmd.Flags().StringVar(&requestID, "request-id", "", "makes a repetition harmless: the same id is answered as the first time")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		var kind collection
		for _, c := range collections() {
			if c.singular == words[0] {
				kind = c
			}
		}
		if kind.fresh == nil {
			return usage(fmt.Errorf("found %q; want picture, specimen, taxon, party, grant, use or brief", words[0]))
		}
		m := kind.fresh()
		if err := a.readJSON(file, m); err != nil {
			return err
		}
		if _, err := assign(m, words[1:]); err != nil {
			return err
		}
		return a.with(func(c *client.Client) error {
			made, err := kind.create(cmd.Context(), c, m, id, requestID)
			if err != nil {
				return err
			}
			return a.printMade(made)
		})
	}
	return cmd
}

// printMade answers a write: the name for a person, the record as JSON.
func (a *App) printMade(m proto.Message) error {
	if a.json {
		return a.printJSON(m)
	}
	if u, ok := m.(*pb.CreateUseResponse); ok {
		a.printf("%s\n%s\n", u.GetUse().GetName(), u.GetVerdict())
		for _, e := range u.GetExplanations() {
			a.printf("  %s\n", e)
		}
		return nil
	}
	if r, ok := m.(interface{ GetName() string }); ok {
		a.printf("%s\n", r.GetName())
	}
	return nil
}

func (a *App) readJSON(file string, m proto.Message) error {
	if file == "" {
		return nil
	}
	var b []byte
	var err error
	if file == "-" {
		b, err = io.ReadAll(a.In)
	} else {
		b, err = os.ReadFile(file)
	}
	if err != nil {
		return fmt.Errorf("read the record: %w", err)
	}
	if err := protojson.Unmarshal(b, m); err != nil {
		return usage(fmt.Errorf("%s: %w", file, err))
	}
	return nil
}

func (a *App) update() *cobra.Command {
	var etag, requestID string
	cmd := &cobra.Command{
		Use:   "update NAME FIELD=VALUE...",
		Short: "Change fields of a record; an empty value clears one",
		Example: "  platarium update pictures/perch-plate title=\"European perch\" keywords=\"freshwater;predator\"\n" +
			"  platarium update taxa/T012345 scientific_name=\"Perca nova\"",
		Args: args(cobra.MinimumNArgs(2)),
	}
	cmd.Flags().StringVar(&etag, "etag", "", "change it only if it still has this etag")
	cmd.Flags().StringVar(&requestID, "request-id", "", "makes a repetition harmless")
	cmd.RunE = func(cmd *cobra.Command, words []string) error {
		kind, err := collectionOf(words[0])
		if err != nil {
			return err
		}
		if kind.update == nil {
			return usage(fmt.Errorf("a %s isn't changed once it is recorded", kind.singular))
		}
		m := kind.fresh()
		paths, err := assign(m, words[1:])
		if err != nil {
			return err
		}
		if _, err := assign(m, []string{"name=" + words[0], "etag=" + etag}); err != nil {
			return err
		}
		return a.with(func(c *client.Client) error {
			made, err := kind.update(cmd.Context(), c, m, &fieldmaskpb.FieldMask{Paths: paths}, requestID)
			if err != nil {
				return err
			}
			return a.printMade(made)
		})
	}
	return cmd
}

func (a *App) remove() *cobra.Command {
	var etag, requestID string
	cmd := &cobra.Command{
		Use:     "delete NAME...",
		Short:   "Delete records that nothing else names; the journal keeps what they were",
		Example: "  platarium delete pictures/perch-plate",
		Args:    args(cobra.MinimumNArgs(1)),
	}
	cmd.Flags().StringVar(&etag, "etag", "", "delete it only if it still has this etag")
	cmd.Flags().StringVar(&requestID, "request-id", "", "makes a repetition harmless; for one record only")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		if len(names) > 1 && (etag != "" || requestID != "") {
			return usage(errors.New("--etag and --request-id go with one record"))
		}
		return a.with(func(c *client.Client) error {
			for _, name := range names {
				kind, err := collectionOf(name)
				if err != nil {
					return err
				}
				if kind.remove == nil {
					return usage(fmt.Errorf("a %s isn't deleted: a grant is ended, a use stays on record", kind.singular))
				}
				if err := kind.remove(cmd.Context(), c, name, etag, requestID); err != nil {
					return err
				}
				a.notef("deleted %s\n", name)
			}
			return nil
		})
	}
	return cmd
}
