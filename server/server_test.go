package server

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
	"platarium/storage/imaging"
)

// TestMain hands the decode child over, as the program's main does.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == imaging.ChildVerb {
		os.Exit(imaging.ChildMain(os.Args[2:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

// running is a server under test.
type running struct {
	conf    Config
	owner   *client.Client
	stop    func()
	secret  string
	address string
}

// start runs a server over a store and waits until it answers.
func start(t *testing.T, conf Config) *running {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ready := make(chan Ready, 1)
	done := make(chan error, 1)
	go func() { done <- Run(ctx, conf, func(r Ready) { ready <- r }) }()
	r := &running{conf: conf}
	var once bool
	r.stop = func() {
		if once {
			return
		}
		once = true
		cancel()
		if err := <-done; err != nil {
			t.Errorf("server ended with %v", err)
		}
	}
	t.Cleanup(r.stop)
	select {
	case news := <-ready:
		b, err := os.ReadFile(conf.KeyFile)
		if err != nil {
			t.Fatal(err)
		}
		r.secret = strings.TrimSpace(string(b))
		r.address = news.Address
		r.owner = dial(t, news.Address, r.secret)
	case err := <-done:
		t.Fatalf("server didn't start: %v", err)
	}
	return r
}

func dial(t *testing.T, address, key string) *client.Client {
	t.Helper()
	c, err := client.Dial(client.Config{Address: address, Key: key})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	return c
}

func newConfig(t *testing.T) Config {
	t.Helper()
	dir := t.TempDir()
	return Config{Store: "dir:" + filepath.Join(dir, "store"), Cache: filepath.Join(dir, "cache"), Listen: "127.0.0.1:0", KeyFile: filepath.Join(dir, "owner.key")}
}

func lineArt(t *testing.T) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 800, 400))
	for y := range 400 {
		for x := range 800 {
			img.SetGray(x, y, color.Gray{Y: uint8(255 * ((x / 8) % 2))})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func upload(t *testing.T, c *client.Client, b []byte, name string) string {
	t.Helper()
	sum := sha256.Sum256(b)
	hexSum := hex.EncodeToString(sum[:])
	if _, err := c.Upload(t.Context(), bytes.NewReader(b), hexSum, int64(len(b)), name, nil); err != nil {
		t.Fatalf("upload: %v", err)
	}
	return hexSum
}

// TestTheMainJob goes through the archive's main uses: a scan goes in, a commission finds it, its licences are kept apart, its history is told; and all of it is
// there again for another server that has nothing but the bucket.
func TestTheMainJob(t *testing.T) {
	conf := newConfig(t)
	r := start(t, conf)
	ctx := t.Context()
	sum := upload(t, r.owner, lineArt(t), "plate one.png")
	pic, err := r.owner.Archive.CreatePicture(ctx, &pb.CreatePictureRequest{PictureId: "perch-plate", RequestId: "r-1", Picture: &pb.Picture{
		Kind: pb.Kind_KIND_PLATE, Title: "European perch, left lateral", View: pb.View_VIEW_LEFT_LATERAL, Stage: pb.Stage_STAGE_FINAL_ART,
		Identification: &pb.Identification{ScientificName: "Perca fluviatilis"}, Counts: &pb.Counts{Formula: "D XIV-XV, I,13; A II,8"},
		Structures: []*pb.Structure{{Structure: "First  Dorsal fin", Completeness: pb.Completeness_COMPLETENESS_COMPLETE}},
		Original:   &pb.Original{Sha256: sum}, Creators: []string{"Ida Moor"},
	}})
	if err != nil {
		t.Fatalf("create: %v", err)
	}
	if pic.GetOriginal().GetWidth() != 800 || pic.GetOriginal().GetMediaType() != "image/png" || len(pic.GetCounts().GetParsed()) == 0 || pic.GetStructures()[0].GetStructure() != "first dorsal fin" {
		t.Errorf("server didn't fill in what it finds out itself: %v", pic)
	}
	found, err := r.owner.Search.SearchPictures(ctx, &pb.SearchPicturesRequest{Wanted: &pb.Wanted{Near: "Perca flavescens", Counts: "D XIII", Structures: []string{"first dorsal fin"}, View: pb.View_VIEW_RIGHT_LATERAL}, Facets: []string{"family", "rights"}})
	if err != nil {
		t.Fatalf("search: %v", err)
	}
	if len(found.GetHits()) != 1 || len(found.GetHits()[0].GetReasons()) < 3 {
		t.Fatalf("search for a congener found %v", found)
	}
	t.Logf("reasons: %v, rights: %s", found.GetHits()[0].GetReasons(), found.GetHits()[0].GetRights())
	for _, id := range []string{"reed-press", "lakeside-museum"} {
		if _, err := r.owner.Licensing.CreateParty(ctx, &pb.CreatePartyRequest{PartyId: id, Party: &pb.Party{DisplayName: id, Contact: &pb.Contact{Email: id + "@example.org"}}}); err != nil {
			t.Fatal(err)
		}
	}
	grant := func(to string, excl pb.Exclusivity) (*pb.Grant, error) {
		return r.owner.Licensing.CreateGrant(ctx, &pb.CreateGrantRequest{Grant: &pb.Grant{
			Licensee: "parties/" + to, Exclusivity: excl, SignedOn: "2026-01-10", Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, Fee: &pb.Money{Amount: "400.00", Currency: "EUR"},
			Scope: &pb.Scope{Works: []string{pic.GetName()}, Media: []string{"print.book"}, Territories: []string{"DE", "AT"}, Languages: []string{"*"}, From: "2026-01-15", To: "2028-01-14"},
		}})
	}
	g, err := grant("reed-press", pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE)
	if err != nil {
		t.Fatalf("first grant: %v", err)
	}
	_, err = grant("lakeside-museum", pb.Exclusivity_EXCLUSIVITY_NON_EXCLUSIVE)
	if status.Code(err) != codes.FailedPrecondition || !strings.Contains(err.Error(), g.GetName()) {
		t.Errorf("colliding grant gave %v; want FAILED_PRECONDITION naming %s", err, g.GetName())
	}
	waitPreviews(t, r.owner)
	var preview bytes.Buffer
	if _, err := r.owner.Download(ctx, pic.GetName(), "preview-320", &preview); err != nil || preview.Len() == 0 {
		t.Errorf("preview: %d bytes, %v", preview.Len(), err)
	}
	before := history(t, r.owner, pic.GetName())
	r.stop()

	conf.Cache = t.TempDir()
	conf.KeyFile = r.conf.KeyFile
	again := start(t, conf)
	after := history(t, again.owner, pic.GetName())
	if before.String() != after.String() {
		t.Errorf("history differs on a server with an empty cache:\n%v\n%v", before, after)
	}
	if p, err := again.owner.Licensing.GetParty(ctx, &pb.GetPartyRequest{Name: "parties/reed-press"}); err != nil || p.GetContact().GetEmail() != "reed-press@example.org" {
		t.Errorf("contact came back as %v, %v", p, err)
	}
	replay, err := again.owner.Archive.CreatePicture(ctx, &pb.CreatePictureRequest{PictureId: "perch-plate", RequestId: "r-1", Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "another"}})
	if status.Code(err) != codes.InvalidArgument {
		t.Errorf("request id reused for another picture gave %v, %v", replay, err)
	}
}

func history(t *testing.T, c *client.Client, picture string) *pb.History {
	t.Helper()
	h, err := c.Licensing.GetHistory(t.Context(), &pb.GetHistoryRequest{Picture: picture})
	if err != nil {
		t.Fatalf("history: %v", err)
	}
	if len(h.GetEntries()) != 1 {
		t.Errorf("history has %d entries; want the one grant", len(h.GetEntries()))
	}
	return h
}

func waitPreviews(t *testing.T, c *client.Client) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	stream, err := c.Admin.WaitDerived(ctx, &pb.WaitDerivedRequest{})
	if err != nil {
		t.Fatal(err)
	}
	for {
		m, err := stream.Recv()
		if err != nil {
			return
		}
		if m.GetFailed() > 0 {
			t.Fatalf("%d originals could not be decoded", m.GetFailed())
		}
	}
}
