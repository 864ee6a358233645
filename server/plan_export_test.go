package server

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/imaging"
)

// export is a plan as a file, verified against its header.
func (r *running) export(ctx context.Context, t *testing.T, req *pb.ExportPlanRequest) (*pb.DownloadHeader, []byte, error) {
	t.Helper()
	stream, err := r.owner.Commission.ExportPlan(ctx, req)
	if err != nil {
		t.Fatal(err)
	}
	var header *pb.DownloadHeader
	var b []byte
	for {
		res, err := stream.Recv()
		switch {
		case errors.Is(err, io.EOF):
			if sum := sha256.Sum256(b); int64(len(b)) != header.GetSize() || hex.EncodeToString(sum[:]) != header.GetSha256() {
				t.Errorf("%d bytes came; the header promised %d, %s", len(b), header.GetSize(), header.GetSha256())
			}
			return header, b, nil
		case err != nil:
			return nil, nil, err
		case res.GetHeader() != nil:
			header = res.GetHeader()
		default:
			b = append(b, res.GetChunk()...)
		}
	}
}

// commissioned is a server with a brief and a plate that serves it.
func commissioned(t *testing.T) *running {
	t.Helper()
	r := start(t, newConfig(t))
	ctx := t.Context()
	_, err := r.owner.Archive.CreateSpecimen(ctx, &pb.CreateSpecimenRequest{SpecimenId: "perch-1", Specimen: &pb.Specimen{CatalogNumber: "NNHM 1998.7",
		Identification: &pb.Identification{ScientificName: "Perca fluviatilis"}, Measurements: []*pb.Measurement{{Measurement: "SL", ValueMm: 200}}}})
	if err != nil {
		t.Fatal(err)
	}
	_, err = r.owner.Archive.CreatePicture(ctx, &pb.CreatePictureRequest{PictureId: "perch-plate", Picture: &pb.Picture{
		Kind: pb.Kind_KIND_PLATE, Title: "European perch", View: pb.View_VIEW_LEFT_LATERAL, Stage: pb.Stage_STAGE_FINAL_ART, Identification: &pb.Identification{ScientificName: "Perca fluviatilis"},
		Specimen: "specimens/perch-1", Original: &pb.Original{Sha256: upload(t, r.owner, lineArt(t), "plate.png")}, Creators: []string{"Ida Moor"},
		Structures: []*pb.Structure{{Structure: "first dorsal fin", Completeness: pb.Completeness_COMPLETENESS_COMPLETE, Region: &pb.Region{X: 0.3, Y: 0.1, Width: 0.25, Height: 0.25}}},
		Landmarks:  []*pb.Landmark{{Landmark: "snout tip", X: 0.05, Y: 0.5}, {Landmark: "hypural end", X: 0.85, Y: 0.5}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	_, err = r.owner.Commission.CreateBrief(ctx, &pb.CreateBriefRequest{BriefId: "perch-sheet", Brief: &pb.Brief{Title: "A perch for a calendar", Identification: &pb.Identification{ScientificName: "Perca fluviatilis"},
		Specimen: "specimens/perch-1", Structures: []*pb.WantedStructure{{Structure: "first dorsal fin"}}, Printed: &pb.PrintedSize{Measurement: "SL", LengthMm: 150}}})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestAPlanLeavesAsAFile asks for both files of a plan over the wire, and that neither leaves anything behind.
func TestAPlanLeavesAsAFile(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	r := commissioned(t)
	plan := &pb.MakePlanRequest{Brief: "briefs/perch-sheet"}
	header, pdf, err := r.export(t.Context(), t, &pb.ExportPlanRequest{Plan: plan})
	if err != nil {
		t.Fatal(err)
	}
	if header.GetMediaType() != "application/pdf" || header.GetFileName() != "plan-perch-sheet.pdf" {
		t.Errorf("header %v", header)
	}
	file := filepath.Join(t.TempDir(), "plan.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	words, err := exec.CommandContext(t.Context(), "pdftotext", "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"A perch for a calendar", "Perca fluviatilis", "composite at printed size, ×0.75", "first dorsal fin", "briefs/perch-sheet"} {
		if !strings.Contains(string(words), want) {
			t.Errorf("the sheets lack %q", want)
		}
	}
	header, b, err := r.export(t.Context(), t, &pb.ExportPlanRequest{Plan: plan, Format: pb.PlanFormat_PLAN_FORMAT_CROPS, CropType: "png", CropDepth: 16})
	if err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil || header.GetFileName() != "plan-perch-sheet.zip" {
		t.Fatalf("%v: %v", header, err)
	}
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
	}
	if got := strings.Join(names, " "); got != "README.txt plan.json 00-body-perch-plate.png 01-first-dorsal-fin-perch-plate.png" {
		t.Errorf("the zip holds %s", got)
	}
	crop, err := z.Open("01-first-dorsal-fin-perch-plate.png")
	if err != nil {
		t.Fatal(err)
	}
	bits, err := io.ReadAll(crop)
	if err != nil {
		t.Fatal(err)
	}
	if h, err := imaging.Probe(t.Context(), bytes.NewReader(bits), int64(len(bits))); err != nil || h.BitsPerSample != 16 {
		t.Errorf("the crop is %+v: %v", h, err)
	}
	r.stop()
	left, err := filepath.Glob(filepath.Join(temp, "platarium-plan-*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestAnExportIsRefusedByField(t *testing.T) {
	r := commissioned(t)
	plan := &pb.MakePlanRequest{Brief: "briefs/perch-sheet"}
	for want, req := range map[string]*pb.ExportPlanRequest{
		"crop_type":  {Plan: plan, CropType: "bmp"},
		"crop_depth": {Plan: plan, CropDepth: 12},
		"paper":      {Plan: plan, Paper: 9},
		"format":     {Plan: plan, Format: 9},
		"brief":      {},
	} {
		_, _, err := r.export(t.Context(), t, req)
		if status.Code(err) != codes.InvalidArgument || !strings.Contains(fmt.Sprint(err), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
	if _, _, err := r.export(t.Context(), t, &pb.ExportPlanRequest{Plan: &pb.MakePlanRequest{Brief: "briefs/nowhere"}}); status.Code(err) != codes.NotFound {
		t.Errorf("a brief that isn't there: %v", err)
	}
}
