package indexer

import (
	"cmp"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// cursor is the place after which a page begins: the sort key of the last hit
// before it. Since a score depends on picture and question alone, the place stays
// good while other pictures come and go; pictures that changed after the first
// page are left out of later ones (they may have been shown already) and a remark
// says how many.
type cursor struct {
	Asked    string  `json:"a"` // fingerprint of the request
	Sequence int64   `json:"q"` // commit at which the first page was made
	Score    float64 `json:"s,omitempty"`
	Label    string  `json:"l,omitempty"`
	Made     int32   `json:"m,omitempty"`
	Created  int64   `json:"c,omitempty"`
	Name     string  `json:"n"`
}

// maxToken bounds a page token in bytes.
const maxToken = 2048

// fingerprint tells requests apart by all that decides which hits come in which
// order.
func fingerprint(r *pb.SearchPicturesRequest, outsider bool) string {
	same, ok := proto.Clone(r).(*pb.SearchPicturesRequest)
	if !ok {
		return ""
	}
	same.PageToken, same.PageSize, same.Facets, same.MinSequence = "", 0, nil, 0
	// What a program wrote it can write; within one version the bytes agree.
	b, _ := proto.MarshalOptions{Deterministic: true}.Marshal(same)
	if outsider {
		b = append(b, 1)
	}
	sum := sha256.Sum256(b)
	return base64.RawURLEncoding.EncodeToString(sum[:9])
}

func (c *cursor) token() string {
	b, _ := json.Marshal(c) // plain fields without NaN: see scan
	return base64.RawURLEncoding.EncodeToString(b)
}

// readToken reads a page token of the request with this fingerprint.
func readToken(s, asked string) (*cursor, error) {
	bad := &FieldError{Field: "page_token", Found: "a token that wasn't given out", Want: "next_page_token of the page before"}
	if len(s) > maxToken {
		return nil, bad
	}
	b, err := base64.RawURLEncoding.DecodeString(s)
	if err != nil {
		return nil, bad
	}
	c := new(cursor)
	if err := json.Unmarshal(b, c); err != nil || c.Name == "" || c.Sequence < 0 {
		return nil, bad
	}
	if c.Asked != asked {
		return nil, &FieldError{Field: "page_token", Found: "a token of another question", Want: "the question of the page before, unchanged but for page_size, facets and min_sequence"}
	}
	return c, nil
}

// match is a picture that fits, with its score.
type match struct {
	ord   uint32
	score float64
}

// order compares hits in the order asked for; no two are equal.
type order struct {
	by   pb.SearchPicturesRequest_Order
	cols *columns
}

func (o order) compare(a, b match) int {
	c := o.cols
	switch o.by {
	case pb.SearchPicturesRequest_ORDER_RELEVANCE:
		if a.score != b.score {
			return cmp.Compare(b.score, a.score)
		}
	case pb.SearchPicturesRequest_ORDER_NAME:
		if c.label.codes[a.ord] != c.label.codes[b.ord] {
			return cmp.Compare(c.label.at(a.ord), c.label.at(b.ord))
		}
	default: // newest first, which also settles ties of the others
	}
	// One after the other: most are settled by the first.
	if n := cmp.Compare(c.made.at(b.ord).to, c.made.at(a.ord).to); n != 0 {
		return n
	}
	if n := cmp.Compare(c.created[b.ord], c.created[a.ord]); n != 0 {
		return n
	}
	return cmp.Compare(c.names[a.ord], c.names[b.ord])
}

// after compares a hit with a cursor as compare would.
func (o order) after(m match, at *cursor) bool {
	c := o.cols
	n := 0
	switch o.by {
	case pb.SearchPicturesRequest_ORDER_RELEVANCE:
		n = cmp.Compare(at.Score, m.score)
	case pb.SearchPicturesRequest_ORDER_NAME:
		n = cmp.Compare(c.label.at(m.ord), at.Label)
	default:
	}
	if n == 0 {
		n = cmp.Compare(at.Made, c.made.at(m.ord).to)
	}
	if n == 0 {
		n = cmp.Compare(at.Created, c.created[m.ord])
	}
	if n == 0 {
		n = cmp.Compare(c.names[m.ord], at.Name)
	}
	return n > 0
}

func (o order) cursor(m match, asked string, seq int64) *cursor {
	c := o.cols
	return &cursor{
		Asked: asked, Sequence: seq, Score: m.score, Label: c.label.at(m.ord), Made: c.made.at(m.ord).to,
		Created: c.created[m.ord], Name: c.names[m.ord],
	}
}

// first gives the n first matches in order, and whether there are more. It keeps
// a heap of n with the last at the top, so that most matches cost one comparison.
func (o order) first(matches []match, n int, at *cursor) (page []match, more bool) {
	for _, m := range matches {
		if at != nil && !o.after(m, at) {
			continue
		}
		if len(page) < n {
			page = append(page, m)
			o.up(page)
			continue
		}
		more = true
		if o.compare(m, page[0]) < 0 {
			page[0] = m
			o.down(page)
		}
	}
	slices.SortFunc(page, o.compare)
	return page, more
}

func (o order) up(h []match) {
	for i := len(h) - 1; i > 0; {
		p := (i - 1) / 2
		if o.compare(h[i], h[p]) <= 0 {
			return
		}
		h[i], h[p] = h[p], h[i]
		i = p
	}
}

func (o order) down(h []match) {
	for i := 0; ; {
		k := 2*i + 1
		if k >= len(h) {
			return
		}
		if k+1 < len(h) && o.compare(h[k+1], h[k]) > 0 {
			k++
		}
		if o.compare(h[k], h[i]) <= 0 {
			return
		}
		h[i], h[k] = h[k], h[i]
		i = k
	}
}

// finite keeps scores fit for comparing and for tokens.
func finite(score float64) float64 {
	if math.IsNaN(score) || math.IsInf(score, 0) {
		return 0
	}
	return score
}

// changedSince is the remark about pictures left out of a later page.
func changedSince(n int) string {
	if n == 1 {
		return "1 picture was added or changed since the first page and is left out; ask anew to see it"
	}
	return fmt.Sprintf("%d pictures were added or changed since the first page and are left out; ask anew to see them", n)
}
