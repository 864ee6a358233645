package imaging

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/tiff"
)

// cutting is a cut as it was told and as it is read back.
type cutting struct {
	image.Image
	CutInfo
}

// cutOuts makes cuts in one child and decodes them again.
func cutOuts(t testing.TB, r *Runner, original []byte, cuts []Cut) []cutting {
	t.Helper()
	files := make([]bytes.Buffer, len(cuts))
	infos, err := r.Cuts(t.Context(), bytes.NewReader(original), cuts, func(i int) (io.Writer, error) { return &files[i], nil })
	if err != nil {
		t.Fatalf("Cuts(%+v): %v", cuts, err)
	}
	out := make([]cutting, len(cuts))
	for i, c := range cuts {
		out[i] = cutting{readBack(t, c, infos[i], &files[i]), infos[i]}
	}
	return out
}

// cutOut makes one cut and decodes it again.
func cutOut(t testing.TB, r *Runner, original []byte, c Cut) (image.Image, CutInfo, []byte) {
	t.Helper()
	var b bytes.Buffer
	info, err := r.Cut(t.Context(), bytes.NewReader(original), c, &b)
	if err != nil {
		t.Fatalf("Cut(%+v): %v", c, err)
	}
	return readBack(t, c, info, &b), info, b.Bytes()
}

func readBack(t testing.TB, c Cut, info CutInfo, b *bytes.Buffer) (m image.Image) {
	t.Helper()
	var err error
	if c.MediaType == TIFF {
		m, err = tiff.Decode(bytes.NewReader(b.Bytes()))
	} else {
		m, _, err = image.Decode(bytes.NewReader(b.Bytes()))
	}
	if err != nil {
		t.Fatalf("read back Cut(%+v): %v", c, err)
	}
	if m.Bounds().Dx() != info.Width || m.Bounds().Dy() != info.Height || int64(b.Len()) != info.Size || info.MediaType != c.MediaType {
		t.Fatalf("Cut(%+v): pixels %v and %d bytes, told %+v", c, m.Bounds(), b.Len(), info)
	}
	return m
}

func sameColor(a, b color.Color) bool {
	r1, g1, b1, _ := a.RGBA()
	r2, g2, b2, _ := b.RGBA()
	return r1 == r2 && g1 == g2 && b1 == b2
}

// A cut without scaling holds exactly the pixels of the part, whatever orientation the file has, in 8 and 16 bits, mirrored and turned.
func TestCutIsExact(t *testing.T) {
	t.Parallel()
	const w, h = 97, 61
	wide := as(image.NewGray16(image.Rect(0, 0, w, h)), drawing(w, h))
	eight := as(image.NewGray(wide.Rect), wide)
	colors := as(image.NewRGBA(wide.Rect), drawing(w, h))
	files := map[string]struct {
		file []byte
		want image.Image
	}{
		"RGB 16": {encodePNG(t, drawing(w, h)), drawing(w, h)}, "RGB 8": {encodeTIFF(t, colors, nil), colors},
		"mirrored": {grayTIFF(eight, short(tagOrientation, 7)), orient(eight, 7)},
	}
	for name, d := range bothDecoders {
		r := newRunner(t, d, Limits{})
		for what, f := range files {
			cuts := []Cut{
				{X: 11, Y: 7, Width: 40, Height: 23, MediaType: PNG},
				{X: 1, Y: 17, Width: 33, Height: 44, MediaType: TIFF, Mirror: true, Rotate: 90},
				{MediaType: PNG, Rotate: 270},
			}
			for i, got := range cutOuts(t, r, f.file, cuts) {
				c, info := cuts[i], got.CutInfo
				if c.Width == 0 {
					c.Width, c.Height = f.want.Bounds().Dx(), f.want.Bounds().Dy()
				}
				turned := turn{c.Mirror, c.Rotate / 90}
				if ow, oh := turned.size(c.Width, c.Height); info.Width != ow || info.Height != oh {
					t.Fatalf("%s, %s, cut %d: %d by %d, want %d by %d", name, what, i, info.Width, info.Height, ow, oh)
				}
				wrong := 0
				for y := range info.Height {
					for x := range info.Width {
						sx, sy := turned.source(x, y, c.Width, c.Height)
						if !sameColor(got.At(x, y), f.want.At(c.X+sx, c.Y+sy)) {
							wrong++
						}
					}
				}
				if wrong > 0 {
					t.Errorf("%s, %s, cut %d: %d pixels of %d differ from the original's", name, what, i, wrong, info.Width*info.Height)
				}
				if depth := map[bool]int{true: 16, false: 8}[strings.HasSuffix(what, "16")]; info.BitsPerSample != depth {
					t.Errorf("%s, %s, cut %d: %d bits a sample, want %d", name, what, i, info.BitsPerSample, depth)
				}
			}
		}
	}
}

