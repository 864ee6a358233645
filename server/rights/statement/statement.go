// Package statement writes what is on record about the licences of a picture or a party, or one grant, as a file that proves its own wholeness and names the journal's commit it rests on.
//
// Invariants: pure; the same content gives the same bytes: JSON in the canonical form of RFC 8785 (keys sorted, no space, UTF-8, the shortest escapes), restricted to
// objects, lists and strings, so that numbers have no second form; the member digest is the sha256 of the statement without it.
//
// The digest guards against damage and careless edits, not against forgery: whoever changes the text can count it anew. What can't be made up is the commit, which is why a
// statement is also held against the archive's journal.
//
// Left out: what stands in a statement (server/api) and the journal.
package statement

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"unicode/utf8"
)

// Format names the form of a statement; it stands in its member format.
const Format = "platarium statement 1"

// Sentinel errors of a file that was read. The caller doesn't trust it.
var (
	// ErrForm: not a statement, or not in canonical form.
	ErrForm = errors.New("not a statement in canonical form")
	// ErrDigest: the text isn't the one that was sealed.
	ErrDigest = errors.New("the statement doesn't agree with its own digest")
)

const digestPrefix = "sha256:"

// Mark is what a statement says of itself.
type Mark struct {
	Archive  string // id of the archive
	Picture  string // of which it is; or
	Grant    string // or
	Party    string
	Sequence int64
	Head     string // sha256 of that commit, hex
	Digest   string // sha256 of the statement, hex
}

// Seal adds format and digest and writes the canonical form. Values are strings, []any and map[string]any. An error means that a value is none of them, or no UTF-8.
func Seal(content map[string]any) ([]byte, error) {
	whole := maps.Clone(content)
	whole["format"] = Format
	delete(whole, "digest")
	b, err := appendValue(nil, whole)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(b)
	whole["digest"] = digestPrefix + hex.EncodeToString(sum[:])
	return appendValue(nil, whole)
}

// Check reads a statement and verifies form and digest. The error wraps ErrForm or ErrDigest.
func Check(b []byte) (Mark, map[string]any, error) {
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.UseNumber()
	var v any
	if err := dec.Decode(&v); err != nil {
		return Mark{}, nil, fmt.Errorf("%w: %w", ErrForm, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Mark{}, nil, fmt.Errorf("%w: something follows it", ErrForm)
	}
	content, is := v.(map[string]any)
	if !is || content["format"] != Format {
		return Mark{}, nil, fmt.Errorf("%w: want an object whose format is %q", ErrForm, Format)
	}
	again, err := appendValue(nil, content)
	if err != nil {
		return Mark{}, nil, fmt.Errorf("%w: %w", ErrForm, err)
	}
	if !bytes.Equal(again, b) {
		return Mark{}, nil, fmt.Errorf("%w: keys out of order or twice, space, or an escape that isn't the shortest", ErrForm)
	}
	sealed, err := Seal(content)
	if err != nil {
		return Mark{}, nil, fmt.Errorf("%w: %w", ErrForm, err)
	}
	if !bytes.Equal(sealed, b) {
		return Mark{}, nil, ErrDigest
	}
	text := func(key string) string { s, _ := content[key].(string); return s }
	seq, err := strconv.ParseInt(text("sequence"), 10, 64)
	if err != nil || seq < 1 || len(text("head")) != hex.EncodedLen(sha256.Size) {
		return Mark{}, nil, fmt.Errorf("%w: sequence %q and head %q; want the number of a commit and its sha256", ErrForm, text("sequence"), text("head"))
	}
	return Mark{Archive: text("archive"), Picture: text("picture"), Grant: text("grant"), Party: text("party"), Sequence: seq, Head: text("head"), Digest: text("digest")[len(digestPrefix):]}, content, nil
}

// Subject is the picture, grant or party that a statement is of.
func (m Mark) Subject() string { return cmp.Or(m.Grant, m.Party, m.Picture) }

func appendValue(b []byte, v any) ([]byte, error) {
	var err error
	switch v := v.(type) {
	case string:
		return appendString(b, v)
	case []any:
		b = append(b, '[')
		for i, e := range v {
			if i > 0 {
				b = append(b, ',')
			}
			if b, err = appendValue(b, e); err != nil {
				return nil, err
			}
		}
		return append(b, ']'), nil
	case map[string]any:
		b = append(b, '{')
		for i, k := range slices.Sorted(maps.Keys(v)) { // bytewise, which for the ASCII keys in use is the order of RFC 8785
			if i > 0 {
				b = append(b, ',')
			}
			if b, err = appendString(b, k); err != nil {
				return nil, err
			}
			if b, err = appendValue(append(b, ':'), v[k]); err != nil {
				return nil, err
			}
		}
		return append(b, '}'), nil
	default:
		return nil, fmt.Errorf("a value of type %T; want text, a list or an object", v)
	}
}

// appendString writes a string with the escapes of RFC 8785, section 3.2.2.2.
func appendString(b []byte, s string) ([]byte, error) {
	if !utf8.ValidString(s) {
		return nil, fmt.Errorf("text %q isn't UTF-8", s)
	}
	b = append(b, '"')
	for i := range len(s) {
		c := s[i]
		switch {
		case c == '"' || c == '\\':
			b = append(b, '\\', c)
		case c == '\b':
			b = append(b, `\b`...)
		case c == '\t':
			b = append(b, `\t`...)
		case c == '\n':
			b = append(b, `\n`...)
		case c == '\f':
			b = append(b, `\f`...)
		case c == '\r':
			b = append(b, `\r`...)
		case c < ' ':
			b = fmt.Appendf(b, `\u%04x`, c)
		default:
			b = append(b, c)
		}
	}
	return append(b, '"'), nil
}
