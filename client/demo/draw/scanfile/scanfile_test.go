package scanfile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/bep/imagemeta"
	"golang.org/x/image/tiff"

	"platarium/client/demo/draw"
)

func sample(channels int) *draw.Raster {
	const w, h = 203, 117
	r := &draw.Raster{W: w, H: h, Channels: channels, PPI: 600}
	for i := range w * h * channels {
		r.Pix = append(r.Pix, uint16(i*i*7919+i*131))
	}
	return r
}

func full() Meta {
	return Meta{
		Title: "Perca fluviatilis, left lateral", Description: "Outline & tone of <one> perch", Creator: "Maren Oltedal", Copyright: "© 2021 Studio Ebbvik",
		Credit: "© Maren Oltedal / Studio Ebbvik; specimen SE 21-04", Usage: "By licence only.", WebStatement: "http://rightsstatements.org/vocab/InC/1.0/",
		Keywords: []string{"Percidae", "European perch"}, Software: "bench", Created: time.Date(2021, 6, 5, 0, 0, 0, 0, time.UTC),
	}
}

func TestTIFFDecodes(t *testing.T) {
	for _, c := range []struct {
		channels int
		o        TIFFOptions
	}{{1, TIFFOptions{1, false}}, {1, TIFFOptions{1, true}}, {1, TIFFOptions{8, false}}, {1, TIFFOptions{8, true}}, {1, TIFFOptions{16, true}},
		{1, TIFFOptions{16, false}}, {3, TIFFOptions{8, false}}, {3, TIFFOptions{8, true}}, {3, TIFFOptions{16, false}}, {3, TIFFOptions{16, true}}} {
		t.Run(fmt.Sprintf("%d channels %d bits deflate %v", c.channels, c.o.Bits, c.o.Deflate), func(t *testing.T) {
			r := sample(c.channels)
			var a, b bytes.Buffer
			if err := errors.Join(TIFF(&a, r, full(), c.o), TIFF(&b, r, full(), c.o)); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(a.Bytes(), b.Bytes()) {
				t.Error("two runs differ")
			}
			img, err := tiff.Decode(bytes.NewReader(a.Bytes()))
			if err != nil {
				t.Fatal(err)
			}
			same(t, r, img, c.o.Bits)
			checkTags(t, a.Bytes(), imagemeta.TIFF)
		})
	}
}

