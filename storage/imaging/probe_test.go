package imaging

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func TestProbeFixtures(t *testing.T) {
	// vips writes 1 pixel a millimetre where nothing else is said.
	header := func(media, compression string, change func(*Header)) Header {
		h := Header{MediaType: media, Compression: compression, Width: 96, Height: 64, Orientation: 1, BitsPerSample: 8, SamplesPerPixel: 3,
			Model: RGB, Pages: 1, PPIX: 25.4, PPIY: 25.4, ResolutionUnit: "cm"}
		if change != nil {
			change(&h)
		}
		return h
	}
	ppi := func(h *Header, v float64, unit string) { h.PPIX, h.PPIY, h.ResolutionUnit = v, v, unit }
	silent := func(h *Header) { ppi(h, 0, "") }
	tests := map[string]Header{
		"baseline.jpg":    header(JPEG, "JPEG", silent),
		"progressive.jpg": header(JPEG, "JPEG progressive", silent),
		"cmyk.jpg":        header(JPEG, "JPEG", func(h *Header) { h.Model, h.SamplesPerPixel = CMYK, 4; silent(h) }),
		"interlaced.png":  header(PNG, "Deflate", func(h *Header) { ppi(h, 25.4, "metre") }),
		"lossless.webp":   header(WebP, "WebP lossless", nil),
		"lossy.webp":      header(WebP, "WebP lossy", nil),
		"rgb-lzw.tif":     header(TIFF, "LZW", func(h *Header) { ppi(h, 300, "inch") }),
		"rgb-tiled.tif":   header(TIFF, "LZW", nil),
		"rgb-deflate.tif": header(TIFF, "Deflate", nil),
		"gray-packbits.tif": header(TIFF, "PackBits", func(h *Header) {
			h.Model, h.SamplesPerPixel = Gray, 1
			ppi(h, 600, "cm")
		}),
		"bigtiff.tif":      header(TIFF, "Deflate", func(h *Header) { h.BigTIFF = true }),
		"jpeg-in-tiff.tif": header(TIFF, "JPEG", nil),
		"zstd.tif":         header(TIFF, "Zstandard", nil),
		"p3.tif":           header(TIFF, "Deflate", func(h *Header) { h.ICCProfile = "sP3C" }),
		"cmyk.tif":         header(TIFF, "Deflate", func(h *Header) { h.Model, h.SamplesPerPixel = CMYK, 4 }),
		"lab.tif":          header(TIFF, "Deflate", func(h *Header) { h.Model, h.BitsPerSample = Lab, 16 }),
		"bilevel-g4.tif": header(TIFF, "CCITT G4", func(h *Header) {
			h.Model, h.BitsPerSample, h.SamplesPerPixel = Bilevel, 1, 1
			ppi(h, 600, "inch")
		}),
		"bilevel-g4-white.tif": header(TIFF, "CCITT G4", func(h *Header) { h.Model, h.BitsPerSample, h.SamplesPerPixel = Bilevel, 1, 1 }),
	}
	for file, want := range tests {
		got := probe(t, fixture(t, file))
		if d := cmp.Diff(want, got, cmpopts.IgnoreUnexported(Header{})); d != "" {
			t.Errorf("%s (-want +got):\n%s", file, d)
		}
	}
}

func TestProbeKeptWithoutPreview(t *testing.T) {
	psd := append([]byte("8BPS\x00\x01\x00\x00\x00\x00\x00\x00"), 0, 3, 0, 0, 1, 0, 0, 0, 2, 0, 0, 8, 0, 3)
	tests := []struct {
		content, media string
		width          int64
	}{
		{string(psd), PSD, 512},
		{"%PDF-1.7\n%....", PDF, 0},
		{"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", HEIC, 0},
		{"\x00\x00\x00\x18ftypavif\x00\x00\x00\x00", AVIF, 0},
	}
	for _, tt := range tests {
		h := probe(t, []byte(tt.content))
		if h.MediaType != tt.media || h.Width != tt.width {
			t.Errorf("%s: media type %s, width %d, want %d", tt.media, h.MediaType, h.Width, tt.width)
		}
		if _, f := choose(h, DefaultLimits(), true); !errors.Is(f, ErrUnsupported) || f.Right == "" {
			t.Errorf("%s: %v, want ErrUnsupported with a remedy", tt.media, f)
		}
	}
}

