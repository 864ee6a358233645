package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// planFiles are the files that a plan is to be written to.
type planFiles struct {
	pdf, zip, paper, cropType string
	depth                     int32
	force                     bool
}

func (a *App) plan() *cobra.Command {
	var bf briefFlags
	var files planFiles
	var file string
	var candidates int32
	var short bool
	cmd := &cobra.Command{
		Use:   "plan [BRIEF]",
		Short: "Find for each structure of a commission the earlier pictures that can serve, and what is missing",
		Long: "Plans the work on a brief, or on what the flags or a JSON file ask for without keeping it: for each structure the pictures that can serve, best first,\n" +
			"why, at which enlargement, and what must not be copied; and the gaps. --pdf writes it as sheets to print, --zip as crops to draw over, all at one\n" +
			"scale. A file that is there is kept unless --force is given.",
		Example: "  platarium plan briefs/perch-panel\n" +
			"  platarium plan briefs/perch-panel --pdf perch.pdf --paper A3 --zip perch.zip --type png\n" +
			"  platarium plan --taxon \"Perca fluviatilis\" --structure \"first dorsal fin\" --structure opercle --printed \"180 SL\"",
		Args: args(cobra.MaximumNArgs(1)),
	}
	bf.add(cmd)
	f := cmd.Flags()
	f.StringVar(&file, "file", "", "JSON file with a brief that isn't kept; - for standard input")
	f.Int32Var(&candidates, "candidates", 0, "pictures for each structure, 1 to 20 (default 5)")
	f.BoolVar(&short, "short", false, "keep to the pictures chosen, and what is missing")
	f.StringVar(&files.pdf, "pdf", "", "file to write the sheets to")
	f.StringVar(&files.zip, "zip", "", "file to write the crops to")
	f.StringVar(&files.paper, "paper", "A4", "paper of the sheets: A4 or A3")
	f.StringVar(&files.cropType, "type", "tiff", "file type of the crops: tiff or png")
	f.Int32Var(&files.depth, "depth", 0, "bits a sample of the crops: 8 or 16; as the original if left out")
	f.BoolVar(&files.force, "force", false, "replace files that are there")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		req := &pb.MakePlanRequest{Candidates: candidates}
		b := &pb.Brief{}
		if err := a.readJSON(file, b); err != nil {
			return err
		}
		paths, err := bf.apply(cmd, b)
		if err != nil {
			return err
		}
		drafted := file != "" || len(paths) > 0
		switch {
		case len(names) == 1 && drafted:
			return usage(errors.New("found a brief and also what one asks for; want one of them: a kept brief is changed with platarium brief update"))
		case len(names) == 1:
			req.Brief = names[0]
		case drafted:
			req.Draft = b
		default:
			return usage(errors.New("found nothing to plan; want briefs/{id}, or at least --taxon"))
		}
		return a.makePlan(cmd.Context(), req, files, short)
	}
	return cmd
}

func (a *App) makePlan(ctx context.Context, req *pb.MakePlanRequest, files planFiles, short bool) error {
	sheets := &pb.ExportPlanRequest{Plan: req, Format: pb.PlanFormat_PLAN_FORMAT_SHEETS}
	if err := setEnum(&sheets.Paper, files.paper); err != nil {
		return usage(fmt.Errorf("--paper: %w", err))
	}
	crops := &pb.ExportPlanRequest{Plan: req, Format: pb.PlanFormat_PLAN_FORMAT_CROPS, CropType: files.cropType, CropDepth: files.depth}
	for _, name := range []string{files.pdf, files.zip} {
		if err := vacant(name, files.force); err != nil {
			return err
		}
	}
	return a.with(func(c *client.Client) error {
		p, err := c.Commission.MakePlan(ctx, req)
		if err != nil {
			return err
		}
		if a.json {
			err = a.printJSON(p)
		} else {
			PrintPlan(a.Out, p, short)
		}
		if err == nil && files.pdf != "" {
			err = a.writePlan(ctx, c, sheets, files.pdf, files.force)
		}
		if err == nil && files.zip != "" {
			err = a.writePlan(ctx, c, crops, files.zip, files.force)
		}
		return err
	})
}

// writePlan writes a plan to a file and tells how large it became.
func (a *App) writePlan(ctx context.Context, c *client.Client, req *pb.ExportPlanRequest, name string, force bool) error {
	a.notef("%s: being made\n", name)
	size, err := WritePlan(ctx, c, req, name, force)
	if err != nil {
		return err
	}
	a.notef("%s: %d bytes\n", name, size)
	return nil
}

// vacant refuses a name that is taken, unless what is there may be replaced.
func vacant(name string, force bool) error {
	if name == "" || force {
		return nil
	}
	if _, err := os.Lstat(name); err == nil {
		return fmt.Errorf("%s is there already; name another file, or replace it with --force", name)
	}
	return nil
}

// WritePlan writes a plan to a file, which is whole or not there: it comes beside it under another name first. It returns the length in bytes.
func WritePlan(ctx context.Context, c *client.Client, req *pb.ExportPlanRequest, name string, force bool) (int64, error) {
	tmp, err := os.CreateTemp(filepath.Dir(name), ".platarium-*")
	if err != nil {
		return 0, err
	}
	drop := func(err error) error { return errors.Join(err, os.Remove(tmp.Name())) }
	header, err := c.ExportPlan(ctx, req, tmp)
	if err := errors.Join(err, tmp.Chmod(0o644), tmp.Close()); err != nil {
		return 0, drop(err)
	}
	if force {
		if err := os.Rename(tmp.Name(), name); err != nil {
			return 0, drop(err)
		}
		return header.GetSize(), nil
	}
	err = os.Link(tmp.Name(), name) // fails if somebody has made it meanwhile
	if err != nil && !errors.Is(err, os.ErrExist) {
		err = copyNew(tmp.Name(), name) // a file system without links
	}
	return header.GetSize(), drop(err)
}
