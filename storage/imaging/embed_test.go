package imaging

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// delivered are the texts of a delivered copy.
func delivered() Embedded {
	return Embedded{
		Title: "Bream, left side", Description: "Ink & wash <study>; Körper", Creators: []string{"Ilse Brandt", "Otto Lund"}, Credit: "Studio Tidewrack / I. Brandt",
		CopyrightNotice: "© 2024 Studio Tidewrack", UsageTerms: "One edition, print only", WebStatement: "https://example.org/terms?a=1&b=2",
		Keywords: []string{"bream", "lateral view"}, DateCreated: "2024-05-01T10:11:12+02:00", Software: "Inkpot 3", Marked: new(true),
		Licensors: []Licensor{{"Studio Tidewrack", "T-1", "https://example.org", "rights@example.org"}}, Identifier: "grants/0042",
		SourceType: "http://cv.iptc.org/newscodes/digitalsourcetype/minorHumanEdits",
	}
}

func embed(t testing.TB, b []byte, e Embedded) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := Embed(t.Context(), &out, bytes.NewReader(b), int64(len(b)), e); err != nil {
		t.Fatalf("Embed: %v", err)
	}
	return out.Bytes()
}

// withSecrets has exiftool write texts and coordinates that must not survive.
func withSecrets(t testing.TB, b []byte) []byte {
	return written(t, b, "-GPS:GPSLatitude=54.1", "-GPS:GPSLatitudeRef=N", "-ExifIFD:SerialNumber=secret-serial", "-IFD0:Make=secret-make",
		"-IFD0:Artist=secret-artist", "-XMP-photoshop:City=secret-city", "-XMP-exif:GPSLatitude=54.1", "-XMP-dc:Source=secret-source", "-XMP-photoshop:History=secret-history",
		"-Comment=secret-comment", "-XMP-iptcExt:LocationShown={City=secret-shown}")
}

func TestEmbed(t *testing.T) {
	t.Parallel()
	for _, file := range []string{
		"progressive.jpg", "cmyk.jpg", "interlaced.png", "rgb-tiled.tif", "bilevel-g4.tif", "p3.tif", "jpeg-in-tiff.tif", "bigtiff.tif",
	} {
		original := fixture(t, file)
		if file != "bigtiff.tif" { // which exiftool doesn't write
			original = withSecrets(t, original)
		}
		got := embed(t, original, delivered())
		if bytes.Contains(got, []byte("secret")) {
			t.Errorf("%s: a text of the original is still in the bytes", file)
		}
		want := delivered()
		want.Origins = []Origin{FromXMP, FromIIM, FromExif}
		if strings.HasSuffix(file, ".png") {
			want.Origins = []Origin{FromXMP, FromExif}
		}
		if d := cmp.Diff(want, metadata(t, got)); d != "" {
			t.Errorf("%s: metadata (-want +got):\n%s", file, d)
		}
		before, after := probe(t, original), probe(t, got)
		if d := cmp.Diff(before, after, cmpopts.IgnoreUnexported(Header{}), cmpopts.IgnoreFields(Header{}, "Warnings", "ResolutionUnit")); d != "" {
			t.Errorf("%s: header (-original +copy):\n%s", file, d)
		}
		samePixels(t, file, original, got)
	}
}

