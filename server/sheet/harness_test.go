package sheet

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/imaging"
)

// TestMain lets the test program serve as its own decoder process.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == imaging.ChildVerb {
		os.Exit(imaging.ChildMain(os.Args[2:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

// drawer hands originals to the real decoder.
type drawer struct {
	runner    *imaging.Runner
	originals map[string][]byte // by picture

	mu    sync.Mutex
	calls map[string]int
}

func (d *drawer) Cuts(ctx context.Context, pic *pb.Picture, cuts []imaging.Cut, to func(i int) (io.Writer, error)) ([]imaging.CutInfo, error) {
	d.mu.Lock()
	d.calls[pic.GetName()]++
	d.mu.Unlock()
	return d.runner.Cuts(ctx, bytes.NewReader(d.originals[pic.GetName()]), cuts, to)
}

// studio is a plan over drawn pictures, with the files they name.
type studio struct {
	plan   *pb.Plan
	brief  *pb.Brief
	cutter *drawer
}

var day = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

func (s *studio) job(t testing.TB) Job {
	return Job{Plan: s.plan, Brief: s.brief, Made: day, Dir: t.TempDir()}
}

func newDrawer(t testing.TB) *drawer {
	t.Helper()
	runner, err := imaging.NewRunner(imaging.Config{TempDir: t.TempDir(), Concurrency: 2})
	if err != nil {
		t.Fatal(err)
	}
	return &drawer{runner: runner, originals: map[string][]byte{}, calls: map[string]int{}}
}

// lens is a gray picture of a lens-shaped animal, its head at the left: dark there, light at the tail.
func lens(w, h int) image.Image {
	img := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			dx, dy := (float64(x)/float64(w)-0.5)/0.45, (float64(y)/float64(h)-0.5)/0.4
			c := color.Gray{Y: 250}
			if dx*dx+dy*dy < 1 {
				c.Y = uint8(60 + 150*float64(x)/float64(w))
			}
			img.SetGray(x, y, c)
		}
	}
	return img
}

// picture adds a picture with a file.
func (d *drawer) picture(t testing.TB, name, title string, w, h int, ppi float64) *pb.Picture {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, lens(w, h)); err != nil {
		t.Fatal(err)
	}
	d.originals[name] = b.Bytes()
	return &pb.Picture{Name: name, Title: title, View: pb.View_VIEW_LEFT_LATERAL, Stage: pb.Stage_STAGE_FINAL_ART, Kind: pb.Kind_KIND_PLATE,
		Original: &pb.Original{Width: int32(w), Height: int32(h), PpiX: ppi, PpiY: ppi, BitDepth: 8, ColorModel: "gray", MediaType: imaging.PNG}}
}