// Scaled cuts of both decoders agree: reduced, enlarged, and reduced one way while enlarged the other; also as gray of another depth.
func TestCutDecodersAgree(t *testing.T) {
	t.Parallel()
	files := map[string][]byte{
		"RGB 16": encodePNG(t, drawing(400, 280)),
		"G4":     convert(t, encodePNG(t, hatching(400, 280)), "out.tif", "vips", "tiffsave", "in", "out.tif", "--bitdepth", "1", "--compression", "ccittfax4", "--miniswhite"),
	}
	viaGo, viaVips := newRunner(t, OnlyGo, Limits{}), newRunner(t, OnlyVips, Limits{})
	for what, file := range files {
		cuts := []Cut{
			{X: 30, Y: 21, Width: 301, Height: 203, OutWidth: 120, OutHeight: 81, MediaType: PNG},
			{X: 30, Y: 21, Width: 101, Height: 67, OutWidth: 247, MediaType: TIFF, Rotate: 180},
			{X: 30, Y: 21, Width: 101, Height: 203, OutWidth: 150, OutHeight: 90, MediaType: PNG, Mirror: true},
			{OutHeight: 140, MediaType: TIFF, Gray: true, Depth: 16},
			{OutHeight: 140, MediaType: PNG, Depth: 8},
		}
		fromGo, fromVips := cutOuts(t, viaGo, file, cuts), cutOuts(t, viaVips, file, cuts)
		for i, c := range cuts {
			infoA, infoB := fromGo[i].CutInfo, fromVips[i].CutInfo
			most := 1.0
			if c.Gray { // libvips' luminance weights are 0.2, 0.7 and 0.1
				most = 2
			}
			mean, largest := meanDifference(t, fromGo[i].Image, fromVips[i].Image)
			t.Logf("%-16s cut %d: mean %.3f, largest %.0f", what, i, mean, largest)
			if mean > most || largest > 30 {
				t.Errorf("%s, cut %d: the decoders differ by %.3f in the mean, at most %.0f; want %g and 30", what, i, mean, largest, most)
			}
			if infoA.BitsPerSample != infoB.BitsPerSample || infoA.Gray != infoB.Gray || c.Depth != 0 && infoA.BitsPerSample != c.Depth {
				t.Errorf("%s, cut %d: %+v in Go, %+v in libvips", what, i, infoA, infoB)
			}
			if gray := strings.Contains(what, "G4") || c.Gray; infoA.Gray != gray {
				t.Errorf("%s, cut %d: gray %v, want %v", what, i, infoA.Gray, gray)
			}
		}
	}
}

// The written file says its resolution and nothing of where the picture was taken; an independent reader and Probe read it so.
func TestCutResolutionAndMetadata(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file := filepath.Join(dir, "in.tif")
	if err := os.WriteFile(file, encodeTIFF(t, as(image.NewRGBA(image.Rect(0, 0, 60, 40)), drawing(60, 40)), nil), 0o600); err != nil {
		t.Fatal(err)
	}
	tool(t, dir, "exiftool", "-overwrite_original", "-GPSLatitude=12.5", "-GPSLatitudeRef=N", "-Artist=A Painter", "-XMP:City=Portville", file)
	original, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for name, d := range bothDecoders {
		r := newRunner(t, d, Limits{})
		for _, media := range []string{TIFF, PNG, JPEG} {
			_, _, b := cutOut(t, r, original, Cut{OutWidth: 90, MediaType: media, PPI: 350})
			if h := probe(t, b); math.Abs(h.PPIX-350) > 0.02 || h.PPIY != h.PPIX || h.MediaType != media || h.Width != 90 || h.Height != 60 || len(h.Warnings) > 0 {
				t.Errorf("%s, %s: %+v, want 350 ppi", name, media, h)
			}
			out := filepath.Join(dir, "out")
			if err := os.WriteFile(out, b, 0o600); err != nil {
				t.Fatal(err)
			}
			var said []map[string]any
			if err := json.Unmarshal(tool(t, dir, "exiftool", "-json", "-n", "-G", out), &said); err != nil {
				t.Fatal(err)
			}
			x := fmt.Sprint(said[0]["EXIF:XResolution"], said[0]["JFIF:XResolution"], said[0]["PNG:PixelsPerUnitX"])
			if !strings.Contains(x, "350") && !strings.Contains(x, "13780") {
				t.Errorf("%s, %s: exiftool reads a resolution of %s", name, media, x)
			}
			for field, value := range said[0] {
				if strings.HasPrefix(field, "ExifTool:") {
					continue
				}
				if s := fmt.Sprint(value); strings.Contains(field, "GPS") || strings.HasPrefix(s, "12.5") || strings.Contains(s, "Painter") || strings.Contains(s, "Portville") {
					t.Errorf("%s, %s: the cut says %s = %v", name, media, field, value)
				}
			}
			if said[0]["ExifTool:Warning"] != nil || said[0]["ExifTool:Error"] != nil {
				t.Errorf("%s, %s: exiftool warns: %v %v", name, media, said[0]["ExifTool:Warning"], said[0]["ExifTool:Error"])
			}
		}
	}
}

