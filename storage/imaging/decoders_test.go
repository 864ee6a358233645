package imaging

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"golang.org/x/image/tiff"
)

func encodePNG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func encodeTIFF(t testing.TB, m image.Image, o *tiff.Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := tiff.Encode(&b, m, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func as[T draw.Image](dst T, src image.Image) T {
	draw.Draw(dst, src.Bounds(), src, image.Point{}, draw.Src)
	return dst
}

// meanDifference is the mean and the largest difference of two pictures' samples, 0 to 255.
func meanDifference(t testing.TB, a, b image.Image) (mean, largest float64) {
	t.Helper()
	if a.Bounds() != b.Bounds() {
		t.Fatalf("sizes %v and %v", a.Bounds(), b.Bounds())
	}
	p, q := rasterOf(a, true), rasterOf(b, true)
	rowA, rowB := make([]float32, 3*p.width), make([]float32, 3*p.width)
	for y := range p.height {
		p.row(y, rowA)
		q.row(y, rowB)
		for i := range rowA {
			d := math.Abs(float64(rowA[i*p.channels/3] - rowB[i*q.channels/3]))
			mean += d
			largest = max(largest, d)
		}
	}
	return mean / float64(len(rowA)*p.height), largest
}

// originals are scans in all the variants that both decoders read, 400 by 280 pixels.
func originals(t testing.TB) map[string][]byte {
	t.Helper()
	m := drawing(400, 280)
	box := m.Bounds()
	gray, rgb := as(image.NewGray(box), m), as(image.NewRGBA(box), m)
	clear := as(image.NewNRGBA(box), m)
	for i := range clear.Pix[3:] {
		if i%4 == 0 {
			clear.Pix[i+3] = uint8(i / 4 % 400 / 2)
		}
	}
	pal := image.NewPaletted(box, nil)
	for i := range 256 {
		pal.Palette = append(pal.Palette, color.RGBA{uint8(i), uint8(255 - i), uint8(i * 7), 255})
	}
	copy(pal.Pix, gray.Pix)
	two := image.NewPaletted(box, color.Palette{color.White, color.Black})
	lines := hatching(400, 280)
	for i, v := range lines.Pix {
		two.Pix[i] = 1 - v/255
	}
	rgbPNG := encodePNG(t, rgb)
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, rgb, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	linePNG := encodePNG(t, lines)
	vips := func(original []byte, args string) []byte {
		return convert(t, original, "out.tif", "vips", append([]string{"tiffsave", "in", "out.tif"}, strings.Fields(args)...)...)
	}
	return map[string][]byte{
		"PNG gray 8":        encodePNG(t, gray),
		"PNG gray 16":       encodePNG(t, as(image.NewGray16(box), m)),
		"PNG RGB 8":         rgbPNG,
		"PNG RGB 16":        encodePNG(t, m),
		"PNG RGBA":          encodePNG(t, clear),
		"PNG palette":       encodePNG(t, pal),
		"PNG two colors":    encodePNG(t, two),
		"PNG interlaced":    convert(t, rgbPNG, "out.png", "vips", "pngsave", "in", "out.png", "--interlace"),
		"JPEG":              jpg.Bytes(),
		"JPEG progressive":  convert(t, rgbPNG, "out.jpg", "vips", "jpegsave", "in", "out.jpg", "--interlace", "--Q", "95"),
		"WebP lossless":     convert(t, rgbPNG, "out.webp", "vips", "webpsave", "in", "out.webp", "--lossless", "--effort", "0"),
		"GIF":               convert(t, rgbPNG, "out.gif", "vips", "gifsave", "in", "out.gif", "--effort", "1"),
		"TIFF gray 8":       encodeTIFF(t, gray, nil),
		"TIFF gray 16":      encodeTIFF(t, as(image.NewGray16(box), m), nil),
		"TIFF RGB 16":       vips(encodePNG(t, m), "--compression lzw"),
		"TIFF RGBA deflate": encodeTIFF(t, clear, &tiff.Options{Compression: tiff.Deflate, Predictor: true}),
		"TIFF palette":      encodeTIFF(t, pal, nil),
		"TIFF LZW":          vips(rgbPNG, "--compression lzw"),
		"TIFF tiles":        vips(rgbPNG, "--compression deflate --tile"),
		"TIFF PackBits":     vips(rgbPNG, "--compression packbits"),
		"TIFF G4 black 0":   vips(linePNG, "--bitdepth 1 --compression ccittfax4"),
		"TIFF G4 white 0":   vips(linePNG, "--bitdepth 1 --compression ccittfax4 --miniswhite"),
		"TIFF 1 bit":        vips(linePNG, "--bitdepth 1"),
	}
}

// The two decoders are independent of each other: where they agree, both are very likely right. Stated tone error: 1 of 255 in the mean. The
// rest is rounding (libvips places its taps to 1/64 of a pixel, which shows at fine lines), 16 bits cut to 8, and JPEG's inverse
// transforms.
func TestDecodersAgree(t *testing.T) {
	for name, b := range originals(t) {
		estimateCovers(t, name, b)
		w, h := 160, 112
		viaGo, viaVips := reduced(t, b, false, w, h), reduced(t, b, true, w, h)
		mean, largest := meanDifference(t, viaGo, viaVips)
		t.Logf("%-18s mean %.3f, largest %.0f", name, mean, largest)
		most := 1.0
		if name == "JPEG" { // with color at half resolution, which the decoders interpolate differently
			most = 1.5
		}
		if mean > most || largest > 24 {
			t.Errorf("%s: the decoders differ by %.3f in the mean, at most %.0f; want %g and 24", name, mean, largest, most)
		}
	}
}

// estimateCovers checks that the estimate isn't below what decoding takes. TotalAlloc counts also what the collector could free, so that it is no less
// than the peak.
func estimateCovers(t *testing.T, name string, b []byte) {
	t.Helper()
	h := probe(t, b)
	path := filepath.Join(t.TempDir(), "in")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err = goDecode(f, h)
	runtime.ReadMemStats(&after)
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	used, said := int64(after.TotalAlloc-before.TotalAlloc), h.DecodeBytes()-baseBytes
	said += 2 << 20 // buffers and tables, which don't grow with the picture
	if h.MediaType == TIFF {
		said += 4 * h.Pixels() * int64(h.SamplesPerPixel*h.BitsPerSample) / 8 // buffers of earlier strips, garbage by then
	}
	if used > said {
		t.Errorf("%s: decoding allocated %d bytes, estimated %d", name, used, said)
	}
}

// What libvips alone decodes is compared with the same picture from another container.
func TestVipsReadsTheRest(t *testing.T) {
	t.Parallel()
	want := reduced(t, fixture(t, "rgb-deflate.tif"), false, 96, 64)
	for file, most := range map[string]float64{
		"bigtiff.tif": 0, "zstd.tif": 0, "rgb-tiled.tif": 0, "jpeg-in-tiff.tif": 8, "progressive.jpg": 4,
		"lab.tif":  6,                  // written for white D65, read for ICC's D50 as most programs mean it
		"cmyk.tif": 16, "cmyk.jpg": 16, // the loss of the smaller gamut; inverted inks would differ by about 100

	} {
		got := reduced(t, fixture(t, file), true, 96, 64)
		if mean, _ := meanDifference(t, want, got); mean > most {
			t.Errorf("%s: differs by %.2f in the mean, want at most %g", file, mean, most)
		} else {
			t.Logf("%s: %.2f", file, mean)
		}
	}
	// A profile wider than sRGB must move the colors.
	if mean, _ := meanDifference(t, want, reduced(t, fixture(t, "p3.tif"), true, 96, 64)); mean < 1 {
		t.Errorf("p3.tif: differs by %.2f in the mean: the color profile was not applied", mean)
	}
}

// Without libvips these variants are refused before decoding, each with the remedy.
func TestGoRefusals(t *testing.T) {
	gray := image.NewGray(image.Rect(0, 0, 16, 16))
	tests := map[string][]byte{
		"BigTIFF":        fixture(t, "bigtiff.tif"),
		"JPEG":           fixture(t, "jpeg-in-tiff.tif"),
		"Zstandard":      fixture(t, "zstd.tif"),
		"cmyk":           fixture(t, "cmyk.tif"),
		"lab":            fixture(t, "lab.tif"),
		"planes":         grayTIFF(gray, short(tagPlanar, 2), short(tagSamples, 3), short(tagPhotometric, inRGB), short(tagBits, 8, 8, 8)),
		"G3":             grayTIFF(gray, short(tagCompression, 3), short(tagBits, 1), long(tagT4Options, 1)),
		"number of bits": grayTIFF(gray, short(tagBits, 4)),
		"reversed bits":  grayTIFF(gray, short(tagFillOrder, 2)),
		"these samples":  grayTIFF(gray, short(tagSamples, 2), short(tagBits, 8, 8)),
		"predictor":      grayTIFF(gray, short(tagPredictor, 3)),
	}
	for what, b := range tests {
		h := probe(t, b)
		_, f := choose(h, DefaultLimits(), false)
		if !errors.Is(f, ErrUnsupported) || f.Right != rightVips {
			t.Errorf("%s: %v, want ErrUnsupported with libvips as the remedy", what, f)
		}
		if useVips, f := choose(h, DefaultLimits(), true); f != nil || !useVips {
			t.Errorf("%s with libvips: %v", what, f)
		}
	}
	for what, b := range map[string][]byte{"float": grayTIFF(gray, short(tagSampleFormat, 3)), "32 bits": grayTIFF(gray, short(tagBits, 32))} {
		if _, f := choose(probe(t, b), DefaultLimits(), true); !errors.Is(f, ErrUnsupported) {
			t.Errorf("%s: %v, want ErrUnsupported whatever is installed", what, f)
		}
	}
}

func TestCutPixels(t *testing.T) {
	t.Parallel()
	m := as(image.NewRGBA(image.Rect(0, 0, 300, 200)), drawing(300, 200))
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, m, nil); err != nil {
		t.Fatal(err)
	}
	for _, d := range []Decoders{OnlyGo, OnlyVips} {
		r := newRunner(t, d, Limits{})
		for name, b := range map[string][]byte{"JPEG": jpg.Bytes(), "PNG": encodePNG(t, m)} {
			_, err := r.Derive(t.Context(), bytes.NewReader(b[:len(b)*3/5]))
			if !errors.Is(err, ErrTruncated) {
				t.Errorf("%s cut short, decoders %d: %v, want ErrTruncated", name, d, err)
			}
		}
	}
}

// Damaged pixel data, as against missing data, is an error of the picture too, or a preview; never one of the machine.
func TestDamagedPixels(t *testing.T) {
	t.Parallel()
	for _, file := range []string{"interlaced.png", "bilevel-g4.tif"} {
		b := bytes.Clone(fixture(t, file))
		for i := len(b) / 3; i < len(b)/3+40; i++ {
			b[i] ^= 0x5a
		}
		for _, d := range []Decoders{OnlyGo, OnlyVips} {
			if _, err := newRunner(t, d, Limits{}).Derive(t.Context(), bytes.NewReader(b)); err != nil && Reason(err) == "" {
				t.Errorf("%s damaged, decoders %d: %v, want a *Fault", file, d, err)
			}
		}
	}
}
