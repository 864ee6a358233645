package sheet

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/imaging"
)

var update = flag.Bool("update", false, "write golden files anew")

// TestTheSheetsSayWhatThePlanSays holds the words of a fixed plan, page by page, and its bytes against those of a second run.
func TestTheSheetsSayWhatThePlanSays(t *testing.T) {
	t.Parallel()
	s := bass(t)
	var b strings.Builder
	pdf := s.pdf(t, s.job(t))
	pages := pagesOf(t, pdf)
	if !bytes.Equal(pdf, s.pdf(t, s.job(t))) {
		t.Error("two PDFs of one plan differ")
	}
	if n := s.cutter.calls["pictures/bass-plate"]; n != 2 {
		t.Errorf("a picture that serves body and fin was read %d times in two runs; want once a run", n)
	}
	for i, page := range pages {
		fmt.Fprintf(&b, "==== page %d\n", i+1)
		for line := range strings.Lines(page) {
			if words := strings.Fields(line); len(words) > 0 {
				b.WriteString(strings.Join(words, " ") + "\n")
			}
		}
	}
	file := filepath.Join("testdata", "bass.txt")
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the words differ from %s; found\n%s", file, b.String())
	}
	for i, page := range pages {
		for _, want := range []string{fmt.Sprintf("page %d of %d", i+1, len(pages)), "briefs/reef-guide-4 · plan at commit 128", caution} {
			if !strings.Contains(page, want) {
				t.Errorf("page %d lacks %q", i+1, want)
			}
		}
	}
}

// barLabel is what stands under a scale bar.
var barLabel = regexp.MustCompile(`([0-9.]+) (mm|cm|m) of animal = ([0-9.]+) mm on paper`)

