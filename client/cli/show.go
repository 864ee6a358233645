package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sort"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) show() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "show NAME...",
		Short:   "Show records: pictures, specimens, taxa, parties, grants, uses, briefs",
		Example: "  platarium show pictures/perch-plate\n  platarium show taxa/T012345 --json",
		Args:    args(cobra.MinimumNArgs(1)),
	}
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			for _, name := range names {
				if err := a.showOne(cmd.Context(), c, name); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return cmd
}

func (a *App) showOne(ctx context.Context, c *client.Client, name string) error {
	kind, err := collectionOf(name)
	if err != nil {
		return err
	}
	m, err := kind.get(ctx, c, name)
	if err != nil {
		return err
	}
	if a.json {
		return a.printJSON(m)
	}
	printMessage(a.Out, m.ProtoReflect(), "")
	switch r := m.(type) {
	case *pb.Picture:
		if r.GetOriginal() == nil {
			return nil
		}
		d, err := c.Transfer.GetDerived(ctx, &pb.GetDerivedRequest{Picture: name})
		if err != nil {
			return err
		}
		a.printf("previews: %s\n", previewLine(d))
	case *pb.Specimen:
		if r.GetPreservation() != "" {
			a.notef("%s\n", FixativeCaution)
		}
	}
	return nil
}

// FixativeCaution goes with every mention of how a specimen is preserved.
const FixativeCaution = "Caution: formalin and alcohol fixatives are hazardous. Handle fixed specimens by your institution's safety rules and local codes, with ventilation and gloves."

func previewLine(d *pb.Derived) string {
	switch d.GetState() {
	case "ready":
		names := make([]string, len(d.GetPreviews()))
		for i, p := range d.GetPreviews() {
			names[i] = fmt.Sprintf("%s (%dx%d)", p.GetVariant(), p.GetWidth(), p.GetHeight())
		}
		return strings.Join(names, ", ")
	case "failed":
		return "none: " + d.GetFailure()
	default:
		return "still being made"
	}
}

// printMessage writes the fields that are set, one a line, in the order of the contract.
func printMessage(w io.Writer, m protoreflect.Message, indent string) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		if !m.Has(f) {
			continue
		}
		label := indent + strings.ReplaceAll(string(f.Name()), "_", " ") + ":"
		v := m.Get(f)
		switch {
		case f.IsMap():
			printMap(w, label, v.Map())
		case f.IsList() && f.Kind() == protoreflect.MessageKind:
			_, _ = fmt.Fprintln(w, label)
			for k := range v.List().Len() {
				_, _ = fmt.Fprintf(w, "%s  - %s\n", indent, oneLine(v.List().Get(k).Message()))
			}
		case f.IsList():
			parts := make([]string, v.List().Len())
			for k := range parts {
				parts[k] = plain(f, v.List().Get(k))
			}
			_, _ = fmt.Fprintln(w, label, strings.Join(parts, "; "))
		case f.Kind() == protoreflect.MessageKind:
			if t, ok := v.Message().Interface().(*timestamppb.Timestamp); ok {
				_, _ = fmt.Fprintln(w, label, t.AsTime().Format(time.RFC3339))
				continue
			}
			_, _ = fmt.Fprintln(w, label)
			printMessage(w, v.Message(), indent+"  ")
		default:
			_, _ = fmt.Fprintln(w, label, plain(f, v))
		}
	}
}

func printMap(w io.Writer, label string, m protoreflect.Map) {
	var lines []string
	m.Range(func(k protoreflect.MapKey, v protoreflect.Value) bool {
		lines = append(lines, fmt.Sprintf("  %s: %s", k.String(), v.String()))
		return true
	})
	sort.Strings(lines)
	_, _ = fmt.Fprintf(w, "%s\n%s\n", label, strings.Join(lines, "\n"))
}

// oneLine writes a small message on one line.
func oneLine(m protoreflect.Message) string {
	var parts []string
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		switch {
		case !m.Has(f):
		case f.Kind() == protoreflect.MessageKind && !f.IsList():
			parts = append(parts, string(f.Name())+" ("+oneLine(m.Get(f).Message())+")")
		case f.IsList():
			parts = append(parts, fmt.Sprintf("%d %s", m.Get(f).List().Len(), f.Name()))
		default:
			parts = append(parts, strings.ReplaceAll(string(f.Name()), "_", " ")+" "+plain(f, m.Get(f)))
		}
	}
	return strings.Join(parts, ", ")
}

func plain(f protoreflect.FieldDescriptor, v protoreflect.Value) string {
	switch f.Kind() {
	case protoreflect.EnumKind:
		for w, n := range enumWords(f.Enum()) {
			if n == v.Enum() {
				return w
			}
		}
		return "not stated"
	case protoreflect.BoolKind:
		if v.Bool() {
			return "yes"
		}
		return "no"
	case protoreflect.DoubleKind:
		return fmt.Sprintf("%.6g", v.Float())
	default:
		return v.String()
	}
}

func (a *App) revisions() *cobra.Command {
	var limit int32
	cmd := &cobra.Command{
		Use:     "revisions NAME",
		Short:   "Who changed a record, when, and which fields",
		Example: "  platarium revisions pictures/perch-plate",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().Int32Var(&limit, "limit", 100, "at most so many, newest first")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			res, err := c.Archive.ListRevisions(cmd.Context(), &pb.ListRevisionsRequest{Name: names[0], PageSize: limit})
			if err != nil {
				return err
			}
			if a.json {
				return a.printJSON(res)
			}
			for _, r := range res.GetRevisions() {
				what := strings.Join(r.GetChangedFields(), ", ")
				if r.GetChange().GetDeleted() {
					what = "deleted"
				}
				a.printf("%8d  %s  %s: %s\n", r.GetSequence(), r.GetTime().AsTime().Format(time.RFC3339), r.GetActor(), what)
			}
			if res.GetNextPageToken() != "" {
				a.notef("there are more; ask with a larger --limit\n")
			}
			return nil
		})
	}
	return cmd
}

func (a *App) status() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "status",
		Short:   "What the archive holds, and how far the server is",
		Example: "  platarium status --json",
		Args:    args(cobra.NoArgs),
	}
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return a.with(func(c *client.Client) error {
			res, err := c.Admin.GetStatus(cmd.Context(), &pb.GetStatusRequest{})
			if err != nil {
				return err
			}
			if a.json {
				return a.printJSON(res)
			}
			printMessage(a.Out, res.ProtoReflect(), "")
			return nil
		})
	}
	return cmd
}

func (a *App) reindex() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "reindex",
		Short:   "Build the server's index anew beside the one in use, then exchange them",
		Example: "  platarium reindex",
		Args:    args(cobra.NoArgs),
	}
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return a.with(func(c *client.Client) error {
			stream, err := c.Admin.Reindex(cmd.Context(), &pb.ReindexRequest{})
			if err != nil {
				return err
			}
			return follow(stream.Recv, func(m *pb.ReindexResponse) error {
				if a.json {
					return a.printJSON(m)
				}
				if m.GetDone() {
					a.printf("indexed %d records\n", m.GetIndexed())
				} else {
					a.notef("%d of %d\n", m.GetIndexed(), m.GetTotal())
				}
				return nil
			})
		})
	}
	return cmd
}

// follow hands every message of a stream to f until it ends.
func follow[M proto.Message](recv func() (M, error), f func(M) error) error {
	for {
		m, err := recv()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := f(m); err != nil {
			return err
		}
	}
}
