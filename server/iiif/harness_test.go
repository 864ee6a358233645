package iiif

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"image"
	"image/color"
	"image/png"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/test/bufconn"

	pb "platarium/proto/platarium/v1"
	"platarium/server/api"
	"platarium/server/archive"
	"platarium/server/preview"
	"platarium/storage/dir"
	"platarium/storage/imaging"
	"platarium/storage/original"
)

// TestMain lets the test program serve as its own decoder process.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == imaging.ChildVerb {
		os.Exit(imaging.ChildMain(os.Args[2:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

// TestHandler asks one house everything: opening an archive costs more than most questions.
func TestHandler(t *testing.T) {
	h := newHouse(t)
	h.hang(t, validatorID, squares(), &pb.Picture{RightsStatement: "https://creativecommons.org/licenses/by/4.0/deed.en"})
	h.grouper(t)
	for name, test := range map[string]func(*testing.T, *house){
		"ImagesOfSquares":       testImagesOfSquares,
		"ImageRefusals":         testImageRefusals,
		"TilesMakeTheWhole":     testTilesMakeTheWhole,
		"Info":                  testInfo,
		"MediaTypes":            testMediaTypes,
		"Compression":           testCompression,
		"Headers":               testHeaders,
		"Roles":                 testRoles,
		"ThumbnailsMakeNoTiles": testThumbnailsMakeNoTiles,
		"Undecodable":           testUndecodable,
		"SecretFromElsewhere":   testSecretFromElsewhere,
		"PictureManifest":       testPictureManifest,
		"BriefManifest":         testBriefManifest,
	} {
		t.Run(name, func(t *testing.T) { test(t, h) })
	}
}

// house is an archive with its services, previews and this handler in front, as they stand together in the server.
type house struct {
	archive *archive.Archive
	conn    *grpc.ClientConn
	tiles   *Cache
	folder  string // of tiles
	web     *httptest.Server
	keys    map[string]string // secrets by key id
	log     *bytes.Buffer
}

func newHouse(t testing.TB) *house {
	t.Helper()
	h := &house{keys: map[string]string{}, folder: t.TempDir(), log: &bytes.Buffer{}}
	bucket, err := dir.Open(t.TempDir())
	check(t, err)
	log := slog.New(slog.NewTextHandler(h.log, &slog.HandlerOptions{Level: slog.LevelWarn}))
	runner, err := imaging.NewRunner(imaging.Config{TempDir: t.TempDir(), Concurrency: 2})
	check(t, err)
	queue := preview.New(bucket, original.New(bucket), runner, 1, log)
	ctx := context.WithoutCancel(t.Context())
	h.archive, err = archive.Open(ctx, archive.Config{Bucket: bucket, Cache: t.TempDir(), Logger: log, CheckpointMin: -1, Committed: queue.Committed,
		Clock: func() time.Time { return time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC) }})
	check(t, err)
	back, stop := context.WithCancel(ctx)
	ran := make(chan error, 1)
	go func() { ran <- queue.Run(back, h.archive.WithoutPreviews) }()
	services := api.New(h.archive, queue, log, "test")
	g := grpc.NewServer(services.Options()...)
	services.Register(g)
	line := bufconn.Listen(1 << 20)
	served := make(chan error, 1)
	go func() { served <- g.Serve(line) }()
	h.conn, err = grpc.NewClient("passthrough:house", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return line.DialContext(ctx) }))
	check(t, err)
	h.tiles, err = OpenCache(h.folder, 1<<30, runner, log)
	check(t, err)
	handler, err := New(Config{Conn: h.conn, Tiles: h.tiles, Studio: "House of Fins", Log: log})
	check(t, err)
	h.web = httptest.NewServer(handler)
	t.Cleanup(func() {
		h.web.Close()
		h.tiles.Close()
		check(t, h.conn.Close())
		g.Stop()
		stop()
		check(t, errors.Join(<-served, <-ran, h.archive.Close()))
	})
	h.key(t, "desk", &pb.Key{Role: pb.Role_ROLE_ASSISTANT})
	_, err = pb.NewLicensingServiceClient(h.conn).CreateParty(h.as(t, "desk"), &pb.CreatePartyRequest{PartyId: "reef-press", Party: &pb.Party{DisplayName: "Reef Press"}})
	check(t, err)
	h.key(t, "press", &pb.Key{Role: pb.Role_ROLE_PUBLISHER, Party: "parties/reef-press"})
	return h
}