// bass is a plan with all that a plan can have: a perch-like fish of 182 mm, printed at 140 mm.
func bass(t testing.TB) *studio {
	t.Helper()
	d := newDrawer(t)
	m := 140.0 / 182
	body := d.picture(t, "pictures/bass-plate", "Painted comber, left lateral", 1800, 800, 300)
	fin := d.picture(t, "pictures/comber-study", "Comber, study of the fins", 1200, 600, 300)
	head := d.picture(t, "pictures/belted-head", "Belted bass, head", 350, 300, 0)
	head.View = pb.View_VIEW_RIGHT_LATERAL
	gill := d.picture(t, "pictures/raker-photo", "Gill arch under the glass", 500, 400, 0)
	scaled := func(mm float64) *pb.PictureScale {
		return &pb.PictureScale{MmPerPixel: mm * 1.1, Uncertainty: 0.012, Basis: "scale bar, 20 mm", ToSizeMmPerPixel: mm, Factor: mm * m * 300 / 25.4, EffectivePpi: 25.4 / (mm * m)}
	}
	reason := func(kind, text string) *pb.Reason { return &pb.Reason{Kind: kind, Text: text} }
	bodyAs := func(r *pb.Region) *pb.PlanCandidate {
		return &pb.PlanCandidate{Picture: body, AcceptedName: "Serranus scriba", Chosen: true, Score: 3.1, Region: r, Completeness: pb.Completeness_COMPLETENESS_COMPLETE,
			Reasons: []*pb.Reason{reason("relationship", "same species"), reason("view", "left lateral as wanted")}, Scale: scaled(0.13), Rights: "own work; nothing is to be asked"}
	}
	plan := &pb.Plan{
		Brief: "briefs/reef-guide-4", Title: "Plate 4 of a reef guide: painted comber", AcceptedName: "Serranus scriba", Taxon: "taxa/serranus-scriba", Sequence: 128,
		Size: &pb.PlanSize{StandardLengthMm: 182, Basis: "measured on specimens/nnhm-17", PrintedStandardLengthMm: 140, Magnification: m},
		Body: bodyAs(nil),
		Structures: []*pb.PlanStructure{
			{Structure: "dorsal fin", View: pb.View_VIEW_LEFT_LATERAL, Note: "membranes notched between spines", Checked: []string{"D X,15 by Ines Quill on 2026-05-20 against specimens/nnhm-17"}, Candidates: []*pb.PlanCandidate{
				{Picture: fin, AcceptedName: "Serranus cabrilla", Chosen: true, Score: 2.2, Region: &pb.Region{X: 0.1, Y: 0.1, Width: 0.5, Height: 0.4}, Completeness: pb.Completeness_COMPLETENESS_COMPLETE,
					Reasons: []*pb.Reason{reason("relationship", "same genus"), reason("structure", "dorsal fin complete")}, Scale: scaled(0.11),
					Differences: []string{"Serranus cabrilla has D X,14; wanted D X,15: don't copy the number"}, Rights: "own work; exclusive until 2029-03-31, facts may be taken",
					Proportions: []*pb.ProportionVerdict{{Length: "BD", Over: "SL", Found: 0.41, Min: 0.28, Max: 0.33, Verdict: "outside", Explanation: "0.41 found, 0.28 to 0.33 wanted; a specimen pressed flat is deeper"}}},
				{Picture: d.picture(t, "pictures/unscaled", "Comber on a market slab", 300, 200, 0), AcceptedName: "Serranus hepatus", Completeness: pb.Completeness_COMPLETENESS_PARTIAL,
					Scale: &pb.PictureScale{Problem: "no scale bar, and no landmarks for the specimen's SL"}},
			}},
			{Structure: "head", View: pb.View_VIEW_LEFT_LATERAL, Candidates: []*pb.PlanCandidate{{Picture: head, AcceptedName: "Serranus subligarius", Chosen: true, Mirror: true,
				Completeness: pb.Completeness_COMPLETENESS_DAMAGED, Damage: "opercle broken at its upper spine", Scale: scaled(0.115), Reasons: []*pb.Reason{reason("relationship", "same genus")},
				Rights: "copied from a photograph of another; ask before lines are taken", Warnings: []string{"identified only as cf."}}}},
			{Structure: "anal fin", View: pb.View_VIEW_LEFT_LATERAL, Candidates: []*pb.PlanCandidate{bodyAs(&pb.Region{X: 0.5, Y: 0.6, Width: 0.2, Height: 0.2})}},
			{Structure: "gill rakers", View: pb.View_VIEW_INTERNAL, Gap: "only a photograph without a scale", Candidates: []*pb.PlanCandidate{{Picture: gill, AcceptedName: "Serranidae", Chosen: true,
				Scale: &pb.PictureScale{Problem: "no scale bar: lay one in, or give the length of the arch"}, Rights: "own work"}}},
			{Structure: "pelvic fin", View: pb.View_VIEW_LEFT_LATERAL, Gap: "no picture shows it complete; nearest is Serranus cabrilla, folded"},
		},
		Chosen: []*pb.ChosenPicture{{Picture: body.GetName(), Title: body.GetTitle(), AcceptedName: "Serranus scriba", Structures: []string{"body", "anal fin"}}},
		Expected: []*pb.ExpectedCount{
			{Structure: "dorsal fin", Text: "D X,14-16", Source: "invented diagnosis for a test"}, {Structure: "anal fin", Text: "A III,7-8", Source: "specimens/nnhm-17"},
			{Structure: "pelvic fin", Text: "V I,5", Source: "Serranus cabrilla", FromRelative: true}, {Text: "vert. 24", Source: "invented diagnosis for a test"},
		},
		Remarks: []string{"SL as measured in alcohol; shrinkage isn't reckoned in"},
	}
	ray := &pb.RayMap{Structure: "dorsal fin", Picture: fin.GetName(), AcceptedName: "Serranus cabrilla", Remarks: []string{"one ray set in between"}}
	for i := range 25 {
		b := &pb.RayBase{Number: int32(i + 1), Spine: i < 10, OfBase: float64(i) / 24, OfStandardLength: 0.33 + 0.5*float64(i)/24, AboveMidline: 0.14 - 0.004*float64(i)}
		if !b.Spine {
			b.Number -= 10
		}
		ray.Bases = append(ray.Bases, b)
	}
	plan.RayMaps = []*pb.RayMap{ray}
	brief := &pb.Brief{Name: "briefs/reef-guide-4", Title: plan.GetTitle(), Job: "J-2026-04", DueOn: "2026-09-30", Rendering: pb.Rendering_RENDERING_COMBINATION,
		Use: &pb.Scope{Media: []string{"print.book"}, Territories: []string{"DE", "AT", "CH"}, Languages: []string{"de"}, From: "2026-10-01", To: "2031-09-30"}}
	return &studio{plan: plan, brief: brief, cutter: d}
}

