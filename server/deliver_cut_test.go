package server

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"strings"
	"testing"
	"time"

	"golang.org/x/image/tiff"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// deepScan is a TIFF of 16 bits a channel whose values need all of them.
func deepScan(t *testing.T) []byte {
	t.Helper()
	img := image.NewRGBA64(image.Rect(0, 0, 600, 300))
	for y := range 300 {
		for x := range 600 {
			img.SetRGBA64(x, y, color.RGBA64{R: uint16(20000 + 7*x), G: uint16(30000 + 11*y), B: uint16(40000 + 3*(x+y)), A: 65535})
		}
	}
	var b bytes.Buffer
	if err := tiff.Encode(&b, img, &tiff.Options{Compression: tiff.Deflate, Predictor: true}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// sensitivePlate is a plate of a protected animal, whose place stands in the specimen and in the scan.
func (r *running) sensitivePlate(t *testing.T, id, sum string) string {
	t.Helper()
	jar := ok[*pb.Specimen](t)(r.owner.Archive.CreateSpecimen(t.Context(), &pb.CreateSpecimenRequest{Specimen: &pb.Specimen{
		CatalogNumber: "LM 1902.4", Locality: "Hidden Bay, Seeufer", Sensitivity: 1,
	}})).GetName()
	return r.picture(t, id, func(p *pb.Picture) {
		p.Original, p.Creators, p.RightsHolder, p.Created, p.Specimen = &pb.Original{Sha256: sum}, []string{"Ida Moor"}, "Studio Moor", "2024-05", jar
	})
}

// TestDeliveriesAsTheyAreWanted asks for a deep TIFF in every size and format, and reads what comes with a program that knows nothing of this one.
func TestDeliveriesAsTheyAreWanted(t *testing.T) {
	r := desk(t)
	reed := r.party(t, "reed-press")
	file := secretive(t, deepScan(t), "plate.tif")
	plate := r.sensitivePlate(t, "perch-plate", upload(t, r.owner, file, "plate.tif"))
	req := agreement("book", reed, plate)
	req.Grant.CreditLine = "Ida Moor, Łódź"
	grant := r.grant(t, req).GetName()
	publisher := r.as(t, pb.Role_ROLE_PUBLISHER, reed)
	type copyWanted struct {
		want          *pb.DeliverRequest
		kind          string
		width, height int
		bits          string // per channel, as exiftool has it
		ppi           float64
	}
	all := []copyWanted{
		{&pb.DeliverRequest{}, "TIFF", 600, 300, "16", 0},
		{&pb.DeliverRequest{Format: "tiff"}, "TIFF", 600, 300, "16", 0},
		{&pb.DeliverRequest{Format: "tiff", LongEdge: 5000}, "TIFF", 600, 300, "16", 0},
		{&pb.DeliverRequest{LongEdge: 300}, "TIFF", 300, 150, "16", 0},
		{&pb.DeliverRequest{Format: "png", LongEdge: 200}, "PNG", 200, 100, "16", 0},
		{&pb.DeliverRequest{Format: "png"}, "PNG", 600, 300, "16", 0},
		{&pb.DeliverRequest{Format: "jpeg", LongEdge: 200}, "JPEG", 200, 100, "8", 0},
		{&pb.DeliverRequest{Format: "jpeg", WidthMm: 25.4, Ppi: 300}, "JPEG", 300, 150, "8", 300},
		{&pb.DeliverRequest{Format: "png", WidthMm: 254, Ppi: 300}, "PNG", 600, 300, "16", 60},
		{&pb.DeliverRequest{WidthMm: 50.8, Ppi: 150}, "TIFF", 300, 150, "16", 150},
	}
	var files [][]byte
	var headers []*pb.DownloadHeader
	for _, c := range all {
		c.want.Picture, c.want.Grant = plate, grant
		var b bytes.Buffer
		h, err := publisher.Deliver(t.Context(), c.want, &b)
		if err != nil {
			t.Fatalf("%v: %v", c.want, err)
		}
		files, headers = append(files, b.Bytes()), append(headers, h)
	}
	found := tagsOf(t, files)
	for i, c := range all {
		file, read := files[i], found[i]
		all := fmt.Sprint(read)
		pick := func(names ...string) string {
			for _, n := range names {
				if v, is := read[n]; is {
					return fmt.Sprint(v)
				}
			}
			return ""
		}
		bits := strings.Fields(pick("IFD0:BitsPerSample", "PNG:BitDepth", "File:BitsPerSample") + " -")[0]
		if read["File:FileType"] != c.kind || pick("IFD0:ImageWidth", "PNG:ImageWidth", "File:ImageWidth") != fmt.Sprint(c.width) ||
			pick("IFD0:ImageHeight", "PNG:ImageHeight", "File:ImageHeight") != fmt.Sprint(c.height) || bits != c.bits {
			t.Errorf("%v came as %s", c.want, all)
		}
		if c.ppi > 0 {
			per := pick("IFD0:XResolution", "JFIF:XResolution")
			if m := pick("PNG-pHYs:PixelsPerUnitX"); m != "" {
				var n float64
				if _, err := fmt.Sscan(m, &n); err != nil {
					t.Fatal(err)
				}
				per = fmt.Sprintf("%.0f", n*0.0254)
			}
			if per != fmt.Sprint(c.ppi) {
				t.Errorf("%v has %s pixels per inch; want %g", c.want, per, c.ppi)
			}
		}
		for tag, want := range map[string]string{
			"XMP-dc:Creator": "Ida Moor", "XMP-photoshop:Credit": "Ida Moor, Łódź", "XMP-dc:Rights": "© 2024 Studio Moor", "XMP-dc:Identifier": "urn:x-platarium:" + grant, "XMP-plus:LicensorName": "Studio Moor",
		} {
			if read[tag] != want {
				t.Errorf("%v: %s is %v; want %q", c.want, tag, read[tag], want)
			}
		}
		for _, secret := range []string{"GPS", "Hidden Bay", "Seeufer", "4711", "Somebody Else", "Old Brush", "rival", "LM 1902.4"} {
			if strings.Contains(all, secret) || bytes.Contains(file, []byte(secret)) || bytes.Contains(headers[i].GetSidecar(), []byte(secret)) {
				t.Errorf("%v: %q is still there: %s", c.want, secret, all)
			}
		}
		if c.kind == "TIFF" && c.width == 600 { // as it was, pixel by pixel
			x, err := tiff.Decode(bytes.NewReader(file))
			if err != nil || x.At(123, 45) != (color.RGBA64{R: 20000 + 7*123, G: 30000 + 11*45, B: 40000 + 3*168, A: 65535}) {
				t.Errorf("%v: pixel %v, %v", c.want, x, err)
			}
		}
	}
	g := ok[*pb.Grant](t)(r.owner.Licensing.GetGrant(t.Context(), &pb.GetGrantRequest{Name: grant}))
	if n := len(g.GetDeliveries()); n != 10 {
		t.Fatalf("%d deliveries on record; want ten", n)
	}
	if d := g.GetDeliveries()[7]; d.GetFormat() != "jpeg" || d.GetWidthMm() != 25.4 || d.GetPpi() != 300 || d.GetVariant() != "original" {
		t.Errorf("on record: %v", d)
	}
	for field, want := range map[string]*pb.DeliverRequest{
		"format": {Format: "webp"}, "long_edge": {LongEdge: -1}, "width_mm": {WidthMm: -1, Ppi: 300}, "ppi": {WidthMm: 100}, "variant": {Variant: "preview-320", Format: "png"},
	} {
		want.Picture, want.Grant = plate, grant
		if _, err := publisher.Deliver(t.Context(), want, new(bytes.Buffer)); err == nil || !strings.Contains(err.Error(), field+":") {
			t.Errorf("%v gave %v; want a word on %s", want, err, field)
		}
	}
}

// TestSixteenBitsStay: the middle of a reduced copy has values that eight bits can't have.
func TestSixteenBitsStay(t *testing.T) {
	r := desk(t)
	plate := r.sensitivePlate(t, "perch-plate", upload(t, r.owner, deepScan(t), "plate.tif"))
	grant := r.grant(t, agreement("book", r.party(t, "reed-press"), plate)).GetName()
	var b bytes.Buffer
	if _, err := r.owner.Deliver(t.Context(), &pb.DeliverRequest{Picture: plate, Grant: grant, Format: "png", LongEdge: 300}, &b); err != nil {
		t.Fatal(err)
	}
	img, _, err := image.Decode(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	deep := 0
	for x := 50; x < 250; x++ {
		if red, _, _, _ := img.At(x, 75).RGBA(); red>>8 != red&0xff {
			deep++
		}
		red, _, _, _ := img.At(x, 75).RGBA()
		if want := 20000 + 7*2*x; int(red) < want-60 || int(red) > want+60 {
			t.Fatalf("pixel %d has red %d; want about %d", x, red, want)
		}
	}
	if deep < 150 {
		t.Errorf("%d of 200 values need more than eight bits; want most", deep)
	}
}

// TestDeliveriesCountAsQuestions: an outsider that fetches without end is told to wait.
func TestDeliveriesCountAsQuestions(t *testing.T) {
	r := desk(t)
	reed := r.party(t, "reed-press")
	plate := r.picture(t, "perch-plate", nil)
	r.grant(t, agreement("book", reed, plate))
	publisher := r.as(t, pb.Role_ROLE_PUBLISHER, reed)
	fetch := func(c *client.Client) error {
		_, err := c.Deliver(t.Context(), &pb.DeliverRequest{Picture: plate, Grant: "grants/book"}, new(bytes.Buffer))
		return err
	}
	began, refused := time.Now(), 0
	for range 230 {
		if err := fetch(publisher); strings.Contains(err.Error(), "too many questions") {
			refused++
		}
	}
	if soon := int(time.Since(began).Seconds() * 6); refused < 30-soon || refused == 0 && soon < 30 {
		t.Errorf("%d of 230 were refused", refused)
	}
	if err := fetch(r.owner); strings.Contains(err.Error(), "too many questions") {
		t.Errorf("the studio is told %v", err)
	}
}
