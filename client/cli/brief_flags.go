package cli

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	pb "platarium/proto/platarium/v1"
)

// briefFlags are the flags that say what a commission asks for, for a brief that is kept and for a plan without one.
type briefFlags struct {
	title, taxon, specimen, counts, printed, rendering, exclusivity string
	job, client, due, body, notes                                   string
	structures, views                                               []string
	use                                                             scopeFlags
}

func (bf *briefFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&bf.title, "title", "", "what the commission is called")
	f.StringVar(&bf.taxon, "taxon", "", "the animal to be drawn: scientific name or taxa/{id}")
	f.StringVar(&bf.specimen, "specimen", "", "the specimen at hand, specimens/{id}")
	f.StringVar(&bf.counts, "counts", "", "counts known of the animal, as a formula")
	f.StringArrayVar(&bf.structures, "structure", nil, "a structure to be drawn, with its view if that isn't the body's: \"head@dorsal\" (repeat for more)")
	f.StringSliceVar(&bf.views, "view", nil, "views wanted, that of the whole body first, comma-separated, such as \"left lateral\"")
	f.StringVar(&bf.printed, "printed", "", "size in print: millimeters and the length meant (SL, FL or TL), such as \"180 SL\"; TL if that is left out")
	f.StringVar(&bf.rendering, "rendering", "", "line, tone or combination")
	bf.use.addUse(cmd)
	f.StringVar(&bf.exclusivity, "exclusivity", "", "how exclusive the use is to be: non-exclusive, sole, exclusive or \"first rights\"")
	f.StringVar(&bf.job, "job", "", "job under which its pictures are filed")
	f.StringVar(&bf.client, "client", "", "who commissions it, parties/{id}")
	f.StringVar(&bf.due, "due", "", "day on which it is due")
	f.StringVar(&bf.body, "body", "", "picture whose proportions are true to life, pictures/{id}")
	f.StringVar(&bf.notes, "notes", "", "notes; never shown to another party")
}

// apply sets the fields of b whose flags were given, and names them.
func (bf *briefFlags) apply(cmd *cobra.Command, b *pb.Brief) ([]string, error) {
	var paths []string
	for _, field := range []struct {
		path  string
		flags []string
		set   func() error
	}{
		{"title", []string{"title"}, func() error { b.Title = bf.title; return nil }},
		{"job", []string{"job"}, func() error { b.Job = bf.job; return nil }},
		{"identification", []string{"taxon"}, func() error { b.Identification = animal(bf.taxon); return nil }},
		{"specimen", []string{"specimen"}, func() error { b.Specimen = bf.specimen; return nil }},
		{"counts", []string{"counts"}, func() error { b.Counts = &pb.Counts{Formula: bf.counts}; return nil }},
		{"views", []string{"view"}, func() error { b.Views = nil; return setEnums(&b.Views, strings.Join(bf.views, ",")) }},
		{"structures", []string{"structure"}, func() (err error) { b.Structures, err = wantedStructures(bf.structures); return err }},
		{"printed", []string{"printed"}, func() (err error) { b.Printed, err = printedSize(bf.printed); return err }},
		{"rendering", []string{"rendering"}, func() error { return setEnum(&b.Rendering, bf.rendering) }},
		{"use", []string{"media", "territory", "language", "purpose", "from", "to"}, func() error { b.Use = bf.use.scope(); return nil }},
		{"exclusivity", []string{"exclusivity"}, func() error { return setEnum(&b.Exclusivity, bf.exclusivity) }},
		{"client", []string{"client"}, func() error { b.Client = bf.client; return nil }},
		{"due_on", []string{"due"}, func() error { b.DueOn = bf.due; return nil }},
		{"body", []string{"body"}, func() error { b.Body = bf.body; return nil }},
		{"notes", []string{"notes"}, func() error { b.Notes = bf.notes; return nil }},
	} {
		if !slices.ContainsFunc(field.flags, cmd.Flags().Changed) {
			continue
		}
		if err := field.set(); err != nil {
			return nil, usage(fmt.Errorf("--%s: %w", field.flags[0], err))
		}
		paths = append(paths, field.path)
	}
	return paths, nil
}

// animal names what is to be drawn; the server finds the taxon of a name.
func animal(s string) *pb.Identification {
	if strings.HasPrefix(s, "taxa/") {
		return &pb.Identification{Taxon: s}
	}
	return &pb.Identification{ScientificName: s}
}

// wantedStructures reads structures, each with the view after an @ if it has its own.
func wantedStructures(list []string) ([]*pb.WantedStructure, error) {
	var out []*pb.WantedStructure
	for _, s := range list {
		name, view, _ := strings.Cut(s, "@")
		w := &pb.WantedStructure{Structure: strings.TrimSpace(name)}
		if err := setEnum(&w.View, strings.TrimSpace(view)); err != nil {
			return nil, fmt.Errorf("%q: %w", s, err)
		}
		out = append(out, w)
	}
	return out, nil
}

// printedSize reads a length in print: a number of millimeters (or centimeters, if it says cm) and the code of the length before or after it.
func printedSize(s string) (*pb.PrintedSize, error) {
	if strings.TrimSpace(s) == "" {
		return nil, nil
	}
	unit, numbers := 1.0, 0
	out := &pb.PrintedSize{}
	for _, word := range strings.Fields(strings.NewReplacer("MM", " MM ", "CM", " CM ", ",", ".").Replace(strings.ToUpper(s))) {
		switch word {
		case "SL", "FL", "TL":
			out.Measurement = word
		case "MM":
		case "CM":
			unit = 10
		default:
			mm, err := strconv.ParseFloat(word, 64)
			if err != nil || !(mm > 0) || numbers > 0 {
				return nil, fmt.Errorf("found %q; want millimeters and the length meant, such as \"180 SL\"", s)
			}
			out.LengthMm = mm
			numbers++
		}
	}
	if numbers == 0 {
		return nil, fmt.Errorf("found %q; want millimeters and the length meant, such as \"180 SL\"", s)
	}
	out.LengthMm *= unit
	return out, nil
}