func TestProbeOrientation(t *testing.T) {
	for o := uint64(1); o <= 8; o++ {
		exif := buildTIFF(binary.BigEndian, nil, 0, []entry{short(tagOrientation, o), rational(tagXResolution, 4000, 10), rational(tagYResolution, 400, 1)})
		files := map[string][]byte{
			"JPEG": withSegment(fixture(t, "baseline.jpg"), mAPP1, append([]byte(exifPrefix), exif...)),
			"PNG":  withChunk(fixture(t, "interlaced.png"), "eXIf", exif),
			"TIFF": grayTIFF(image.NewGray(image.Rect(0, 0, 96, 64)), short(tagOrientation, o), rational(tagXResolution, 400, 1), rational(tagYResolution, 400, 1)),
		}
		for name, b := range files {
			h := probe(t, b)
			w, _ := h.Oriented()
			if want := int64(map[bool]int{false: 96, true: 64}[o >= 5]); h.Orientation != int(o) || w != want || h.PPIX != 400 {
				t.Errorf("%s: orientation %d, width %d, %g ppi; want %d, %d, 400", name, h.Orientation, w, h.PPIX, o, want)
			}
		}
	}
}

func TestProbeSaysWhenResolutionsDiffer(t *testing.T) {
	exif := buildTIFF(binary.LittleEndian, nil, 0, []entry{rational(tagXResolution, 600, 1), rational(tagYResolution, 600, 1)})
	jfif := segment(mAPP0, []byte("JFIF\x00\x01\x01\x01\x00\x48\x00\x48\x00\x00"))
	b := fixture(t, "cmyk.jpg") // has neither
	b = withSegment(b, mAPP1, append([]byte(exifPrefix), exif...))
	b = append(append([]byte{0xff, mSOI}, jfif...), b[2:]...)
	if h := probe(t, b); h.PPIX != 600 || len(h.Warnings) != 1 {
		t.Errorf("%g ppi, warnings %q; want Exif's 600 and one warning", h.PPIX, h.Warnings)
	}
}

func TestMislabelled(t *testing.T) {
	h := probe(t, fixture(t, "rgb-lzw.tif"))
	for name, agree := range map[string]bool{
		"plate.tif": true, "PLATE.TIFF": true, `scans\plate.Tif`: true, "plate.jpg": false, "plate": false, "plate.tif.txt": false,
	} {
		if got := h.Mislabelled(name); (got == "") != agree {
			t.Errorf("%s: %q, agreement wanted: %v", name, got, agree)
		}
	}
	const want = `"plate.jpg" is named as JPG but its content is TIF: rename it to end in .tif`
	if got := h.Mislabelled("plate.jpg"); got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
}

func TestProbeRefusals(t *testing.T) {
	tests := []struct {
		name    string
		content []byte
		kind    error
	}{
		{"empty", nil, ErrEmpty},
		{"text", []byte("Epinephelus marginatus"), ErrUnknownFormat},
		{"film", []byte("\x00\x00\x00\x18ftypisom\x00\x00\x00\x00"), ErrUnknownFormat},
		{"zeros", make([]byte, 4096), ErrUnknownFormat},
		{"magic alone, JPEG", []byte("\xff\xd8\xff"), ErrTruncated},
		{"magic alone, PNG", []byte(pngMagic), ErrTruncated},
		{"magic alone, TIFF", []byte("II*\x00"), ErrTruncated},
		{"magic alone, BigTIFF", []byte("II+\x00\x08\x00\x00\x00"), ErrTruncated},
		{"magic alone, GIF", []byte("GIF89a"), ErrTruncated},
		{"magic alone, WebP", []byte("RIFF\x00\x01\x00\x00WEBP"), ErrTruncated},
		{"JPEG of no rows", append([]byte("\xff\xd8"), segment(0xc0, []byte{8, 0, 0, 0, 9, 1, 1, 0x11, 0})...), ErrMalformed},
	}
	for _, tt := range tests {
		_, err := Probe(t.Context(), bytes.NewReader(tt.content), int64(len(tt.content)))
		var f *Fault
		if !errors.Is(err, tt.kind) || !errors.As(err, &f) || f.Wrong == "" || f.Right == "" {
			t.Errorf("%s: %v, want %v saying what is wrong and right", tt.name, err, tt.kind)
		}
	}
}

// A file cut anywhere either still has a whole header, or is refused as cut short; which formats notice missing pixels is in the table.
func TestProbeOfCutFiles(t *testing.T) {
	noticed := map[string]bool{
		"baseline.jpg": false, "interlaced.png": true, "rgb-lzw.tif": true, "bigtiff.tif": true, "rgb-tiled.tif": true, "lossless.webp": true,
	}
	for file, all := range noticed {
		b := fixture(t, file)
		for n := 1; n < len(b); n += 1 + n/40 {
			h, err := Probe(t.Context(), bytes.NewReader(b[:n]), int64(n))
			switch {
			case err == nil && all:
				t.Errorf("%s cut to %d of %d bytes passes", file, n, len(b))
			case err == nil && len(h.Warnings) == 0:
				t.Errorf("%s cut to %d of %d bytes passes without a warning", file, n, len(b))
			case err != nil && !errors.Is(err, ErrTruncated) && !errors.Is(err, ErrUnknownFormat):
				t.Errorf("%s cut to %d of %d bytes: %v, want ErrTruncated", file, n, len(b), err)
			}
		}
	}
}
