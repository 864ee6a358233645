package imaging

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func metadata(t testing.TB, b []byte) Embedded {
	t.Helper()
	e, err := Metadata(t.Context(), bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatalf("Metadata: %v", err)
	}
	return e
}

// written has exiftool write tags into a file. The name's ending tells exiftool nothing that the content doesn't.
func written(t testing.TB, b []byte, tags ...string) []byte {
	t.Helper()
	args := append([]string{"-q", "-m", "-codedcharacterset=utf8", "-overwrite_original"}, tags...)
	return convert(t, b, "in", "exiftool", append(args, "in")...)
}

// everything are exiftool's arguments for each field of Embedded, without disagreement.
func everything() []string {
	return []string{
		"-XMP-dc:Title=Bream, left side", "-IPTC:ObjectName=Bream, left side",
		"-XMP-dc:Description=Ink and wash; Körper", "-IPTC:Caption-Abstract=Ink and wash; Körper", "-IFD0:ImageDescription=Ink and wash; Körper",
		"-XMP-dc:Creator=Ilse Brandt", "-XMP-dc:Creator=Otto Lund", "-IPTC:By-line=Ilse Brandt", "-IPTC:By-line=Otto Lund", "-IFD0:Artist=Ilse Brandt; Otto Lund",
		"-XMP-photoshop:Credit=Studio Tidewrack", "-IPTC:Credit=Studio Tidewrack",
		"-XMP-dc:Rights=© 2024 Studio Tidewrack", "-IPTC:CopyrightNotice=© 2024 Studio Tidewrack", "-IFD0:Copyright=© 2024 Studio Tidewrack",
		"-XMP-xmpRights:UsageTerms=One edition only", "-XMP-xmpRights:WebStatement=https://example.org/terms", "-XMP-xmpRights:Marked=True",
		"-XMP-dc:Subject=bream", "-XMP-dc:Subject=lateral view", "-IPTC:Keywords=lateral view", "-IPTC:Keywords=bream",
		"-XMP-photoshop:DateCreated=2024:05:01 10:11:12+02:00", "-IPTC:DateCreated=2024:05:01", "-IPTC:TimeCreated=10:11:12+02:00",
		"-ExifIFD:DateTimeOriginal=2024:05:01 10:11:12", "-ExifIFD:OffsetTimeOriginal=+02:00",
		"-XMP-xmp:CreatorTool=Inkpot 3", "-IFD0:Software=Inkpot 3", "-IPTC:OriginatingProgram=Inkpot",
		"-XMP-dc:Identifier=grant-0042", "-XMP-iptcExt:DigitalSourceType=http://cv.iptc.org/newscodes/digitalsourcetype/minorHumanEdits",
		"-XMP-plus:Licensor+={LicensorName=Studio Tidewrack,LicensorURL=https://example.org,LicensorEmail=rights@example.org,LicensorID=T-1}",
		"-XMP-plus:Licensor+={LicensorName=Second Desk}",
		"-GPS:GPSLatitude=54.1", "-GPS:GPSLatitudeRef=N", "-GPS:GPSLongitude=7.9", "-GPS:GPSLongitudeRef=E", "-IPTC:City=Havneby",
	}
}

func wantEverything() Embedded {
	return Embedded{
		Title: "Bream, left side", Description: "Ink and wash; Körper", Creators: []string{"Ilse Brandt", "Otto Lund"}, Credit: "Studio Tidewrack",
		CopyrightNotice: "© 2024 Studio Tidewrack", UsageTerms: "One edition only", WebStatement: "https://example.org/terms",
		Keywords: []string{"bream", "lateral view"}, DateCreated: "2024-05-01T10:11:12+02:00", Software: "Inkpot 3",
		Marked: new(true), Identifier: "grant-0042", SourceType: "http://cv.iptc.org/newscodes/digitalsourcetype/minorHumanEdits",
		Licensors: []Licensor{{"Studio Tidewrack", "T-1", "https://example.org", "rights@example.org"}, {Name: "Second Desk"}},
		GPS:       true, Place: true, Origins: []Origin{FromXMP, FromIIM, FromExif},
	}
}