// A wide color profile is applied by libvips for 8 bits and kept for 16; pure Go keeps it, and the file then says the same colors.
func TestCutColorProfile(t *testing.T) {
	t.Parallel()
	b := fixture(t, "p3.tif")
	name := probe(t, b).ICCProfile
	wide := convert(t, b, "out.tif", "vips", "icc_transform", "in", "out.tif", "p3", "--embedded", "--depth", "16")
	for _, tt := range []struct {
		decoders Decoders
		file     []byte
		media    string
		keeps    bool
	}{{OnlyVips, b, PNG, false}, {OnlyVips, wide, TIFF, true}, {OnlyVips, wide, PNG, true}, {OnlyVips, wide, JPEG, false},
		{OnlyGo, b, PNG, true}, {OnlyGo, b, JPEG, true}, {OnlyGo, wide, TIFF, true}} {
		_, info, out := cutOut(t, newRunner(t, tt.decoders, Limits{}), tt.file, Cut{MediaType: tt.media})
		if h := probe(t, out); h.ICCProfile != info.ICCProfile || (h.ICCProfile != "") != tt.keeps {
			t.Errorf("decoders %d, %s: profile %q in the file, %q told, kept should be %v", tt.decoders, tt.media, h.ICCProfile, info.ICCProfile, tt.keeps)
		}
	}
	// What the kept profile means is what the conversion shows.
	converted, _, _ := cutOut(t, newRunner(t, OnlyVips, Limits{}), b, Cut{MediaType: PNG})
	_, _, kept := cutOut(t, newRunner(t, OnlyGo, Limits{}), b, Cut{MediaType: PNG})
	shown, _, err := image.Decode(bytes.NewReader(convert(t, kept, "out.png", "vips", "icc_transform", "in", "out.png", "srgb", "--embedded")))
	if err != nil {
		t.Fatal(err)
	}
	if mean, _ := meanDifference(t, converted, shown); mean > 0.5 {
		t.Errorf("%s kept and then applied differs by %.2f from the profile applied", name, mean)
	}
}

// What pure Go doesn't read is cut by libvips too.
func TestCutOfTheRest(t *testing.T) {
	t.Parallel()
	r := newRunner(t, OnlyVips, Limits{})
	want, _, _ := cutOut(t, newRunner(t, OnlyGo, Limits{}), fixture(t, "rgb-deflate.tif"), Cut{MediaType: PNG})
	for file, most := range map[string]float64{"bigtiff.tif": 0, "lab.tif": 6, "cmyk.tif": 16, "cmyk.jpg": 16, "jpeg-in-tiff.tif": 8} {
		got, info, _ := cutOut(t, r, fixture(t, file), Cut{MediaType: PNG})
		if mean, _ := meanDifference(t, want, got); mean > most || info.Gray {
			t.Errorf("%s: differs by %.2f in the mean, want at most %g; %+v", file, mean, most, info)
		}
	}
}

// Several cuts of one original come in order, of one child.
func TestCuts(t *testing.T) {
	t.Parallel()
	m := as(image.NewGray(image.Rect(0, 0, 120, 80)), drawing(120, 80))
	for name, d := range bothDecoders {
		var cuts []Cut
		for i := range 12 {
			cuts = append(cuts, Cut{X: 5 * i, Y: i, Width: 40, Height: 30, MediaType: PNG})
		}
		out := make([]bytes.Buffer, len(cuts))
		infos, err := newRunner(t, d, Limits{}).Cuts(t.Context(), bytes.NewReader(encodeTIFF(t, m, nil)), cuts, func(i int) (io.Writer, error) { return &out[i], nil })
		if err != nil || len(infos) != len(cuts) {
			t.Fatalf("%s: %d cuts, %v", name, len(infos), err)
		}
		for i := range cuts {
			got, _, err := image.Decode(&out[i])
			if err != nil {
				t.Fatal(err)
			}
			if !sameColor(got.At(3, 4), m.At(5*i+3, i+4)) {
				t.Errorf("%s: cut %d isn't the part asked for", name, i)
			}
		}
	}
	full := errors.New("disk full")
	_, err := newRunner(t, OnlyGo, Limits{}).Cuts(t.Context(), bytes.NewReader(encodeTIFF(t, m, nil)), []Cut{{MediaType: PNG}}, func(int) (io.Writer, error) { return nil, full })
	if !errors.Is(err, full) {
		t.Errorf("a writer's failure gives %v", err)
	}
}