// pdf sets the plan.
func (s *studio) pdf(t testing.TB, j Job) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := PDF(t.Context(), j, s.cutter, &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// tool gives bytes in a file to a program; a program that isn't there fails the test.
func tool(t testing.TB, file []byte, suffix, name string, args ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "file"+suffix)
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), name, append(args[:len(args):len(args)], path)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v: %s", name, err, out)
	}
	return string(out)
}

// pagesOf is the words of each page.
func pagesOf(t testing.TB, pdf []byte) []string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sheets.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), "pdftotext", "-layout", path, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	return strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
}

// rendered is a part of a page as pixels, gray: x, y, width and height in mm; a part without width is the whole page. Its pixels keep their place on the page.
func rendered(t testing.TB, pdf []byte, page int, ppi, x, y, w, h float64) *image.Gray {
	t.Helper()
	dir := t.TempDir()
	path := filepath.Join(dir, "sheets.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	px := func(mm float64) int { return int(mm / 25.4 * ppi) }
	n := fmt.Sprint(page)
	args := []string{"-png", "-gray", "-singlefile", "-r", fmt.Sprint(ppi), "-f", n, "-l", n}
	if w > 0 {
		args = append(args, "-x", fmt.Sprint(px(x)), "-y", fmt.Sprint(px(y)), "-W", fmt.Sprint(px(w)), "-H", fmt.Sprint(px(h)))
	}
	out, err := exec.CommandContext(t.Context(), "pdftoppm", append(args, path, filepath.Join(dir, "page"))...).CombinedOutput()
	if err != nil {
		t.Fatalf("pdftoppm: %v: %s", err, out)
	}
	f, err := os.Open(filepath.Join(dir, "page.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	g := image.NewGray(img.Bounds().Add(image.Pt(px(x), px(y))))
	draw.Draw(g, g.Rect, img, img.Bounds().Min, draw.Src)
	return g
}

// marked replaces a picture's file by white with two upright black marks, centered at two columns of pixels.
func (s *studio) marked(t testing.TB, pic *pb.Picture, at ...int) {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, int(pic.GetOriginal().GetWidth()), int(pic.GetOriginal().GetHeight())))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, x := range at {
		for dx := -15; dx < 15; dx++ {
			for y := range img.Rect.Dy() {
				img.SetGray(x+dx, y, color.Gray{})
			}
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	s.cutter.originals[pic.GetName()] = b.Bytes()
}