func TestMetadataOfEveryContainer(t *testing.T) {
	t.Parallel()
	for file, change := range map[string]func(*Embedded){
		"baseline.jpg": nil,
		"rgb-lzw.tif":  nil,
		// exiftool keeps IIM in PNG as text in a form of another program, which isn't read.
		"interlaced.png": func(e *Embedded) {
			e.Origins, e.Place = []Origin{FromXMP, FromExif}, false
			e.Warnings = []string{`metadata in the PNG text "Raw profile type iptc" isn't read`}
		},
		"lossless.webp": func(e *Embedded) { e.Origins, e.Place = []Origin{FromXMP, FromExif}, false },
	} {
		want := wantEverything()
		if change != nil {
			change(&want)
		}
		tags := everything()
		if strings.HasSuffix(file, ".webp") { // exiftool 12.57 writes no IIM there
			tags = slices.DeleteFunc(tags, func(s string) bool { return strings.HasPrefix(s, "-IPTC:") })
		}
		if d := cmp.Diff(want, metadata(t, written(t, fixture(t, file), tags...))); d != "" {
			t.Errorf("%s (-want +got):\n%s", file, d)
		}
	}
}

// BigTIFF is written by libvips, since exiftool doesn't; it carries XMP over whole.
func TestMetadataOfBigTIFF(t *testing.T) {
	t.Parallel()
	tags := slices.DeleteFunc(everything(), func(s string) bool { return !strings.HasPrefix(s, "-XMP") })
	b := convert(t, written(t, fixture(t, "rgb-deflate.tif"), tags...), "out.tif", "vips", "tiffsave", "in", "out.tif", "--bigtiff")
	want := wantEverything()
	want.Origins, want.GPS, want.Place = []Origin{FromXMP}, false, false
	if !probe(t, b).BigTIFF {
		t.Fatal("not a BigTIFF")
	}
	if d := cmp.Diff(want, metadata(t, b)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// exiftool reads the same files independently: what it finds under each group is what is found here.
func TestMetadataAsExiftoolReadsIt(t *testing.T) {
	t.Parallel()
	b := written(t, fixture(t, "baseline.jpg"),
		"-XMP-dc:Title-de=Brasse", "-XMP-dc:Title=Bream", "-XMP-dc:Creator=A; B", "-XMP-dc:Rights=line one\nline two", "-XMP-dc:Subject=<&>\"'",
		"-XMP-photoshop:DateCreated=2023", "-XMP-xmp:CreatorTool=Ħ ✓ 𝄞", "-XMP-xmpRights:Marked=False")
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "in.jpg"), b, 0o600); err != nil {
		t.Fatal(err)
	}
	var read []map[string]any
	if err := json.Unmarshal(tool(t, dir, "exiftool", "-json", "-G1", "-XMP:all", "in.jpg"), &read); err != nil {
		t.Fatal(err)
	}
	e := metadata(t, b)
	for tag, got := range map[string]string{
		"XMP-dc:Title": e.Title, "XMP-dc:Creator": e.Creators[0], "XMP-dc:Rights": e.CopyrightNotice, "XMP-dc:Subject": e.Keywords[0],
		"XMP-photoshop:DateCreated": e.DateCreated, "XMP-xmp:CreatorTool": e.Software, "XMP-xmpRights:Marked": fmt.Sprint(*e.Marked),
	} {
		want := strings.ToLower(fmt.Sprint(read[0][tag]))
		if strings.ToLower(got) != want {
			t.Errorf("%s: %q, exiftool reads %q", tag, got, want)
		}
	}
}

func TestPrecedence(t *testing.T) {
	t.Parallel()
	conflict := []string{"-XMP-dc:Title=from XMP", "-IPTC:ObjectName=from IIM", "-XMP-dc:Creator=X", "-IPTC:By-line=I", "-IFD0:Artist=E", "-IFD0:Copyright=only Exif"}
	tests := []struct {
		name          string
		more          []string
		title, holder string
		first         Origin
		warnings      int
	}{
		{"no digest", nil, "from XMP", "only Exif", FromXMP, 0},
		{"digest matches", []string{"-Photoshop:IPTCDigest=new"}, "from XMP", "only Exif", FromXMP, 0},
		{"digest is stale", []string{"-Photoshop:IPTCDigest=00112233445566778899aabbccddeeff"}, "from IIM", "only Exif", FromIIM, 1},
	}
	for _, tt := range tests {
		for _, file := range []string{"baseline.jpg", "rgb-lzw.tif"} {
			e := metadata(t, written(t, fixture(t, file), append(slices.Clone(conflict), tt.more...)...))
			if e.Title != tt.title || e.CopyrightNotice != tt.holder || len(e.Warnings) != tt.warnings || e.Origins[0] != tt.first {
				t.Errorf("%s, %s: title %q, notice %q, origins %v, warnings %q", file, tt.name, e.Title, e.CopyrightNotice, e.Origins, e.Warnings)
			}
			if len(e.Disagreements) != 2 || e.Disagreements[0].Field != fieldTitle || e.Disagreements[1].Field != fieldCreators {
				t.Errorf("%s, %s: disagreements %v, want title and creators", file, tt.name, e.Disagreements)
				continue
			}
			if v := e.Disagreements[1].Values; len(v) != 3 || v[0].Origin != tt.first || v[2] != (Statement{FromExif, "E"}) {
				t.Errorf("%s, %s: creators stated as %v", file, tt.name, v)
			}
		}
	}
}

