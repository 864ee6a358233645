package rest_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"image/png"
	"io"
	"mime"
	"mime/multipart"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/encoding/protojson"

	pb "platarium/proto/platarium/v1"
)

const plateFile = "/v1/pictures/perch-plate/files/original"

// A file comes whole or in part, with its digest, for keeping.
func TestFiles(t *testing.T) {
	d := newDesk(t)
	d.stock(t)
	content := "bytes of perch-plate"
	sum := sha256.Sum256([]byte(content))
	tag := `"` + hex.EncodeToString(sum[:]) + `"`
	for _, c := range []struct {
		name, verb, header, value string
		code                      int
		body, contentRange        string
	}{
		{name: "whole", verb: "GET", code: 200, body: content},
		{name: "head", verb: "HEAD", code: 200},
		{name: "beginning", verb: "GET", header: "Range", value: "bytes=0-4", code: 206, body: "bytes", contentRange: "bytes 0-4/20"},
		{name: "middle", verb: "GET", header: "Range", value: "bytes=9-13", code: 206, body: "perch", contentRange: "bytes 9-13/20"},
		{name: "to the end", verb: "GET", header: "Range", value: "bytes=15-", code: 206, body: "plate", contentRange: "bytes 15-19/20"},
		{name: "the last bytes", verb: "GET", header: "Range", value: "bytes=-5", code: 206, body: "plate", contentRange: "bytes 15-19/20"},
		{name: "beyond the end", verb: "GET", header: "Range", value: "bytes=15-99", code: 206, body: "plate", contentRange: "bytes 15-19/20"},
		{name: "several", verb: "GET", header: "Range", value: "bytes=0-1,3-4", code: 200, body: content},
		{name: "outside", verb: "GET", header: "Range", value: "bytes=20-", code: 416, contentRange: "bytes */20"},
		{name: "known", verb: "GET", header: "If-None-Match", value: tag, code: 304},
		{name: "another", verb: "GET", header: "If-None-Match", value: `"00"`, code: 200, body: content},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := d.do(t, "assistant", c.verb, plateFile, "", func(r *http.Request) {
				if c.header != "" {
					r.Header.Set(c.header, c.value)
				}
			})
			if a.code != c.code || a.code < 300 && string(a.body) != c.body || a.header.Get("Content-Range") != c.contentRange {
				t.Fatalf("got %d %q %q", a.code, a.body, a.header.Get("Content-Range"))
			}
			if a.code == 416 {
				if reason, _ := a.reason(t, 416); reason != "RANGE" {
					t.Errorf("refused with %s", reason)
				}
			}
			if a.code == 200 && (a.header.Get("Content-Length") != "20" || a.header.Get("ETag") != tag) {
				t.Errorf("headers %v", a.header)
			}
		})
	}
	a := d.do(t, "assistant", "GET", "/v1/pictures/perch-plate/files/preview-320", "")
	kind, params, err := mime.ParseMediaType(a.header.Get("Content-Disposition"))
	if a.code != 200 || string(a.body) != "preview of "+content || err != nil || kind != "attachment" || params["filename"] != "pictures-perch-plate-preview-320.jpg" {
		t.Errorf("preview: %d %q %v", a.code, a.body, a.header)
	}
	if a.header.Get("X-Content-Type-Options") != "nosniff" || !strings.Contains(a.header.Get("Content-Security-Policy"), "sandbox") || a.header.Get("Content-Type") != "image/jpeg" {
		t.Errorf("a file could be shown as something else: %v", a.header)
	}
	for _, c := range []struct {
		key, path, reason string
		code              int
	}{
		{"quillfin", plateFile, "ROLE", 403},
		{"quillfin", "/v1/pictures/perch-study/files/preview-320", "NOT_FOUND", 404},
		{"assistant", "/v1/pictures/perch-plate/files/none", "INVALID_FIELD", 400},
		{"assistant", plateFile + "?offset=3", "INVALID_FIELD", 400},
	} {
		if reason, _ := d.do(t, c.key, "GET", c.path, "").reason(t, c.code); reason != c.reason {
			t.Errorf("%s for %s: %s", c.path, c.key, reason)
		}
	}
}

// A file that is larger than a chunk comes whole, and from any place.
func TestLargeFile(t *testing.T) {
	d := newDesk(t)
	content := strings.Repeat("0123456789abcdef", 200_000) // 3.2 MB
	must(t)(d.archive.CreatePicture(t.Context(), system, &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "large", Original: &pb.Original{Sha256: d.file(t, content)}}, "large-plate"))
	if a := d.do(t, "owner", "GET", "/v1/pictures/large-plate/files/original", ""); string(a.body) != content {
		t.Errorf("got %d with %d bytes", a.code, len(a.body))
	}
	a := d.do(t, "owner", "GET", "/v1/pictures/large-plate/files/original", "", with("Range", "bytes=1000003-2500000"))
	if string(a.body) != content[1000003:2500001] {
		t.Errorf("got %d with %d bytes", a.code, len(a.body))
	}
}