func check(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func (h *house) key(t testing.TB, id string, k *pb.Key) {
	t.Helper()
	_, err := h.archive.CreateKey(t.Context(), archive.Caller{Actor: "system"}, k, id, func(secret string) error {
		h.keys[id] = secret
		return nil
	})
	check(t, err)
}

func (h *house) as(t testing.TB, key string) context.Context {
	return metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+h.keys[key])
}

// hang puts a picture into the archive and waits for its previews.
func (h *house) hang(t testing.TB, id string, m image.Image, pic *pb.Picture) *pb.Picture {
	t.Helper()
	var b bytes.Buffer
	check(t, (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, m))
	return h.hangFile(t, id, b.Bytes(), pic)
}

func (h *house) hangFile(t testing.TB, id string, file []byte, pic *pb.Picture) *pb.Picture {
	t.Helper()
	sum := sha256.Sum256(file)
	_, err := h.archive.StoreOriginal(t.Context(), bytes.NewReader(file), int64(len(file)), sum)
	check(t, err)
	if pic.Kind == pb.Kind_KIND_UNSPECIFIED {
		pic.Kind = pb.Kind_KIND_PLATE
	}
	if pic.Title == "" {
		pic.Title = "Plate " + id
	}
	pic.Original = &pb.Original{Sha256: hex.EncodeToString(sum[:])}
	made, err := pb.NewArchiveServiceClient(h.conn).CreatePicture(h.as(t, "desk"), &pb.CreatePictureRequest{Picture: pic, PictureId: id})
	check(t, err)
	transfer := pb.NewTransferServiceClient(h.conn)
	for range 600 {
		d, err := transfer.GetDerived(h.as(t, "desk"), &pb.GetDerivedRequest{Picture: made.GetName()})
		check(t, err)
		if d.GetState() != "pending" {
			return made
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatal("previews aren't made")
	return nil
}

// answer is what came of a request.
type answer struct {
	status int
	header http.Header
	body   []byte
}

// get asks as a key, without following redirects; headers come in pairs.
func (h *house) get(t testing.TB, key, path string, headers ...string) answer {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, h.web.URL+path, nil)
	check(t, err)
	if key != "" {
		req.Header.Set("Authorization", "Bearer "+h.keys[key])
	}
	for i := 0; i < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	return do(t, req)
}

func do(t testing.TB, req *http.Request) answer {
	t.Helper()
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Do(req)
	check(t, err)
	b, err := io.ReadAll(res.Body)
	check(t, errors.Join(err, res.Body.Close()))
	return answer{res.StatusCode, res.Header, b}
}

// picture asks for an image and decodes it.
func (h *house) picture(t testing.TB, key, path string) image.Image {
	t.Helper()
	a := h.get(t, key, path)
	if a.status != http.StatusOK {
		t.Fatalf("%s: %d %s", path, a.status, a.body)
	}
	m, format, err := image.Decode(bytes.NewReader(a.body))
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if want := map[string]string{"jpeg": "image/jpeg", "png": "image/png"}[format]; a.header.Get("Content-Type") != want {
		t.Errorf("%s: content type %q of a %s", path, a.header.Get("Content-Type"), format)
	}
	return m
}

func (h *house) json(t testing.TB, key, path string) map[string]any {
	t.Helper()
	a := h.get(t, key, path)
	if a.status != http.StatusOK || !strings.Contains(a.header.Get("Content-Type"), "json") {
		t.Fatalf("%s: %d %s %s", path, a.status, a.header.Get("Content-Type"), a.body)
	}
	var out map[string]any
	check(t, json.Unmarshal(a.body, &out))
	return out
}

// squareColor is the color of a square of the test picture: ten by ten of them, no two neighbors alike.
func squareColor(x, y int) color.RGBA {
	return color.RGBA{uint8(20 + (x*97+y*41)%220), uint8(20 + (x*53+y*139)%220), uint8(20 + (x*181+y*67)%220), 255}
}

// squares is the kind of picture that the standard's validator asks for: 1,000 by 1,000 pixels, in squares of 100.
func squares() image.Image {
	m := image.NewRGBA(image.Rect(0, 0, 1000, 1000))
	for y := range 1000 {
		for x := range 1000 {
			m.SetRGBA(x, y, squareColor(x/100, y/100))
		}
	}
	return m
}

// near says whether the middle of a stretch of a picture has a square's color, as the validator judges it: each sample off by less than 6.
func near(m image.Image, x, y int, want color.RGBA) bool {
	c := color.RGBAModel.Convert(m.At(m.Bounds().Min.X+x, m.Bounds().Min.Y+y)).(color.RGBA)
	off := func(a, b uint8) bool { return int(a)-int(b) < 6 && int(b)-int(a) < 6 }
	return off(c.R, want.R) && off(c.G, want.G) && off(c.B, want.B)
}