func TestAgreement(t *testing.T) {
	long := strings.Repeat("a long line of credit ", 20)
	rule := func(name string) fieldRule {
		for _, r := range fieldRules() {
			if r.name == name {
				return r
			}
		}
		t.Fatalf("no rule %q", name)
		return fieldRule{}
	}
	tests := []struct {
		field    string
		xmp, iim []string
		agree    bool
	}{
		{fieldCredit, []string{long}, []string{long[:32]}, true},
		{fieldCredit, []string{long}, []string{long[:20]}, false},
		{fieldCredit, []string{long}, []string{long[:31] + "!"}, false},
		{fieldCopyright, []string{strings.Repeat("©", 100)}, []string{strings.Repeat("©", 63)}, true},
		{fieldDescription, []string{"one\r\ntwo"}, []string{"one\ntwo "}, true},
		{fieldDescription, []string{"one two"}, []string{"one  Two"}, false},
		{fieldKeywords, []string{"a", "b"}, []string{"b", "a"}, true},
		{fieldKeywords, []string{"a", "b"}, []string{"a"}, false},
		{fieldCreators, []string{"a", "b"}, []string{"b", "a"}, false},
		{fieldDate, []string{"2024"}, []string{"2024-05-01"}, true},
		{fieldDate, []string{"2024-05"}, []string{"2024-06-01"}, false},
		{fieldDate, []string{"2024-05-01T10:11:12.5Z"}, []string{"2024-05-01T10:11:12+00:00"}, true},
		{fieldDate, []string{"2024-05-01T10:11:12+02:00"}, []string{"2024-05-01T10:11:12"}, true},
		{fieldDate, []string{"2024-05-01T10:11:12+02:00"}, []string{"2024-05-01T10:11:12-02:00"}, false},
		{fieldDate, []string{"2024-05-01T10:11+02:00"}, []string{"2024-05-01T10:11:12+02:00"}, true},
		{fieldDate, []string{"2024-05-01T10:11:12"}, []string{"2024-05-01T12:00:00"}, false},
	}
	for _, tt := range tests {
		if got := rule(tt.field).agree(tt.xmp, tt.iim, FromXMP, FromIIM); got != tt.agree {
			t.Errorf("%s: XMP %q and IIM %q: agree %v, want %v", tt.field, tt.xmp, tt.iim, got, tt.agree)
		}
		if got := rule(tt.field).agree(tt.iim, tt.xmp, FromIIM, FromXMP); got != tt.agree {
			t.Errorf("%s the other way: agree %v, want %v", tt.field, got, tt.agree)
		}
	}
}

func TestDates(t *testing.T) {
	for _, tt := range []struct{ got, want string }{
		{exifDate("2024:05:01 10:11:12", ""), "2024-05-01T10:11:12"},
		{exifDate("2024:05:01 10:11:12.50", "+02:00"), "2024-05-01T10:11:12+02:00"},
		{exifDate("2024:05:01", ""), "2024-05-01"},
		{exifDate("2024:05:00 00:00:00", ""), "2024-05"},
		{exifDate("2024:00:00 00:00:00", ""), "2024"},
		{exifDate("0000:00:00 00:00:00", ""), ""},
		{exifDate("    :  :     :  :  ", ""), ""},
		{exifDate("yesterday", ""), ""},
		{xmpDate("2021:01:20 15:51:50"), "2021-01-20T15:51:50"},
		{xmpDate("2021-01-20"), "2021-01-20"},
		{iimDate("20240501", "101112+0200"), "2024-05-01T10:11:12+02:00"},
		{iimDate("20240501", "101112"), "2024-05-01T10:11:12"},
		{iimDate("20240501", ""), "2024-05-01"},
		{iimDate("20240500", "101112"), "2024-05"},
		{iimDate("20240000", ""), "2024"},
		{iimDate("00000000", ""), ""},
		{iimDate("2024", ""), ""},
	} {
		if tt.got != tt.want {
			t.Errorf("got %q, want %q", tt.got, tt.want)
		}
	}
}

// iimBlock makes datasets from pairs of number and text in record 2.
func iimBlock(pairs ...any) []byte {
	var b []byte
	for i := 0; i < len(pairs); i += 2 {
		v := pairs[i+1].(string)
		b = append(b, 0x1c, 2, byte(pairs[i].(int)))
		b = append(binary.BigEndian.AppendUint16(b, uint16(len(v))), v...)
	}
	return b
}

