package api

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// errPageToken: the token belongs to another request. The caller begins again at the first page.
var errPageToken = errors.New("page_token was made for another request; begin again without it")

// Pages of lists.
const (
	defaultPage = 100
	largestPage = 1000
	checkLen    = 12 // bytes of the checksum in a token
)

// paged is a request for a page.
type paged interface {
	proto.Message
	GetPageSize() int32
	GetPageToken() string
}

// page is what a list is asked for: so many after a name.
type page struct {
	size  int
	after string
	check []byte
}

// pageOf reads size and token of a request. The token carries a checksum of the rest of the request and of who asks.
func pageOf(req paged, p principal) (page, error) {
	out := page{size: int(req.GetPageSize())}
	switch {
	case out.size == 0:
		out.size = defaultPage
	case out.size < 0 || out.size > largestPage:
		return out, field("page_size", "found %d; want 1 to %d, or 0 for %d", out.size, largestPage, defaultPage)
	}
	rest := proto.Clone(req)
	m := rest.ProtoReflect()
	for _, name := range []protoreflect.Name{"page_size", "page_token"} {
		m.Clear(m.Descriptor().Fields().ByName(name))
	}
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(rest)
	if err != nil {
		return out, err
	}
	sum := sha256.Sum256(fmt.Appendf(b, "|%s|%s|%s", m.Descriptor().FullName(), p.role, p.party))
	out.check = sum[:checkLen]
	if req.GetPageToken() == "" {
		return out, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(req.GetPageToken())
	if err != nil || len(raw) < checkLen || string(raw[:checkLen]) != string(out.check) {
		return out, errPageToken
	}
	out.after = string(raw[checkLen:])
	return out, nil
}

// next is the token for the page after the one that ends with last; empty if there is none.
func (p page) next(last string, more bool) string {
	if !more {
		return ""
	}
	return base64.RawURLEncoding.EncodeToString(append(p.check[:checkLen:checkLen], last...))
}