// TestBarsAreTrueOnPaper measures each scale bar on the rendered page: it is as long as its label says, and that is the true length times what the caption says.
func TestBarsAreTrueOnPaper(t *testing.T) {
	t.Parallel()
	s := bass(t)
	laid, err := prepared(t.Context(), s.job(t), s.cutter)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := laid.set(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	pdf := b.Bytes()
	if len(laid.bars) != 7 {
		t.Fatalf("%d bars; want one in the composite and one a view", len(laid.bars))
	}
	const ppi = 600.0
	labels := map[int]string{}
	for i, page := range pagesOf(t, pdf) {
		labels[i+1] = page
	}
	for _, b := range laid.bars {
		img := rendered(t, pdf, b.page, ppi, b.x-2, b.y-1, b.bar.paperMM+4, 2)
		x, y := int((b.x+b.bar.paperMM/2)/25.4*ppi), int(b.y/25.4*ppi)
		left, right := x, x
		for ; img.GrayAt(left-1, y).Y < 128; left-- {
		}
		for ; img.GrayAt(right, y).Y < 128; right++ {
		}
		measured := float64(right-left) / ppi * 25.4
		if math.Abs(measured/b.bar.paperMM-1) > 0.005 {
			t.Errorf("page %d: a bar of %.3f mm measures %.3f", b.page, b.bar.paperMM, measured)
		}
		if !strings.Contains(labels[b.page], b.bar.String()) {
			t.Errorf("page %d has no label %q", b.page, b.bar)
		}
	}
	for _, m := range barLabel.FindAllStringSubmatch(labels[2], -1) { // the composite
		length, paper := number(t, m[1]), number(t, m[3])
		if m[2] == "cm" {
			length *= 10
		}
		if f := paper / length / (140.0 / 182); math.Abs(f-1) > 0.005 {
			t.Errorf("%s isn't at the plan's magnification", m[0])
		}
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// TestThePictureIsTrueOnPaper measures the drawn animal itself: two marks a known number of pixels apart.
func TestThePictureIsTrueOnPaper(t *testing.T) {
	t.Parallel()
	s := bass(t)
	s.marked(t, s.plan.GetBody().GetPicture(), 300, 1500)
	s.plan.Structures = nil
	pdf := s.pdf(t, s.job(t))
	const ppi = 300.0
	img := rendered(t, pdf, 2, ppi, 0, 0, 0, 0)
	y := int(math.Round((margin + 4.2 + 3 + edge + 40) / 25.4 * ppi)) // within the body
	var centers []float64
	for x := 0; x < img.Rect.Dx(); x++ {
		from := x
		for x < img.Rect.Dx() && img.GrayAt(x, y).Y < 100 {
			x++
		}
		if x-from > 8 {
			centers = append(centers, float64(x+from)/2)
		}
	}
	if len(centers) != 2 {
		t.Fatalf("%d marks at row %d, want 2: %v", len(centers), y, centers)
	}
	found, want := (centers[1]-centers[0])/ppi*25.4, 1200*0.13*140/182
	if math.Abs(found/want-1) > 0.005 {
		t.Errorf("marks 1200 pixels apart stand %.2f mm apart on paper; want %.2f", found, want)
	}
}

// TestNeighborsShareAStrip: two pages side by side show the same in the strip that they share, so that they can be laid over each other.
func TestNeighborsShareAStrip(t *testing.T) {
	t.Parallel()
	s := bass(t)
	s.plan.Structures = nil
	s.plan.Size.Magnification = 1.6 // the body alone is 374 mm wide
	j := s.job(t)
	pdf := s.pdf(t, j)
	words := pagesOf(t, pdf)
	if !strings.Contains(words[1], "sheet A1 of B2: row 1 of 2, column 1 of 2") || !strings.Contains(words[2], "sheet A2 of B2") {
		t.Fatalf("pages 2 and 3 aren't tiles:\n%s\n%s", words[1], words[2])
	}
	const ppi = 150.0
	box := newSheets(j).tile()
	left, right := rendered(t, pdf, 2, ppi, 0, 0, 0, 0), rendered(t, pdf, 3, ppi, 0, 0, 0, 0)
	px := func(mm float64) int { return int(math.Round(mm / 25.4 * ppi)) }
	var same, all, ink int
	for y := px(box.y) + 3; y < px(box.y+box.h)-3; y++ {
		for x := 3; x < px(overlap)-3; x++ {
			a, b := left.GrayAt(px(box.x+box.w-overlap)+x, y).Y, right.GrayAt(px(box.x)+x, y).Y
			all++
			if d := int(a) - int(b); d > -40 && d < 40 {
				same++
			}
			if a < 230 {
				ink++
			}
		}
	}
	if share := float64(same) / float64(all); share < 0.99 || ink < all/4 {
		t.Errorf("only %.1f %% of the strip agrees, %d of %d pixels are drawn on", 100*share, ink, all)
	}
}

// wordBox is a word as pdftotext -bbox tells it, in points.
var wordBox = regexp.MustCompile(`<word xMin="([0-9.-]+)" yMin="([0-9.-]+)" xMax="([0-9.-]+)" yMax="([0-9.-]+)">(.*?)</word>`)

// TestWordsKeepApart: on no page does a word leave the margins or lie on another, however much there is to say.
func TestWordsKeepApart(t *testing.T) {
	t.Parallel()
	wordy := bass(t)
	long := strings.Repeat("a remark that is long enough to be broken over several lines of a narrow column, with Pseudoplesiopsrhacochilotoxicus in it; ", 6)
	wordy.plan.Title = strings.Repeat("A title that goes on and on ", 8)
	for _, st := range wordy.plan.GetStructures() {
		st.Note = long
		for _, c := range st.GetCandidates() {
			c.Picture.Title, c.Rights, c.Damage, c.Differences, c.Warnings = long, long, long, []string{long, long}, []string{long, long, long}
			c.GetScale().Problem, c.GetScale().Warnings = long, []string{long}
		}
	}
	for range 10 {
		wordy.plan.Structures = append(wordy.plan.Structures, proto.CloneOf(wordy.plan.GetStructures()[4]))
		wordy.plan.Remarks = append(wordy.plan.Remarks, long)
	}
	for _, c := range []struct {
		name  string
		plan  *studio
		paper pb.Paper
		size  extent
	}{{"bass", bass(t), pb.Paper_PAPER_A3, extent{420, 297}}, {"wordy", wordy, pb.Paper_PAPER_A4, extent{297, 210}}} {
		j := c.plan.job(t)
		j.Paper = c.paper
		out := tool(t, c.plan.pdf(t, j), ".pdf", "sh", "-c", `pdftotext -bbox "$0" -`)
		for n, page := range strings.Split(out, "<page ")[1:] {
			apart(t, fmt.Sprintf("%s, page %d", c.name, n+1), page, c.size)
		}
	}
}

func apart(t *testing.T, where, page string, size extent) {
	t.Helper()
	var boxes [][4]float64
	var words []string
	for _, m := range wordBox.FindAllStringSubmatch(page, -1) {
		var b [4]float64
		for i := range b {
			b[i] = number(t, m[i+1]) * 25.4 / 72
		}
		const slack = 0.3 // mm
		if b[0] < margin-slack || b[2] > size.w-margin+slack || b[1] < margin-2 || b[3] > size.h-margin+2 {
			t.Errorf("%s: %q leaves the margins: %.1f", where, m[5], b)
		}
		inset := (b[3] - b[1]) * 0.25 // boxes are as high as the font, not as its letters
		boxes, words = append(boxes, [4]float64{b[0] + 0.1, b[1] + inset, b[2] - 0.1, b[3] - inset}), append(words, m[5])
	}
	if len(boxes) == 0 {
		t.Errorf("%s: no words", where)
	}
	for i, a := range boxes {
		for k, b := range boxes[:i] {
			if a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3] {
				t.Errorf("%s: %q lies on %q at %.1f", where, words[i], words[k], a)
			}
		}
	}
}

func TestNoSizeMeansNaturalSize(t *testing.T) {
	t.Parallel()
	s := bass(t)
	s.plan.Size.Magnification, s.plan.Size.PrintedStandardLengthMm = 0, 0
	pages := strings.Join(strings.Fields(strings.Join(pagesOf(t, s.pdf(t, s.job(t))), " ")), " ")
	for _, want := range []string{"No size in print is known", "composite at natural size", "no size stated; natural size here", "At natural size, ×1"} {
		if !strings.Contains(pages, want) {
			t.Errorf("no %q", want)
		}
	}
}

func TestAPlanWithoutPicturesIsSetToo(t *testing.T) {
	j := Job{Plan: &pb.Plan{AcceptedName: "Gobius niger", Structures: []*pb.PlanStructure{{Structure: "pelvic disc", Gap: "nothing shows it"}}}, Made: day, Dir: t.TempDir()}
	var b bytes.Buffer
	if err := PDF(t.Context(), j, newDrawer(t), &b); err != nil {
		t.Fatal(err)
	}
	words := strings.Join(pagesOf(t, b.Bytes()), " ")
	for _, want := range []string{"Plan for Gobius niger", "nothing shows it", "There is no composite"} {
		if !strings.Contains(words, want) {
			t.Errorf("no %q in\n%s", want, words)
		}
	}
	if err := PDF(t.Context(), Job{}, newDrawer(t), io.Discard); !errors.Is(err, ErrNoPlan) {
		t.Errorf("without a plan: %v", err)
	}
}

// TestAnUnreadableFileIsLeftOut: one file that can't be decoded is told with its reason, and the rest is made.
func TestAnUnreadableFileIsLeftOut(t *testing.T) {
	t.Parallel()
	s := bass(t)
	s.cutter.originals["pictures/belted-head"] = []byte("no picture at all")
	words := strings.Join(strings.Fields(pagesOf(t, s.pdf(t, s.job(t)))[0]), " ")
	if want := "head: Belted bass, head (pictures/belted-head): its file can't be read here"; !strings.Contains(words, want) {
		t.Errorf("no %q in\n%s", want, words)
	}
}

// stuck is a Cutter that waits until it is told to stop.
type stuck struct{ begun chan struct{} }

func (s stuck) Cuts(ctx context.Context, _ *pb.Picture, _ []imaging.Cut, _ func(int) (io.Writer, error)) ([]imaging.CutInfo, error) {
	s.begun <- struct{}{}
	<-ctx.Done()
	return nil, ctx.Err()
}

func TestCancellationEndsTheWork(t *testing.T) {
	s := bass(t)
	ctx, cancel := context.WithCancel(t.Context())
	wait := stuck{make(chan struct{}, 10)}
	go func() {
		<-wait.begun
		cancel()
	}()
	if err := PDF(ctx, s.job(t), wait, io.Discard); !errors.Is(err, context.Canceled) {
		t.Errorf("%v; want that it was cancelled", err)
	}
}
