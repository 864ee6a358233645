package demo

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"platarium/client/cli"
	pb "platarium/proto/platarium/v1"
)

// plan shows which picture serves which structure of a commission, and writes the plan as sheets and as crops beside the scans.
func (t *Tour) plan(ctx context.Context) error {
	b := Briefs()[6] // needs several relatives, one of them torn and one licensed, and something that nothing shows
	t.heading(fmt.Sprintf("The plan for %q: which picture serves which structure", b.Title))
	req := &pb.MakePlanRequest{Brief: "briefs/" + id(b.Key)}
	p, err := t.Client.Commission.MakePlan(ctx, req)
	if err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	if len(p.GetStructures()) == 0 {
		return fmt.Errorf("%w: the plan has no structures", ErrStudio)
	}
	cli.PrintPlan(t.Out, p, true)
	dir := filepath.Join(t.Dir, "plans")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	t.say("")
	for _, f := range []struct {
		format      pb.PlanFormat
		name, about string
	}{{pb.PlanFormat_PLAN_FORMAT_SHEETS, id(b.Key) + ".pdf", "sheets to print"}, {pb.PlanFormat_PLAN_FORMAT_CROPS, id(b.Key) + ".zip", "crops at one scale to draw over"}} {
		file := filepath.Join(dir, f.name)
		size, err := cli.WritePlan(ctx, t.Client, &pb.ExportPlanRequest{Plan: req, Format: f.format}, file, true)
		if err != nil {
			return fmt.Errorf("write the plan: %w", err)
		}
		t.say("%s: %s (%.1f MB)", f.about, file, float64(size)/1e6)
	}
	return nil
}