// samePixels has libvips decode both and compare every sample.
func samePixels(t *testing.T, name string, a, b []byte) {
	t.Helper()
	dir := t.TempDir()
	for file, content := range map[string][]byte{"a": a, "b": b} {
		if err := os.WriteFile(filepath.Join(dir, file), content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	raw := func(file string) []byte {
		tool(t, dir, "vips", "rawsave", file, file+".raw")
		pixels, err := os.ReadFile(filepath.Join(dir, file+".raw"))
		if err != nil || len(pixels) == 0 {
			t.Fatalf("%s: %d bytes of pixels, %v", name, len(pixels), err)
		}
		return pixels
	}
	if !bytes.Equal(raw("a"), raw("b")) {
		t.Errorf("%s: the pixels of the copy differ", name)
	}
}

// exiftool, which knows nothing of this program, finds each text in each place, and no complaint.
func TestEmbedAsExiftoolReadsIt(t *testing.T) {
	t.Parallel()
	e := delivered()
	want := map[string]string{
		"XMP-dc:Creator": "[Ilse Brandt Otto Lund]", "XMP-photoshop:Credit": e.Credit, "XMP-dc:Rights": e.CopyrightNotice, "XMP-xmpRights:UsageTerms": e.UsageTerms,
		"XMP-xmpRights:WebStatement": e.WebStatement, "XMP-xmpRights:Marked": "true", "XMP-dc:Identifier": e.Identifier, "XMP-dc:Title": e.Title,
		"XMP-dc:Description": e.Description, "XMP-plus:LicensorName": "Studio Tidewrack", "XMP-plus:LicensorURL": "https://example.org",
		"XMP-dc:Subject": "[bream lateral view]", "XMP-photoshop:DateCreated": "2024:05:01 10:11:12+02:00",
		"IFD0:Artist": "Ilse Brandt; Otto Lund", "IFD0:Copyright": e.CopyrightNotice, "IFD0:ImageDescription": e.Description,
	}
	iim := map[string]string{
		"IPTC:By-line": "[Ilse Brandt Otto Lund]", "IPTC:Credit": e.Credit, "IPTC:CopyrightNotice": e.CopyrightNotice, "IPTC:ObjectName": e.Title,
		"IPTC:Caption-Abstract": e.Description, "IPTC:DateCreated": "2024:05:01", "IPTC:TimeCreated": "10:11:12+02:00",
	}
	for _, file := range []string{"baseline.jpg", "interlaced.png", "rgb-lzw.tif", "bigtiff.tif"} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "in"), embed(t, withGPS(t, file), e), 0o600); err != nil {
			t.Fatal(err)
		}
		var read []map[string]any
		if err := json.Unmarshal(tool(t, dir, "exiftool", "-json", "-G1", "-validate", "-warning", "-error", "-all", "in"), &read); err != nil {
			t.Fatal(err)
		}
		for tag, v := range read[0] {
			if strings.HasPrefix(tag, "GPS") || strings.Contains(tag, "Error") {
				t.Errorf("%s: %s is %v", file, tag, v)
			}
		}
		for _, fields := range []map[string]string{want, iim} {
			for tag, v := range fields {
				if got := fmt.Sprint(read[0][tag]); got != v && !(strings.HasPrefix(tag, "IPTC") && strings.HasSuffix(file, ".png")) {
					t.Errorf("%s: exiftool reads %s as %q, want %q", file, tag, got, v)
				}
			}
		}
	}
}

func withGPS(t testing.TB, file string) []byte {
	if file == "bigtiff.tif" {
		return fixture(t, file)
	}
	return withSecrets(t, fixture(t, file))
}

func TestEmbedKeepsPagesAndByteOrder(t *testing.T) {
	m := image.NewGray(image.Rect(0, 0, 6, 4))
	for i := range m.Pix {
		m.Pix[i] = uint8(i)
	}
	dir := func() []entry {
		return []entry{long(tagWidth, 6), long(tagHeight, 4), short(tagBits, 8), short(tagPhotometric, 1), long(tagStripOffsets, 8, 20), short(tagStripCounts, 12, 12),
			long(tagRowsPerStrip, 2), ascii(tagArtist, "secret")}
	}
	b := buildTIFF(binary.BigEndian, m.Pix, 0, dir(), dir())
	got := embed(t, b, delivered())
	if h := probe(t, got); h.Pages != 2 || string(got[:2]) != "MM" {
		t.Errorf("%d pages, byte order %s", h.Pages, got[:2])
	}
	if bytes.Contains(got, []byte("secret")) || bytes.Count(got, m.Pix) != 2 {
		t.Errorf("%d copies of the pixels, want 2", bytes.Count(got, m.Pix))
	}
	samePixels(t, "two pages", b, got)
}

func TestEmbedDropsWhatFollowsTheEnd(t *testing.T) {
	for _, file := range []string{"progressive.jpg", "interlaced.png", "rgb-lzw.tif"} {
		b := fixture(t, file)
		got := embed(t, append(slices.Clone(b), "secret film"...), Embedded{})
		if bytes.Contains(got, []byte("secret")) {
			t.Errorf("%s: bytes behind the end are in the copy", file)
		}
		if e := metadata(t, got); e.Title != "" || e.Creators != nil || e.Marked != nil {
			t.Errorf("%s: empty texts became %+v", file, e)
		}
	}
}