func TestCutRefusals(t *testing.T) {
	t.Parallel()
	m := encodeTIFF(t, image.NewGray(image.Rect(0, 0, 60, 40)), nil)
	for name, d := range bothDecoders {
		r := newRunner(t, d, Limits{})
		for _, tt := range []struct {
			what string
			file []byte
			cut  Cut
			want error
		}{
			{"part outside", m, Cut{X: 30, Width: 31, Height: 40, MediaType: PNG}, ErrBadCut},
			{"huge result", m, Cut{OutWidth: 2_000_000, OutHeight: 2_000_000, MediaType: PNG}, ErrTooBig},
			{"bomb", pngBomb(60000, 60000, 8, 0), Cut{Width: 10, Height: 10, MediaType: PNG}, ErrTooBig},
			{"cut short", m[:1500], Cut{MediaType: PNG}, ErrTruncated},
			{"no picture", []byte("no picture at all"), Cut{MediaType: PNG}, ErrUnknownFormat},
		} {
			var b bytes.Buffer
			_, err := r.Cut(t.Context(), bytes.NewReader(tt.file), tt.cut, &b)
			if !errors.Is(err, tt.want) || b.Len() > 0 {
				t.Errorf("%s, %s: %v and %d bytes, want %v and none", name, tt.what, err, b.Len(), tt.want)
			}
		}
		if _, err := r.Cuts(t.Context(), bytes.NewReader(m), nil, nil); !errors.Is(err, ErrBadCut) {
			t.Errorf("%s: no cuts: %v, want ErrBadCut", name, err)
		}
	}
}

func TestBadCuts(t *testing.T) {
	h := probe(t, encodeTIFF(t, image.NewGray(image.Rect(0, 0, 60, 40)), nil))
	for _, tt := range []struct {
		what string
		cut  Cut
	}{
		{"part outside", Cut{X: 30, Width: 31, Height: 40, MediaType: PNG}},
		{"part overflows", Cut{X: 1, Width: 1<<63 - 1, Height: 40, MediaType: PNG}},
		{"part without height", Cut{Width: 20, MediaType: PNG}},
		{"turn", Cut{Rotate: 45, MediaType: PNG}},
		{"depth", Cut{Depth: 12, MediaType: PNG}},
		{"JPEG of 16 bits", Cut{Depth: 16, MediaType: JPEG}},
		{"wide JPEG", Cut{OutWidth: 70000, OutHeight: 10, MediaType: JPEG}},
		{"format", Cut{MediaType: WebP}},
		{"resolution", Cut{PPI: -1, MediaType: PNG}},
		{"quality", Cut{Quality: 101, MediaType: JPEG}},
	} {
		if _, err := tt.cut.of(h); !errors.Is(err, ErrBadCut) {
			t.Errorf("%s: %v, want ErrBadCut", tt.what, err)
		}
	}
}

// Turning is a group: orientations composed are the turns made one after the other.
func TestTurnThen(t *testing.T) {
	m := as(image.NewGray(image.Rect(0, 0, 5, 3)), drawing(5, 3))
	for a := 1; a <= 8; a++ {
		for b := 1; b <= 8; b++ {
			want, got := orient(orient(m, a), b), turnOf(a).then(turnOf(b)).apply(m)
			if mean, _ := meanDifference(t, want, got); mean != 0 {
				t.Errorf("orientation %d then %d: %v", a, b, turnOf(a).then(turnOf(b)))
			}
		}
	}
}

// The weights of either filter sum to 1, stay within the picture, and an enlarged ramp stays a ramp.
func TestWeights(t *testing.T) {
	for _, n := range []int{1, 2, 3, 7, 100} {
		for _, m := range []int{1, 2, 5, 100, 333} {
			for i, w := range weights(n, m) {
				sum, at := 0.0, 0.0
				for k, v := range w.weights {
					sum, at = sum+float64(v), at+float64(v)*float64(w.first+k)
				}
				if sum < 0.9999 || sum > 1.0001 || w.first < 0 || w.first+len(w.weights) > n {
					t.Errorf("%d to %d, sample %d: sum %g, taps %d to %d", n, m, i, sum, w.first, w.first+len(w.weights))
				}
				place := (float64(i)+0.5)*float64(n)/float64(m) - 0.5
				if inner := place >= 1 && place <= float64(n-2); m > n && inner && (at-place > 1e-4 || place-at > 1e-4) {
					t.Errorf("%d to %d, sample %d: a ramp gives %g, want %g", n, m, i, at, place)
				}
			}
		}
	}
}
