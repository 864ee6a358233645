package web

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

// file sends an original or a derived image, as far as the visitor may have it.
func (s *Site) file(v *visit) error {
	stream, err := s.services.transfer.Download(v.ctx(), &pb.DownloadRequest{Picture: v.named("pictures"), Variant: v.r.PathValue("variant")})
	if err != nil {
		return err
	}
	first, err := stream.Recv()
	if err != nil {
		if v.standIn(err) {
			return nil
		}
		return err
	}
	head := first.GetHeader()
	etag := strconv.Quote(head.GetSha256())
	h := v.w.Header()
	h.Set("Cache-Control", "private, no-cache") // kept, and asked for again: the key may end
	h.Set("ETag", etag)
	if v.r.Header.Get("If-None-Match") == etag {
		v.w.WriteHeader(http.StatusNotModified)
		return nil
	}
	h.Set("Content-Type", head.GetMediaType())
	h.Set("Content-Length", strconv.FormatInt(head.GetSize(), 10))
	disposition := "inline"
	if v.r.PathValue("variant") == "original" {
		disposition = "attachment" // whatever it holds, it doesn't run here
	}
	h.Set("Content-Disposition", disposition+"; filename="+strconv.Quote(safeName(head.GetFileName())))
	for {
		part, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			s.conf.Log.Warn("a download broke off", "picture", v.named("pictures"), "error", err)
			panic(http.ErrAbortHandler) // the length was promised: the visitor must notice
		}
		if _, err := v.w.Write(part.GetChunk()); err != nil {
			return nil //nolint:nilerr // the visitor has gone, and needs no answer
		}
	}
}

// standIn shows in place of a preview that isn't there, or not yet, why: to a browser that asks for an image.
func (v *visit) standIn(err error) bool {
	if v.r.PathValue("variant") == "original" || !strings.HasPrefix(v.r.Header.Get("Accept"), "image/") {
		return false
	}
	words := "There is no preview of this file"
	switch reason(err) {
	case "PREVIEW_PENDING":
		words = "The preview is being made"
	case "NO_PREVIEW":
	default:
		return false
	}
	v.w.Header().Set("Content-Type", "image/svg+xml")
	v.w.WriteHeader(complain(err).Code)
	_, _ = fmt.Fprintf(v.w, `<svg xmlns="http://www.w3.org/2000/svg" width="320" height="213" viewBox="0 0 320 213"><rect width="320" height="213" fill="#ece5d8"/>`+
		`<text x="160" y="112" text-anchor="middle" font-family="serif" font-size="16" fill="#5c5449">%s</text></svg>`, words) // the visitor may have gone
	return true
}

// reason is that which a service gives with an error, in UPPER_SNAKE.
func reason(err error) string {
	for _, d := range status.Convert(err).Details() {
		if info, ok := d.(*errdetails.ErrorInfo); ok {
			return info.GetReason()
		}
	}
	return ""
}

// safeName is a file name of plain ASCII, as headers want it.
func safeName(s string) string {
	out := []rune{}
	for _, r := range s {
		if r > ' ' && r < 0x7f && r != '"' && r != '\\' && r != '/' {
			out = append(out, r)
		} else {
			out = append(out, '-')
		}
	}
	if len(out) == 0 {
		return "picture"
	}
	return string(out)
}
