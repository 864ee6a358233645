package imaging

import (
	"bytes"
	"image"
	"os"
	"path/filepath"
	"testing"
)

// seeds gives all fixtures and the structures that tests build.
func seeds(f *testing.F) {
	f.Helper()
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "images", "*.*"))
	if err != nil || len(files) == 0 {
		f.Fatal("no fixtures", err)
	}
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add(grayTIFF(image.NewGray(image.Rect(0, 0, 8, 8)), short(tagOrientation, 6), ascii(tagArtist, "Ilse")))
	f.Add(jpegBomb(65000, 65000))
	f.Add(pngBomb(60000, 60000, 8, 0))
	jpeg := jpegBomb(8, 8)
	f.Add(withSegment(jpeg, mAPP13, append([]byte(bimPrefix), bim(resourceIIM, iimBlock(5, "title", 80, "Ilse", 55, "20240501"))...)))
	f.Add(withSegment(jpeg, mAPP1, []byte(xmpPrefix+packet(`<rdf:Description dc:title="T"/>`))))
	f.Add([]byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"))
}

// Whatever the bytes, Probe answers with a header whose numbers make sense or with a fault that says what would be right.
func FuzzProbe(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		h, err := Probe(t.Context(), bytes.NewReader(b), int64(len(b)))
		if err != nil && Reason(err) == "" {
			t.Fatalf("no fault: %v", err)
		}
		if h.DecodeBytes() < 0 || h.Pixels() < 0 || h.streamBytes() < 0 || h.PPIX < 0 || h.Orientation < 1 || h.Orientation > 8 {
			t.Fatalf("%+v", h)
		}
		for _, vips := range []bool{false, true} {
			_, refusal := choose(h, DefaultLimits(), vips)
			if refusal == nil && err == nil && (h.Pixels() > 2e9 || h.Pixels() == 0) {
				t.Fatalf("%d by %d pixels would be decoded", h.Width, h.Height)
			}
		}
		h.Mislabelled("plate.tif")
	})
}

// Metadata reads or refuses; texts are never longer than the file could hold.
func FuzzMetadata(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		e, err := Metadata(t.Context(), bytes.NewReader(b), int64(len(b)))
		if err != nil && Reason(err) == "" {
			t.Fatalf("no fault: %v", err)
		}
		for _, d := range e.Disagreements {
			if len(d.Values) < 2 {
				t.Fatalf("disagreement of one: %+v", d)
			}
		}
	})
}

// parseXMP refuses what it must and gives only what the packet holds.
func FuzzXMP(f *testing.F) {
	f.Add(packet(`<rdf:Description dc:title="T"><dc:creator><rdf:Seq><rdf:li>A</rdf:li></rdf:Seq></dc:creator></rdf:Description>`))
	f.Add(packet(`<rdf:Description><plus:Licensor><rdf:Seq><rdf:li rdf:parseType="Resource"><plus:LicensorName>N</plus:LicensorName></rdf:li></rdf:Seq></plus:Licensor></rdf:Description>`))
	f.Add(`<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>`)
	f.Add("\xfe\xff\x00<\x00a\x00/\x00>")
	f.Fuzz(func(t *testing.T, s string) {
		p, err := parseXMP([]byte(s))
		if err != nil {
			if Reason(err) == "" {
				t.Fatalf("no fault: %v", err)
			}
			return
		}
		for name, v := range p {
			if len(v.one()) > 4*len(s) {
				t.Fatalf("%v grew to %d bytes from %d", name, len(v.one()), len(s))
			}
		}
	})
}
