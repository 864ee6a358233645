package server

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // to decode what comes back
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// secretive is a scan whose metadata say more than a licensee should learn.
func secretive(t *testing.T, b []byte, name string) []byte {
	t.Helper()
	file := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(file, b, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), "exiftool", "-overwrite_original", "-GPSLatitude=47.6", "-GPSLatitudeRef=N", "-GPSLongitude=9.2", "-GPSLongitudeRef=E", "-XMP-iptcCore:Location=Hidden Bay",
		"-XMP-photoshop:City=Seeufer", "-EXIF:BodySerialNumber=S-4711", "-XMP-dc:Creator=Somebody Else", "-XMP-xmpMM:HistorySoftwareAgent=Old Brush", "-Comment=for the rival house", file).CombinedOutput()
	if err != nil {
		t.Fatalf("exiftool: %v: %s", err, out)
	}
	b, err = os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(b, []byte("Hidden Bay")) {
		t.Fatal("the scan holds no secret to begin with")
	}
	return b
}

func photo(t *testing.T) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 400, 240))
	for y := range 240 {
		for x := range 400 {
			img.Set(x, y, color.RGBA{uint8(x), uint8(y), uint8(x ^ y), 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func delivered(t *testing.T, c *client.Client, picture, grant, variant string) ([]byte, *pb.DownloadHeader) {
	t.Helper()
	var b bytes.Buffer
	h, err := c.Deliver(t.Context(), &pb.DeliverRequest{Picture: picture, Grant: grant, Variant: variant}, &b)
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), h
}

// tags reads a file with exiftool, which knows nothing of this program.
func tags(t *testing.T, b []byte, name string) (map[string]any, string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(file, b, 0o600); err != nil {
		t.Fatal(err)
	}
	list, out := readTags(t, file)
	return list[0], out
}

// tagsOf does so with several files at once, since the program takes its time to start.
func tagsOf(t *testing.T, files [][]byte) []map[string]any {
	t.Helper()
	dir := t.TempDir()
	var names []string
	for i, b := range files {
		names = append(names, filepath.Join(dir, fmt.Sprintf("copy-%02d", i)))
		if err := os.WriteFile(names[i], b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	list, _ := readTags(t, names...)
	return list
}

func readTags(t *testing.T, files ...string) ([]map[string]any, string) {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), "exiftool", append([]string{"-json", "-G1", "-a", "-u", "-all"}, files...)...).Output()
	if err != nil {
		t.Fatal(err)
	}
	var list []map[string]any
	if err := json.Unmarshal(out, &list); err != nil {
		t.Fatal(err)
	}
	if len(list) != len(files) {
		t.Fatalf("%d of %d files were read", len(list), len(files))
	}
	return list, string(out)
}

func samePixels(t *testing.T, a, b []byte) {
	t.Helper()
	x, kind, err := image.Decode(bytes.NewReader(a))
	if err != nil {
		t.Fatal(err)
	}
	y, other, err := image.Decode(bytes.NewReader(b))
	if err != nil || kind != other || x.Bounds() != y.Bounds() {
		t.Fatalf("%s of %v became %s: %v", kind, x.Bounds(), other, err)
	}
	for py := range x.Bounds().Dy() {
		for px := range x.Bounds().Dx() {
			if x.At(px, py) != y.At(px, py) {
				t.Fatalf("pixel %d,%d is %v; was %v", px, py, y.At(px, py), x.At(px, py))
			}
		}
	}
}

func TestADeliveredCopySaysWhatTheGrantSaysAndNoMore(t *testing.T) {
	r := desk(t)
	reed := r.party(t, "reed-press")
	for name, scan := range map[string][]byte{"plate.jpg": photo(t), "plate.png": lineArt(t)} {
		id := strings.ReplaceAll(name, ".", "-")
		file := secretive(t, scan, name)
		sum := upload(t, r.owner, file, name)
		plate := r.picture(t, id, func(p *pb.Picture) {
			p.Original, p.Creators, p.RightsHolder, p.Created = &pb.Original{Sha256: sum}, []string{"Ida Moor"}, "Studio Moor", "2024-05"
		})
		req := agreement(id, reed, plate)
		req.Grant.CreditLine = "Ida Moor, Łódź"
		grant := r.grant(t, req).GetName()
		waitPreviews(t, r.owner)
		for _, variant := range []string{"original", "preview-320"} {
			var before bytes.Buffer
			if _, err := r.owner.Download(t.Context(), plate, variant, &before); err != nil {
				t.Fatal(err)
			}
			b, h := delivered(t, r.owner, plate, grant, variant)
			samePixels(t, before.Bytes(), b)
			read, all := tags(t, b, name)
			for tag, want := range map[string]string{
				"XMP-dc:Creator": "Ida Moor", "XMP-photoshop:Credit": "Ida Moor, Łódź", "XMP-dc:Rights": "© 2024 Studio Moor", "XMP-dc:Identifier": "urn:x-platarium:" + grant,
				"XMP-xmpRights:UsageTerms": "Licensed to House reed-press (" + grant + "): non-exclusive; print.book; DE, AT; 2026-01-15 to 2027-12-31. The signed agreement governs.",
				"XMP-plus:LicensorName":    "Studio Moor", "IFD0:Copyright": "© 2024 Studio Moor",
			} {
				if read[tag] != want {
					t.Errorf("%s, %s: %s is %v; want %q", name, variant, tag, read[tag], want)
				}
			}
			if strings.HasPrefix(name, "plate.j") && (read["IPTC:By-line"] != "Ida Moor" || read["IPTC:CopyrightNotice"] != "© 2024 Studio Moor") {
				t.Errorf("%s, %s: IPTC has %v and %v", name, variant, read["IPTC:By-line"], read["IPTC:CopyrightNotice"])
			}
			for _, secret := range []string{"GPS", "Hidden Bay", "Seeufer", "4711", "Somebody Else", "Old Brush", "rival"} {
				if strings.Contains(all, secret) || bytes.Contains(b, []byte(secret)) {
					t.Errorf("%s, %s: %q is still there: %s", name, variant, secret, all)
				}
			}
			got := sha256.Sum256(b)
			var beside map[string]any
			if err := json.Unmarshal(h.GetSidecar(), &beside); err != nil || beside["sha256"] != hex.EncodeToString(got[:]) || beside["grant"] != grant || beside["copyright_notice"] != "© 2024 Studio Moor" {
				t.Errorf("sidecar %s, %v", h.GetSidecar(), err)
			}
			delivered(t, r.owner, plate, grant, variant) // once more on the same day
		}
		g := ok[*pb.Grant](t)(r.owner.Licensing.GetGrant(t.Context(), &pb.GetGrantRequest{Name: grant}))
		if len(g.GetDeliveries()) != 2 || g.GetDeliveries()[0].GetVariant() != "original" || g.GetDeliveries()[1].GetVariant() != "preview-320" || g.GetDeliveries()[0].GetDay() != "2026-06-01" || g.GetDeliveries()[0].GetPicture() != plate {
			t.Errorf("on record: %v", g.GetDeliveries())
		}
	}
}

// TestWhoMayFetchADelivery goes through grants that do and don't entitle a publisher, on different days.
func TestWhoMayFetchADelivery(t *testing.T) {
	conf := newConfig(t)
	now := june()
	conf.Clock = func() time.Time { return now }
	r := start(t, conf)
	sum := upload(t, r.owner, lineArt(t), "plate.png")
	plate := r.picture(t, "perch-plate", func(p *pb.Picture) { p.Original = &pb.Original{Sha256: sum} })
	other := r.picture(t, "carp-plate", func(p *pb.Picture) { p.Original = &pb.Original{Sha256: sum} })
	reed, lake := r.party(t, "reed-press"), r.party(t, "lake-museum")
	add := func(id string, change func(*pb.Grant)) {
		req := agreement(id, reed, plate)
		change(req.Grant)
		r.grant(t, req)
	}
	add("book", func(*pb.Grant) {})
	add("later", func(g *pb.Grant) { g.Scope.From = "2026-09-01" })
	add("unpaid", func(g *pb.Grant) { g.PaymentIsCondition, g.Fee = true, &pb.Money{Amount: "100.00", Currency: "EUR"} })
	add("offered", func(g *pb.Grant) { g.Status, g.SignedOn = pb.GrantStatus_GRANT_STATUS_OFFERED, "" })
	add("detail", func(g *pb.Grant) { g.Scope.Works = []string{plate + "#head"} })
	add("embargo", func(g *pb.Grant) { g.EmbargoUntil = "2026-07-01" })
	add("ended", func(*pb.Grant) {})
	ok[*pb.Grant](t)(r.owner.Licensing.EndGrant(t.Context(), &pb.EndGrantRequest{Name: "grants/ended", EndedOn: "2026-05-01", Reason: "reversion"}))
	publisher, stranger := r.as(t, pb.Role_ROLE_PUBLISHER, reed), r.as(t, pb.Role_ROLE_PUBLISHER, lake)
	ask := func(c *client.Client, picture, grant string) error {
		_, err := c.Deliver(t.Context(), &pb.DeliverRequest{Picture: picture, Grant: "grants/" + grant}, new(bytes.Buffer))
		return err
	}
	if err := ask(publisher, plate, "book"); err != nil {
		t.Errorf("under a grant in force: %v", err)
	}
	for _, id := range []string{"later", "unpaid", "offered", "detail", "embargo", "ended"} {
		wantReason(t, ask(publisher, plate, id), "NO_DELIVERY")
	}
	wantReason(t, ask(publisher, other, "book"), "NO_DELIVERY")
	wantReason(t, ask(stranger, plate, "book"), "NOT_FOUND")
	wantReason(t, ask(publisher, plate, "absent"), "NOT_FOUND")
	wantReason(t, ask(r.owner, plate, "ended"), "NO_DELIVERY")
	if err := ask(r.owner, plate, "later"); err != nil {
		t.Errorf("the studio before the term: %v", err)
	}
	if _, err := publisher.Download(t.Context(), plate, "original", new(bytes.Buffer)); err == nil {
		t.Error("a publisher got the original itself")
	}
	_, err := r.owner.Licensing.UpdateGrant(t.Context(), &pb.UpdateGrantRequest{Grant: &pb.Grant{Name: "grants/book"}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"deliveries"}}})
	wantReason(t, err, "INVALID_FIELD")
	now = now.AddDate(2, 0, 0)
	wantReason(t, ask(publisher, plate, "book"), "NO_DELIVERY")
	if g := ok[*pb.Grant](t)(publisher.Licensing.GetGrant(t.Context(), &pb.GetGrantRequest{Name: "grants/book"})); len(g.GetDeliveries()) != 1 {
		t.Errorf("on record: %v", g.GetDeliveries())
	}
}
