package iiif

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

type pbPicture = pb.Picture

// What a key may see decides the answer: none at all 401, hidden and absent the same 404, a publisher the preview, staff the original.
func testRoles(t *testing.T, h *house) {
	h.hang(t, "open-plate", plasma(2000, 400), &pbPicture{})
	h.hang(t, "inner-study", plasma(300, 200), &pbPicture{Kind: pb.Kind_KIND_STUDY})
	for _, path := range []string{"/iiif/3/open-plate/info.json", "/iiif/3/open-plate/full/max/0/default.jpg", "/iiif/pictures/open-plate/manifest", "/iiif/3/nothing-here/info.json"} {
		if a := h.get(t, "", path); a.status != http.StatusUnauthorized || a.header.Get("WWW-Authenticate") == "" {
			t.Errorf("%s without a key: %d", path, a.status)
		}
		if a := h.get(t, "", path, "Authorization", "Bearer of-nobody"); a.status != http.StatusUnauthorized {
			t.Errorf("%s with a false key: %d", path, a.status)
		}
	}
	for _, rest := range []string{"/info.json", "", "/full/max/0/default.jpg", "/nonsense/max/0/default.jpg"} {
		hidden, absent := h.get(t, "press", "/iiif/3/inner-study"+rest), h.get(t, "press", "/iiif/3/outer-study"+rest)
		if hidden.status != http.StatusNotFound || absent.status != http.StatusNotFound || !bytes.Equal(hidden.body, absent.body) {
			t.Errorf("%s: hidden %d %q, absent %d %q", rest, hidden.status, hidden.body, absent.status, absent.body)
		}
	}
	if a := h.get(t, "press", "/iiif/pictures/inner-study/manifest"); a.status != http.StatusNotFound {
		t.Errorf("manifest of a hidden picture: %d", a.status)
	}
	for key, edge := range map[string]int{"desk": 2000, "press": 1600} {
		info := h.json(t, key, "/iiif/3/open-plate/info.json")
		if info["width"] != float64(edge) || info["height"] != float64(edge/5) {
			t.Errorf("%s: %v by %v, want a width of %d", key, info["width"], info["height"], edge)
		}
		if m := h.picture(t, key, "/iiif/3/open-plate/full/max/0/default.jpg"); m.Bounds().Dx() != edge {
			t.Errorf("%s: %v", key, m.Bounds())
		}
		if m := h.picture(t, key, "/iiif/3/open-plate/100,100,200,100/max/0/default.jpg"); m.Bounds().Dx() != 200 || !near(m, 100, 50, plasma(edge, edge/5).RGBAAt(200, 150)) {
			t.Errorf("%s: part of %v isn't of the picture at %d pixels", key, m.Bounds(), edge)
		}
	}
	// The rule on which this rests: the contract names an original's digest only to those who may fetch it.
	pic, err := pb.NewArchiveServiceClient(h.conn).GetPicture(h.as(t, "press"), &pb.GetPictureRequest{Name: "pictures/open-plate"})
	check(t, err)
	stream, err := pb.NewTransferServiceClient(h.conn).Download(h.as(t, "press"), &pb.DownloadRequest{Picture: "pictures/open-plate", Variant: "original"})
	check(t, err)
	if _, err := stream.Recv(); pic.GetOriginal().GetSha256() != "" || status.Code(err) != codes.PermissionDenied {
		t.Errorf("a publisher is shown the digest %q, and its download gives %v", pic.GetOriginal().GetSha256(), err)
	}
}

// A small image of the whole needs no tiles.
func testThumbnailsMakeNoTiles(t *testing.T, h *house) {
	pic := h.hang(t, "listed-plate", plasma(2001, 400), &pbPicture{})
	if m := h.picture(t, "desk", "/iiif/3/listed-plate/full/!300,300/0/default.jpg"); m.Bounds().Dx() != 300 {
		t.Errorf("%v", m.Bounds())
	}
	sum, err := parseSum(pic)
	check(t, err)
	if h.tiles.has(sum) {
		t.Error("tiles were made for a thumbnail")
	}
	h.picture(t, "desk", "/iiif/3/listed-plate/0,0,512,400/512,400/0/default.jpg")
	if !h.tiles.has(sum) {
		t.Error("a tile was answered and none is kept")
	}
}

// A file that can't be decoded has no image service, and says so like an absent one.
func testUndecodable(t *testing.T, h *house) {
	h.hangFile(t, "paper-plate", []byte("%PDF-1.7 no picture at all"), &pbPicture{})
	for _, path := range []string{"/iiif/3/paper-plate/info.json", "/iiif/3/paper-plate/full/max/0/default.jpg", "/iiif/pictures/paper-plate/manifest"} {
		for _, key := range []string{"desk", "press"} {
			if a := h.get(t, key, path); a.status != http.StatusNotFound {
				t.Errorf("%s as %s: %d", path, key, a.status)
			}
		}
	}
}

// The key may come by another way than a header, such as a session.
func testSecretFromElsewhere(t *testing.T, h *house) {
	h.hang(t, "plain-plate", plasma(40, 30), &pbPicture{})
	handler, err := New(Config{Conn: h.conn, Tiles: h.tiles, Log: h.tiles.log, Base: "https://fins.example/", Secret: func(r *http.Request) string {
		if c, err := r.Cookie("who"); err == nil {
			return h.keys[c.Value]
		}
		return ""
	}})
	check(t, err)
	for who, want := range map[string]int{"press": 200, "nobody": 401} {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "/iiif/3/plain-plate/info.json", nil)
		check(t, err)
		r.AddCookie(&http.Cookie{Name: "who", Value: who})
		w := &recorder{header: http.Header{}}
		handler.ServeHTTP(w, r)
		if w.status != want || want == 200 && !bytes.Contains(w.body.Bytes(), []byte(`"id":"https://fins.example/iiif/3/plain-plate"`)) {
			t.Errorf("%s: %d %s", who, w.status, w.body.String())
		}
	}
}

type recorder struct {
	header http.Header
	status int
	body   bytes.Buffer
}

func (r *recorder) Header() http.Header         { return r.header }
func (r *recorder) WriteHeader(status int)      { r.status = status }
func (r *recorder) Write(b []byte) (int, error) { return r.body.Write(b) }

var _ io.Writer = (*recorder)(nil)

func nothing(context.Context) (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(nil)), nil }
