package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"slices"

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
	asked []byte // the rest of the request, and who asks
}

// check is the checksum that a token carries of its question and its place.
func (p page) check(after string) []byte {
	sum := sha256.Sum256(fmt.Appendf(p.asked, "|%s", after))
	return sum[:checkLen]
}

// pageOf reads size and token of a request. A token fits the question that it was made for, asked by the same caller, and nothing else.
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
	out.asked = slices.Clip(fmt.Appendf(b, "|%s|%s|%s", m.Descriptor().FullName(), p.role, p.party))
	if req.GetPageToken() == "" {
		return out, nil
	}
	raw, err := base64.RawURLEncoding.Strict().DecodeString(req.GetPageToken())
	if err != nil || len(raw) < checkLen || !bytes.Equal(raw[:checkLen], out.check(string(raw[checkLen:]))) {
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
	return base64.RawURLEncoding.EncodeToString(append(p.check(last), last...))
}