func bim(id uint16, content []byte) []byte {
	b := binary.BigEndian.AppendUint16([]byte("8BIM"), id)
	b = binary.BigEndian.AppendUint32(append(b, 0, 0), uint32(len(content)))
	return append(b, append(content, make([]byte, len(content)&1)...)...)
}

func TestIIMBytes(t *testing.T) {
	in := func(block []byte) Embedded {
		return metadata(t, withSegment(fixture(t, "baseline.jpg"), mAPP13, append([]byte(bimPrefix), bim(resourceIIM, block)...)))
	}
	if e := in(iimBlock(80, "Bj\xf8rn", 5, "Br\xc3\xa4ms")); e.Creators[0] != "Bjørn" || e.Title != "Bräms" {
		t.Errorf("undeclared encodings: %q, %q", e.Creators, e.Title)
	}
	declared := append([]byte{0x1c, 1, 90, 0, 3, 0x1b, '%', 'G'}, iimBlock(5, "Br\xc3\xa4ms \xc3")...)
	if e := in(declared); e.Title != "Bräms" {
		t.Errorf("UTF-8 cut inside a character: %q", e.Title)
	}
	cut := iimBlock(5, "whole", 80, "cut short")
	if e := in(cut[:len(cut)-3]); e.Title != "whole" || len(e.Warnings) != 1 {
		t.Errorf("cut block: title %q, warnings %q", e.Title, e.Warnings)
	}
	// A block over several segments.
	long := bim(resourceIIM, iimBlock(5, "title", 120, strings.Repeat("x", 1000)))
	b := withSegment(fixture(t, "baseline.jpg"), mAPP13, append([]byte(bimPrefix), long[500:]...))
	b = withSegment(b, mAPP13, append([]byte(bimPrefix), long[:500]...))
	if e := metadata(t, b); e.Title != "title" || len(e.Description) != 1000 {
		t.Errorf("split block: title %q, %d bytes of description", e.Title, len(e.Description))
	}
}

func TestPNGText(t *testing.T) {
	b := fixture(t, "interlaced.png")
	b = withChunk(b, "tEXt", []byte("Title\x00Bream\xe9"))
	b = withChunk(b, "iTXt", []byte("Author\x00\x00\x00de\x00Autor\x00Ilse Bränd"))
	b = withChunk(b, "tEXt", []byte("Warning\x00ignored"))
	b = withChunk(b, "zTXt", []byte("Copyright\x00\x00no deflate"))
	e := metadata(t, b)
	if e.Title != "Breamé" || !slices.Equal(e.Creators, []string{"Ilse Bränd"}) || len(e.Warnings) != 1 || !slices.Equal(e.Origins, []Origin{FromPNG}) {
		t.Errorf("%+v", e)
	}
	xmp := `<rdf:RDF xmlns:rdf="` + nsRDF + `"><rdf:Description xmlns:dc="` + nsDC + `" dc:title="over text"/></rdf:RDF>`
	packed := convert(t, written(t, b, "-XMP-dc:Title=over text"), "in", "exiftool", "-q", "-overwrite_original", "-api", "Compress=1", "-XMP-dc:Source=x", "in")
	for name, b := range map[string][]byte{"plain": withChunk(b, "iTXt", []byte(xmpKeyword+"\x00\x00\x00\x00\x00"+xmp)), "by exiftool": packed} {
		if e := metadata(t, b); e.Title != "over text" || len(e.Disagreements) != 1 {
			t.Errorf("%s: title %q, disagreements %v", name, e.Title, e.Disagreements)
		}
	}
}

// One broken part doesn't hide the others.
func TestBrokenPartsAreWarnings(t *testing.T) {
	b := fixture(t, "baseline.jpg")
	b = withSegment(b, mAPP13, append([]byte(bimPrefix), bim(resourceIIM, iimBlock(5, "still there"))...))
	b = withSegment(b, mAPP1, append([]byte(xmpPrefix), "<!DOCTYPE x><x/>"...))
	b = withSegment(b, mAPP1, append([]byte(exifPrefix), "II*\x00\xff\xff\xff\x7f"...))
	e := metadata(t, b)
	if e.Title != "still there" || len(e.Warnings) != 2 {
		t.Errorf("title %q, warnings %q", e.Title, e.Warnings)
	}
	// Missing pixels don't either.
	e, err := Metadata(t.Context(), bytes.NewReader(b[:len(b)-1500]), int64(len(b)-1500))
	if e.Title != "still there" || err != nil && !errors.Is(err, ErrTruncated) {
		t.Errorf("cut short: title %q, %v", e.Title, err)
	}
}