func TestPNGDecodes(t *testing.T) {
	for _, c := range []struct{ channels, bits int }{{1, 1}, {1, 8}, {1, 16}, {3, 8}, {3, 16}} {
		r := sample(c.channels)
		var a, b bytes.Buffer
		if err := errors.Join(PNG(&a, r, full(), c.bits), PNG(&b, r, full(), c.bits)); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Errorf("%+v: two runs differ", c)
		}
		img, err := png.Decode(bytes.NewReader(a.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		same(t, r, img, c.bits)
		if depth := int(a.Bytes()[24]); depth != c.bits {
			t.Errorf("%+v: bit depth %d", c, depth)
		}
		i := bytes.Index(a.Bytes(), []byte("pHYs"))
		if i < 0 || binary.BigEndian.Uint32(a.Bytes()[i+4:]) != 23622 || a.Bytes()[i+12] != 1 {
			t.Errorf("%+v: no pHYs of 600 ppi", c)
		}
		for _, want := range []string{"XML:com.adobe.xmp", "© 2021 Studio Ebbvik", "Outline &amp; tone of &lt;one&gt; perch"} {
			if !bytes.Contains(a.Bytes(), []byte(want)) {
				t.Errorf("%+v: no %q", c, want)
			}
		}
	}
}

func TestJPEGDecodes(t *testing.T) {
	for _, channels := range []int{1, 3} {
		r := sample(channels)
		var a, b bytes.Buffer
		if err := errors.Join(JPEG(&a, r, full(), 90), JPEG(&b, r, full(), 90)); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Error("two runs differ")
		}
		img, err := jpeg.Decode(bytes.NewReader(a.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		if img.Bounds() != r.Bounds() {
			t.Errorf("bounds %v, want %v", img.Bounds(), r.Bounds())
		}
		// JFIF follows the start marker: unit 1 is inches.
		if j := a.Bytes(); string(j[6:10]) != "JFIF" || j[13] != 1 || binary.BigEndian.Uint16(j[14:]) != 600 {
			t.Error("no JFIF density of 600 ppi")
		}
		checkTags(t, a.Bytes(), imagemeta.JPEG)
	}
}

// same compares samples at the file's depth.
func same(t *testing.T, r *draw.Raster, img image.Image, bits int) {
	t.Helper()
	if img.Bounds() != r.Bounds() {
		t.Fatalf("bounds %v, want %v", img.Bounds(), r.Bounds())
	}
	for y := range r.H {
		for x := range r.W {
			cr, cg, cb, _ := img.At(x, y).RGBA()
			got := []uint32{cr, cg, cb}
			for c := range 3 {
				want := r.Pix[(y*r.W+x)*r.Channels+min(c, r.Channels-1)]
				switch bits {
				case 1:
					want = map[bool]uint16{true: 0xffff, false: 0}[want >= threshold]
				case 8:
					want = want >> 8 * 257
				}
				if got[c] != uint32(want) {
					t.Fatalf("pixel %d,%d channel %d: %04x, want %04x", x, y, c, got[c], want)
				}
			}
		}
	}
}

// checkTags reads the metadata back with a reader that shares no code with the
// writers.
func checkTags(t *testing.T, b []byte, format imagemeta.ImageFormat) {
	t.Helper()
	got := map[string]string{}
	_, err := imagemeta.Decode(imagemeta.Options{R: bytes.NewReader(b), ImageFormat: format, Sources: imagemeta.EXIF | imagemeta.IPTC | imagemeta.XMP,
		ShouldHandleTag: func(imagemeta.TagInfo) bool { return true },
		HandleTag: func(i imagemeta.TagInfo) error {
			got[fmt.Sprintf("%v %s", i.Source, i.Tag)] = fmt.Sprint(i.Value)
			return nil
		}, Warnf: func(f string, a ...any) { t.Logf(f, a...) }})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"EXIF Artist": "Maren Oltedal", "EXIF XResolution": "600", "EXIF ResolutionUnit": "2", "EXIF ImageDescription": "Outline & tone of <one> perch",
		"XMP Credit": "© Maren Oltedal / Studio Ebbvik; specimen SE 21-04", "XMP Creator": "Maren Oltedal", "XMP WebStatement": "http://rightsstatements.org/vocab/InC/1.0/",
		"IPTC By-line": "Maren Oltedal", "IPTC CopyrightNotice": "© 2021 Studio Ebbvik", "IPTC ObjectName": "Perca fluviatilis, left lateral"}
	for k, v := range want {
		if !strings.Contains(got[k], v) {
			t.Errorf("%s is %q, want %q", k, got[k], v)
		}
	}
}

func TestRefusals(t *testing.T) {
	broken := sample(1)
	broken.Pix = broken.Pix[:10]
	unscaled := sample(1)
	unscaled.PPI = 0
	for name, err := range map[string]error{
		"bilevel color": TIFF(&bytes.Buffer{}, sample(3), Meta{}, TIFFOptions{Bits: 1}),
		"12 bits":       PNG(&bytes.Buffer{}, sample(1), Meta{}, 12),
		"too few":       JPEG(&bytes.Buffer{}, broken, Meta{}, 90),
		"no resolution": TIFF(&bytes.Buffer{}, unscaled, Meta{}, TIFFOptions{Bits: 8}),
	} {
		if !errors.Is(err, ErrFormat) {
			t.Errorf("%s: %v, want ErrFormat", name, err)
		}
	}
}

func FuzzMetadataText(f *testing.F) {
	f.Add("Перка & <é>", 5)
	f.Add(strings.Repeat("ö", 40), 32)
	f.Add("\x00\xff", 1)
	f.Fuzz(func(t *testing.T, s string, n int) {
		n = min(max(n, 0), 200)
		c := cut(s, n)
		if len(c) > n || !strings.HasPrefix(s, c) || (utf8.ValidString(s) && !utf8.ValidString(c)) {
			t.Errorf("cut(%q, %d) = %q", s, n, c)
		}
		m := Meta{Title: s, Creator: s, Keywords: []string{s}}
		var b bytes.Buffer
		if err := PNG(&b, sample(1), m, 8); err != nil {
			t.Fatal(err)
		}
		if _, err := png.Decode(&b); err != nil {
			t.Errorf("PNG with title %q: %v", s, err)
		}
	})
}
