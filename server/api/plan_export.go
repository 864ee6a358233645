package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"google.golang.org/grpc"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/preview"
	"platarium/server/sheet"
	"platarium/storage"
	"platarium/storage/imaging"
)

// ExportPlan makes the whole file before it sends any of it, in a folder that is gone when the call ends, however it ends.
func (s commissionService) ExportPlan(req *pb.ExportPlanRequest, out grpc.ServerStreamingServer[pb.DownloadResponse]) (err error) {
	if err := wantBrief(req.GetPlan()); err != nil {
		return err
	}
	crops, err := wantExport(req)
	if err != nil {
		return err
	}
	ctx := out.Context()
	crops.Plan, err = s.MakePlan(ctx, req.GetPlan())
	if err != nil {
		return err
	}
	if crops.Brief = req.GetPlan().GetDraft(); crops.Brief == nil {
		if crops.Brief, err = s.archive.GetBrief(req.GetPlan().GetBrief()); err != nil {
			return err
		}
	}
	crops.Made = s.archive.Today()
	if crops.Dir, err = os.MkdirTemp("", "platarium-plan-*"); err != nil {
		return fmt.Errorf("make a folder for the plan: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(crops.Dir)) }()
	header, f, err := s.planFile(ctx, req.GetFormat(), crops)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return send(out, header, f)
}

// wantExport verifies what a plan is to be exported as.
func wantExport(req *pb.ExportPlanRequest) (sheet.Crops, error) {
	var c sheet.Crops
	switch req.GetFormat() {
	case pb.PlanFormat_PLAN_FORMAT_UNSPECIFIED, pb.PlanFormat_PLAN_FORMAT_SHEETS, pb.PlanFormat_PLAN_FORMAT_CROPS:
	default:
		return c, field("format", "found %d; want sheets or crops", req.GetFormat())
	}
	switch c.Paper = req.GetPaper(); c.Paper {
	case pb.Paper_PAPER_UNSPECIFIED, pb.Paper_PAPER_A4, pb.Paper_PAPER_A3:
	default:
		return c, field("paper", "found %d; want A4 or A3", c.Paper)
	}
	switch req.GetCropType() {
	case "", "tiff":
		c.MediaType = imaging.TIFF
	case "png":
		c.MediaType = imaging.PNG
	default:
		return c, field("crop_type", "found %q; want tiff or png", req.GetCropType())
	}
	switch c.Depth = int(req.GetCropDepth()); c.Depth {
	case 0, 8, 16:
		return c, nil
	default:
		return c, field("crop_depth", "found %d; want 8 or 16, or 0 for that of the originals", c.Depth)
	}
}

// planFile makes the file in the job's folder, ready to be read.
func (s commissionService) planFile(ctx context.Context, format pb.PlanFormat, c sheet.Crops) (_ *pb.DownloadHeader, _ *os.File, err error) {
	f, err := os.Create(filepath.Join(c.Dir, "plan"))
	if err != nil {
		return nil, nil, fmt.Errorf("make the plan's file: %w", err)
	}
	h := sha256.New()
	w, cutter := io.MultiWriter(f, h), planCutter{s.previews}
	stem := planName(c.Plan)
	header := &pb.DownloadHeader{MediaType: "application/pdf", FileName: stem + ".pdf"}
	if format == pb.PlanFormat_PLAN_FORMAT_CROPS {
		header = &pb.DownloadHeader{MediaType: "application/zip", FileName: stem + ".zip"}
		err = c.Zip(ctx, cutter, w)
	} else {
		err = sheet.PDF(ctx, c.Job, cutter, w)
	}
	if err == nil {
		header.Size, err = f.Seek(0, io.SeekCurrent)
	}
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("make the plan's file: %w", err), f.Close())
	}
	header.Sha256 = hex.EncodeToString(h.Sum(nil))
	return header, f, nil
}

// planName names the file after the brief, or plainly for one that isn't kept.
func planName(p *pb.Plan) string {
	if id := strings.TrimPrefix(p.GetBrief(), archive.Briefs+"/"); id != "" {
		return "plan-" + id
	}
	return "plan"
}

// planCutter cuts originals by way of the previews' decoder.
type planCutter struct{ queue *preview.Queue }

func (c planCutter) Cuts(ctx context.Context, pic *pb.Picture, cuts []imaging.Cut, to func(i int) (io.Writer, error)) ([]imaging.CutInfo, error) {
	sum, err := storage.ParseDigest(pic.GetOriginal().GetSha256())
	if err != nil {
		return nil, fmt.Errorf("original of %s: %w", pic.GetName(), err)
	}
	return c.queue.Cuts(ctx, sum, cuts, to)
}
