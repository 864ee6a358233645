package web

import (
	"errors"
	"io"
	"net/http"
	"strconv"

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