// An original is put at the address that is its sha256; sending it again stores nothing, and what isn't what the address says is refused.
func TestUpload(t *testing.T) {
	d := newDesk(t)
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 1500, 1000))); err != nil {
		t.Fatal(err)
	}
	content := b.String() + strings.Repeat("\x00", 3<<20) // what follows the picture makes it longer than a chunk
	sum := sha256.Sum256([]byte(content))
	path := "/v1/originals/" + hex.EncodeToString(sum[:])
	for _, stored := range []bool{true, false} {
		var res pb.UploadOriginalResponse
		a := d.do(t, "assistant", "PUT", path+"?fileName=perch.png", content)
		if err := protojson.Unmarshal(a.body, &res); err != nil || a.code != 200 {
			t.Fatalf("got %d %s, %v", a.code, a.body, err)
		}
		if o := res.GetOriginal(); res.GetStored() != stored || o.GetWidth() != 1500 || o.GetSize() != int64(len(content)) || o.GetMediaType() != "image/png" {
			t.Errorf("got %v", &res)
		}
	}
	sizes := d.do(t, "assistant", "POST", "/v1/originals:stat", `{"sha256":["`+hex.EncodeToString(sum[:])+`"]}`).object(t, 200)["sizes"].([]any)
	if len(sizes) != 1 || sizes[0] == "-1" {
		t.Errorf("sizes %v", sizes)
	}
	wrong := "/v1/originals/" + strings.Repeat("0", 64)
	for _, c := range []struct {
		name, key, path, body, reason string
		code                          int
		set                           func(*http.Request)
	}{
		{name: "other bytes", key: "assistant", path: wrong, body: "x", reason: "UPLOAD", code: 400},
		{name: "many other bytes", key: "assistant", path: wrong, body: content, reason: "UPLOAD", code: 400},
		{name: "no digest", key: "assistant", path: "/v1/originals/abc", body: "x", reason: "INVALID_FIELD", code: 400},
		{name: "length in the query", key: "assistant", path: wrong + "?size=3", body: "x", reason: "INVALID_FIELD", code: 400},
		{name: "no length", key: "assistant", path: wrong, body: "x", reason: "LENGTH_REQUIRED", code: 411, set: func(r *http.Request) { r.ContentLength = -1 }},
		{name: "no key", path: wrong, body: "x", reason: "NO_KEY", code: 401},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := c.set
			if set == nil {
				set = func(*http.Request) {}
			}
			if reason, _ := d.do(t, c.key, "PUT", c.path, c.body, set).reason(t, c.code); reason != c.reason {
				t.Errorf("refused with %s", reason)
			}
		})
	}
}

// Whoever breaks off in the middle of an upload leaves nothing behind, and is told if it still listens.
func TestBrokenUpload(t *testing.T) {
	d := newDesk(t)
	conn, err := net.Dial("tcp", strings.TrimPrefix(d.url, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	sum := sha256.Sum256([]byte("halfwhole"))
	digest := hex.EncodeToString(sum[:])
	if err := conn.SetDeadline(time.Now().Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(conn, "PUT /v1/originals/"+digest+" HTTP/1.1\r\nHost: desk\r\nAuthorization: Bearer "+d.keys["owner"]+"\r\nContent-Length: 9\r\n\r\nhalf"); err != nil {
		t.Fatal(err)
	}
	if err := conn.(*net.TCPConn).CloseWrite(); err != nil {
		t.Fatal(err)
	}
	said, err := io.ReadAll(conn)
	if err != nil || !strings.HasPrefix(string(said), "HTTP/1.1 400") {
		t.Errorf("told %q, %v", said, err)
	}
	if got := d.do(t, "owner", "POST", "/v1/originals:stat", `{"sha256":["`+digest+`"]}`); !strings.Contains(canon(t, got.body), `"-1"`) {
		t.Errorf("the archive has %s", got.body)
	}
}

// A copy for a licensee carries its rights; its sidecar comes with it where parts are accepted.
func TestDelivery(t *testing.T) {
	d := newDesk(t)
	d.stock(t)
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 30, 20))); err != nil {
		t.Fatal(err)
	}
	picture := &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "Ide", Creators: []string{"Maren Oltedal"}, Original: &pb.Original{Sha256: d.file(t, b.String()), MediaType: "image/png"}}
	must(t)(d.archive.CreatePicture(t.Context(), system, picture, "ide-plate"))
	must(t)(d.archive.CreateGrant(t.Context(), system, &pb.Grant{
		Licensee: "parties/quillfin", Kind: pb.GrantKind_GRANT_KIND_LICENCE, Exclusivity: pb.Exclusivity_EXCLUSIVITY_NON_EXCLUSIVE, Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: "2025-01-05",
		Scope: &pb.Scope{Works: []string{"pictures/ide-plate"}, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2025-06-01", To: "2027-05-31"},
	}, "ide-grant"))
	a := d.do(t, "quillfin", "POST", "/v1/pictures/ide-plate:deliver", `{"grant":"grants/ide-grant"}`)
	if a.code != 200 || a.header.Get("Content-Type") != "image/png" || !bytes.Contains(a.body, []byte("Maren Oltedal")) {
		t.Fatalf("got %d %v %q", a.code, a.header, a.body)
	}
	m := d.do(t, "quillfin", "POST", "/v1/pictures/ide-plate:deliver", `{"grant":"grants/ide-grant"}`, with("Accept", "multipart/mixed"))
	_, params, err := mime.ParseMediaType(m.header.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	parts := multipart.NewReader(bytes.NewReader(m.body), params["boundary"])
	var kinds []string
	var last []byte
	for {
		p, err := parts.NextRawPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		kinds = append(kinds, p.Header.Get("Content-Type"))
		if last, err = io.ReadAll(p); err != nil {
			t.Fatal(err)
		}
	}
	if strings.Join(kinds, " ") != "application/json image/png" || !bytes.Equal(last, a.body) {
		t.Errorf("parts %v, the last of %d bytes", kinds, len(last))
	}
	g := d.do(t, "owner", "GET", "/v1/grants/ide-grant", "").object(t, 200)
	if n := len(g["deliveries"].([]any)); n != 1 {
		t.Errorf("%d deliveries are recorded of one copy on one day", n)
	}
	if reason, _ := d.do(t, "otterbach", "POST", "/v1/pictures/ide-plate:deliver", `{"grant":"grants/ide-grant"}`).reason(t, 404); reason != "NOT_FOUND" {
		t.Errorf("another's grant: %s", reason)
	}
}
