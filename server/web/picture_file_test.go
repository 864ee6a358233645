package web_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/png"
	"net/http"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// Until a preview is made, a browser that wants an image gets one that says so; whoever wants anything else gets the error.
func TestPreviewToCome(t *testing.T) {
	h := open(t, nil)
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		t.Fatal(err)
	}
	sum := storage.Digest(sha256.Sum256(b.Bytes()))
	if _, err := h.archive.Originals().Put(t.Context(), bytes.NewReader(b.Bytes()), int64(b.Len()), sum); err != nil {
		t.Fatal(err)
	}
	must(t)(h.archive.CreatePicture(t.Context(), system, &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "New", Original: &pb.Original{Sha256: hex.EncodeToString(sum[:])}}, "new-plate"))
	v := h.visit(t, "owner")
	for _, c := range []struct{ accept, begins, says string }{
		{"image/avif,image/webp,*/*", "<svg ", "The preview is being made"},
		{"text/html", "<!doctype html>", "Not as things stand"},
	} {
		req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, h.at+"/file/new-plate/preview-320", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept", c.accept)
		a := v.do(req)
		if a.code != http.StatusConflict || !strings.HasPrefix(a.text, c.begins) || !strings.Contains(a.text, c.says) {
			t.Errorf("%s: %d %.300s", c.accept, a.code, a.text)
		}
	}
}