func TestEmbedRefusals(t *testing.T) {
	jpeg := fixture(t, "baseline.jpg")
	long := Embedded{Description: strings.Repeat("long ", 20_000)}
	tests := map[string]struct {
		file []byte
		e    Embedded
		kind error
	}{
		"WebP":        {fixture(t, "lossy.webp"), Embedded{}, ErrUnsupported},
		"long texts":  {jpeg, long, ErrTooBig},
		"cut short":   {jpeg[:len(jpeg)-40], Embedded{}, ErrTruncated},
		"nothing":     {nil, Embedded{}, ErrEmpty},
		"old style":   {grayTIFF(image.NewGray(image.Rect(0, 0, 4, 4)), short(tagCompression, oldStyle)), Embedded{}, ErrUnsupported},
		"overlapping": {grayTIFF(image.NewGray(image.Rect(0, 0, 64, 64)), long2(tagStripOffsets, 8, 40), long2(tagStripCounts, 4000, 40)), Embedded{}, ErrMalformed},
	}
	for name, tt := range tests {
		if err := Embed(t.Context(), &bytes.Buffer{}, bytes.NewReader(tt.file), int64(len(tt.file)), tt.e); !errors.Is(err, tt.kind) {
			t.Errorf("%s: %v, want %v", name, err, tt.kind)
		}
	}
}

// long2 is a field of many equal values.
func long2(tag uint16, v uint64, n int) entry {
	return long(tag, slices.Repeat([]uint64{v}, n)...)
}

func TestWritableText(t *testing.T) {
	for in, want := range map[string]string{
		" a\tb\nc ": "a\tb\nc", "a\x00b\x1bc": "abc", "a\xffb": "ab", "a\r\nb": "a\n\nb", "\uffff": "", "Körper ✓ 𝄞": "Körper ✓ 𝄞",
	} {
		if got := writableText(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestIIMClock(t *testing.T) {
	for in, want := range map[string][2]string{
		"2024-05-01T10:11:12+02:00": {"20240501", "101112+0200"},
		"2024-05-01T10:11:12Z":      {"20240501", "101112+0000"},
		"2024-05-01T10:11:12":       {"20240501", ""},
		"2024-05-01":                {"20240501", ""},
		"2024-05":                   {"20240500", ""},
		"2024":                      {"20240000", ""},
		"spring 2024":               {"", ""},
		"":                          {"", ""},
	} {
		if day, clock := iimClock(in); day != want[0] || clock != want[1] {
			t.Errorf("%q: %q %q, want %q", in, day, clock, want)
		}
	}
}

// Whatever the file and the text, a copy that is made has the same size and reads as what was asked.
func FuzzEmbed(f *testing.F) {
	for _, file := range []string{"progressive.jpg", "interlaced.png", "rgb-tiled.tif", "bigtiff.tif"} {
		b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "images", file))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b, "© Studio <Tidewrack> & Co")
	}
	f.Add(jpegBomb(8, 8), "")
	f.Fuzz(func(t *testing.T, b []byte, notice string) {
		var out bytes.Buffer
		err := Embed(t.Context(), &out, bytes.NewReader(b), int64(len(b)), Embedded{CopyrightNotice: notice})
		if err != nil {
			if Reason(err) == "" {
				t.Fatalf("no fault: %v", err)
			}
			return
		}
		before := probe(t, b)
		after, err := Probe(t.Context(), bytes.NewReader(out.Bytes()), int64(out.Len()))
		if err != nil || after.Width != before.Width || after.Height != before.Height || after.Orientation != before.Orientation {
			t.Fatalf("copy reads as %+v, %v; original as %+v", after, err, before)
		}
		e := metadata(t, out.Bytes())
		if e.GPS || e.Place || !sameText(e.CopyrightNotice, writableText(notice)) {
			t.Fatalf("notice %q became %q", notice, e.CopyrightNotice)
		}
	})
}
