package cli

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"flag"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

var update = flag.Bool("update", false, "write golden files anew")

// desk answers as a server would, with a plan and a verdict that never change, and remembers what it was asked.
type desk struct {
	pb.UnimplementedCommissionServiceServer
	planned  []*pb.MakePlanRequest
	exported []*pb.ExportPlanRequest
	spoiled  bool // sends other bytes than it announced
}

var sheets = []byte("%PDF-1.7 invented")

func (d *desk) MakePlan(_ context.Context, req *pb.MakePlanRequest) (*pb.Plan, error) {
	d.planned = append(d.planned, req)
	return wallPanel(), nil
}

func (d *desk) ExportPlan(req *pb.ExportPlanRequest, out grpc.ServerStreamingServer[pb.DownloadResponse]) error {
	d.exported = append(d.exported, req)
	sum := sha256.Sum256(sheets)
	header := &pb.DownloadHeader{MediaType: "application/pdf", Size: int64(len(sheets)), Sha256: hex.EncodeToString(sum[:])}
	if err := out.Send(&pb.DownloadResponse{Part: &pb.DownloadResponse_Header{Header: header}}); err != nil {
		return err
	}
	chunk := bytes.Clone(sheets)
	if d.spoiled {
		chunk[0]++
	}
	return out.Send(&pb.DownloadResponse{Part: &pb.DownloadResponse_Chunk{Chunk: chunk}})
}

func (d *desk) CheckPicture(_ context.Context, req *pb.CheckPictureRequest) (*pb.PictureCheck, error) {
	switch req.GetName() {
	case "pictures/flat-photo":
		return flatPhoto(), nil
	case "pictures/sound-plate":
		return &pb.PictureCheck{Scale: &pb.PictureScale{Problem: "no calibration; mark the ends of a scale bar"}}, nil
	}
	return nil, status.Error(codes.NotFound, "no such picture")
}

// open starts the desk and returns a way to run command lines against it.
func (d *desk) open(t *testing.T) func(code int, words ...string) (out, errOut string) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	srv := grpc.NewServer()
	pb.RegisterCommissionServiceServer(srv, d)
	done := make(chan error, 1)
	go func() { done <- srv.Serve(listener) }()
	t.Cleanup(func() {
		srv.Stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	t.Setenv("PLATARIUM_KEY", "a-key")
	return func(code int, words ...string) (string, string) {
		t.Helper()
		var out, errOut bytes.Buffer
		if got := Run(t.Context(), append([]string{"--server", listener.Addr().String()}, words...), strings.NewReader(""), &out, &errOut); got != code {
			t.Fatalf("%q: exit %d, %s%s; want %d", words, got, &out, &errOut, code)
		}
		return out.String(), errOut.String()
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; write it with -update", err)
	}
	if got != string(want) {
		t.Errorf("%s differs:\n--- got\n%s\n--- want\n%s", path, got, want)
	}
}

func TestPlanIsPrinted(t *testing.T) {
	run := new(desk).open(t)
	out, _ := run(OK, "plan", "briefs/wall-panel")
	golden(t, "plan.txt", out)
	out, _ = run(OK, "plan", "briefs/wall-panel", "--short")
	golden(t, "plan-short.txt", out)
	if out, _ := run(OK, "plan", "briefs/wall-panel", "--json"); strings.Count(out, "\n") != 1 || !strings.HasPrefix(out, "{") {
		t.Errorf("--json says %q", out)
	}
}

// A plan without a brief asks with what the flags say.
func TestPlanWithoutBrief(t *testing.T) {
	d := &desk{}
	run := d.open(t)
	run(OK, "plan", "--taxon", "Perca fluviatilis", "--structure", "head@dorsal", "--printed", "180 SL", "--view", "left lateral,dorsal", "--rendering", "line",
		"--media", "print.book", "--territory", "DE", "--candidates", "3")
	if len(d.planned) != 1 {
		t.Fatalf("%d plans asked for", len(d.planned))
	}
	got := d.planned[0]
	b := got.GetDraft()
	switch {
	case got.GetBrief() != "" || got.GetCandidates() != 3,
		b.GetIdentification().GetScientificName() != "Perca fluviatilis",
		b.GetStructures()[0].GetStructure() != "head" || b.GetStructures()[0].GetView() != pb.View_VIEW_DORSAL,
		b.GetPrinted().GetLengthMm() != 180 || b.GetPrinted().GetMeasurement() != "SL",
		len(b.GetViews()) != 2 || b.GetRendering() != pb.Rendering_RENDERING_LINE,
		b.GetUse().GetMedia()[0] != "print.book" || b.GetUse().GetTerritories()[0] != "DE":
		t.Errorf("asked for %v", got)
	}
	run(Usage, "plan")
	run(Usage, "plan", "briefs/wall-panel", "--taxon", "Perca fluviatilis")
	run(Usage, "plan", "briefs/wall-panel", "--paper", "letter", "--pdf", filepath.Join(t.TempDir(), "x.pdf"))
}

func TestPlanFiles(t *testing.T) {
	d := &desk{}
	run := d.open(t)
	dir := t.TempDir()
	pdf, zip := filepath.Join(dir, "plan.pdf"), filepath.Join(dir, "plan.zip")
	out, said := run(OK, "plan", "briefs/wall-panel", "--pdf", pdf, "--zip", zip, "--paper", "a3", "--type", "png", "--depth", "8", "--candidates", "2")
	if strings.Contains(out, pdf) || !strings.Contains(said, pdf) {
		t.Errorf("progress goes astray: %q, %q", out, said)
	}
	if e := d.exported[0]; e.GetFormat() != pb.PlanFormat_PLAN_FORMAT_SHEETS || e.GetPaper() != pb.Paper_PAPER_A3 || e.GetPlan().GetCandidates() != 2 {
		t.Errorf("sheets asked for as %v", e)
	}
	if e := d.exported[1]; e.GetFormat() != pb.PlanFormat_PLAN_FORMAT_CROPS || e.GetCropType() != "png" || e.GetCropDepth() != 8 {
		t.Errorf("crops asked for as %v", e)
	}
	_, said = run(Failed, "plan", "briefs/wall-panel", "--pdf", pdf)
	if !strings.Contains(said, "--force") || len(d.planned) != 1 {
		t.Errorf("a file in the way is told as %q after %d plans", said, len(d.planned))
	}
	if err := os.WriteFile(pdf, []byte("older"), 0o644); err != nil {
		t.Fatal(err)
	}
	run(OK, "plan", "briefs/wall-panel", "--pdf", pdf, "--force")
	if b, err := os.ReadFile(pdf); err != nil || !bytes.Equal(b, sheets) {
		t.Errorf("the sheets are %q, %v", b, err)
	}
	d.spoiled = true
	run(Failed, "plan", "briefs/wall-panel", "--pdf", filepath.Join(dir, "spoiled.pdf"))
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 2 {
		t.Errorf("%d files are left, %v: %v", len(left), err, left)
	}
}

func TestCheckIsPrinted(t *testing.T) {
	run := new(desk).open(t)
	out, said := run(Problems, "check", "pictures/flat-photo", "pictures/sound-plate")
	golden(t, "check.txt", out+"--- beside\n"+said)
	run(OK, "check", "pictures/sound-plate")
	run(Missing, "check", "pictures/none-such")
	if out, _ := run(Problems, "check", "pictures/flat-photo", "--json"); strings.Count(out, "\n") != 1 {
		t.Errorf("--json says %q", out)
	}
}
