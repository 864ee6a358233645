package sheet

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"image"
	"image/png"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/imaging"
)

func (s *studio) zip(t testing.TB, mediaType string, depth int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := (Crops{Job: s.job(t), MediaType: mediaType, Depth: depth}).Zip(t.Context(), s.cutter, &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// entries are the files of a zip, by name.
func entries(t testing.TB, b []byte) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if out[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
		if !f.Modified.Equal(day) {
			t.Errorf("%s is dated %v", f.Name, f.Modified)
		}
	}
	return out
}

var safeName = regexp.MustCompile(`^[a-z0-9-]+\.(tif|png)$|^README\.txt$|^plan\.json$`)

// TestCropsOpenAtOneSize: pixels and resolution of each crop together give its printed size, and all have one resolution.
func TestCropsOpenAtOneSize(t *testing.T) {
	t.Parallel()
	s := bass(t)
	for _, c := range []struct {
		media, ext string
		depth      int
	}{{imaging.TIFF, ".tif", 16}, {imaging.PNG, ".png", 0}} {
		files := entries(t, s.zip(t, c.media, c.depth))
		want := map[string]extent{ // mm: pixels by mm a pixel in print
			"00-body-bass-plate": {1800 * 0.13, 800 * 0.13}, "01-dorsal-fin-comber-study": {600 * 0.11, 240 * 0.11}, "02-head-belted-head": {350 * 0.115, 300 * 0.115}, "03-anal-fin-bass-plate": {360 * 0.13, 160 * 0.13},
		}
		if len(files) != len(want)+2 {
			t.Errorf("%d files; want %d", len(files), len(want)+2)
		}
		for name := range files {
			if !safeName.MatchString(name) {
				t.Errorf("%q isn't a plain name", name)
			}
		}
		otherProgramsReadTheSize(t, files["02-head-belted-head"+c.ext], c.ext)
		if c.media == imaging.PNG {
			mirroredCropsLookTheOtherWay(t, files)
		}
		for stem, size := range want {
			b := files[stem+c.ext]
			h, err := imaging.Probe(t.Context(), bytes.NewReader(b), int64(len(b)))
			if err != nil {
				t.Fatalf("%s: %v", stem, err)
			}
			if depth := max(c.depth, 8); h.BitsPerSample != depth || h.MediaType != c.media {
				t.Errorf("%s has %d bits as %s; want %d as %s", stem, h.BitsPerSample, h.MediaType, depth, c.media)
			}
			if math.Abs(h.PPIX-300) > 0.02 || math.Abs(h.PPIY-300) > 0.02 { // a PNG has whole pixels to the meter
				t.Errorf("%s has %g by %g ppi; want 300", stem, h.PPIX, h.PPIY)
			}
			m := 140.0 / 182
			for _, d := range [][2]float64{{float64(h.Width) / h.PPIX * 25.4, size.w * m}, {float64(h.Height) / h.PPIY * 25.4, size.h * m}} {
				if math.Abs(d[0]-d[1]) > 0.05 { // half a pixel
					t.Errorf("%s measures %.3f mm; want %.3f", stem, d[0], d[1])
				}
			}
		}
	}
}

// otherProgramsReadTheSize asks two other programs for pixels and resolution.
func otherProgramsReadTheSize(t *testing.T, crop []byte, ext string) {
	t.Helper()
	if out := tool(t, crop, ext, "vipsheader", "-f", "xres"); math.Abs(number(t, strings.TrimSpace(out))*25.4-300) > 0.02 {
		t.Errorf("vips reads %s pixels to the mm of the %s", strings.TrimSpace(out), ext)
	}
	out := strings.Fields(tool(t, crop, ext, "exiftool", "-s3", "-n", "-ImageWidth", "-XResolution", "-PixelsPerUnitX"))
	want := []string{"366", "300"} // 40.25 mm times 140/182
	if ext == ".png" {
		want[1] = "11811" // to the meter
	}
	if len(out) != 2 || out[0] != want[0] || out[1] != want[1] {
		t.Errorf("exiftool reads %v of the %s; want %v", out, ext, want)
	}
}

// mirroredCropsLookTheOtherWay: the animal is dark at its head, which is at the left of the original and must be at the right of a mirrored crop.
func mirroredCropsLookTheOtherWay(t *testing.T, files map[string][]byte) {
	t.Helper()
	for name, headRight := range map[string]bool{"02-head-belted-head.png": true, "00-body-bass-plate.png": false} {
		img, err := png.Decode(bytes.NewReader(files[name]))
		if err != nil {
			t.Fatal(err)
		}
		if l, r := lightness(img, 0.2), lightness(img, 0.8); (r < l) != headRight {
			t.Errorf("%s is %d at the left and %d at the right", name, l, r)
		}
	}
}

func lightness(img image.Image, x float64) uint32 {
	b := img.Bounds()
	r, _, _, _ := img.At(b.Min.X+int(x*float64(b.Dx())), b.Min.Y+b.Dy()/2).RGBA()
	return r >> 8
}

func TestTheZipTellsWhatIsInIt(t *testing.T) {
	t.Parallel()
	s := bass(t)
	first := s.zip(t, imaging.TIFF, 8)
	if !bytes.Equal(first, s.zip(t, imaging.TIFF, 8)) {
		t.Error("two zips of one plan differ")
	}
	files := entries(t, first)
	words := strings.Join(strings.Fields(string(files["README.txt"])), " ")
	for _, want := range []string{
		"All crops are at printed size, ×0.769: 300 pixels per inch, 9.0854 pixels to a mm of animal.", caution, "02-head-belted-head.tif head pictures/belted-head Serranus subligarius 30.96 x 26.54 287 mirrored",
		"01-dorsal-fin-comber-study.tif: don't copy: Serranus cabrilla has D X,14", "02-head-belted-head.tif: damage: opercle broken", "Left out gill rakers: Gill arch under the glass (pictures/raker-photo): no scale",
	} {
		if !strings.Contains(words, want) {
			t.Errorf("README.txt lacks %q:\n%s", want, files["README.txt"])
		}
	}
	var back pb.Plan
	if !json.Valid(files["plan.json"]) || protojson.Unmarshal(files["plan.json"], &back) != nil || !proto.Equal(&back, s.plan) {
		t.Error("plan.json isn't the plan")
	}
}

// TestCommonResolution: nothing of the finest crop is lost below 600 ppi, and a poster doesn't become a crop that no program opens.
func TestCommonResolution(t *testing.T) {
	at := func(pixels int, mm float64) *piece {
		return &piece{part: box{0, 0, pixels, pixels}, aspect: 1, print: mm}
	}
	for _, c := range []struct {
		pieces []*piece
		want   float64
	}{
		{[]*piece{at(100, 25.4/280)}, 300}, {[]*piece{at(100, 25.4/300), at(100, 25.4/90)}, 300}, {[]*piece{at(100, 25.4/320)}, 600}, {[]*piece{at(100, 25.4/2400)}, 600},
		{[]*piece{at(20000, 25.4/400)}, 150}, // 50 inches: 30,000 pixels at 600, 15,000 at 300
	} {
		got := commonPPI(c.pieces)
		if got != c.want {
			t.Errorf("%v: %g ppi; want %g", c.pieces[0], got, c.want)
		}
	}
}
