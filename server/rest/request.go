package rest

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"platarium/server/rest/route"
)

// IdempotencyKey is the header that stands for request_id (draft-ietf-httpapi-idempotency-key-header).
const IdempotencyKey = "Idempotency-Key"

// deepest is how deep a body may be nested; no message of the contract comes near.
const deepest = 64

// request makes the request of the contract out of body, path, parameters and header.
func (c *call) request(w http.ResponseWriter, r *http.Request) (proto.Message, error) {
	req := c.in.New()
	if err := c.readBody(w, r, req); err != nil {
		return nil, err
	}
	taken := append([]string{c.route.Body}, c.route.Elsewhere()...)
	for _, v := range c.template.Vars {
		value := v.Value(r.PathValue)
		if old := at(req, v.Field); old != "" && old != value {
			return nil, invalid(v.Field, "found %q in the body and %q in the path", old, value)
		}
		if err := assign(req, v.Field, []string{value}); err != nil {
			return nil, err
		}
		taken = append(taken, v.Field)
	}
	if err := parameters(r.URL, req, taken); err != nil {
		return nil, err
	}
	return req.Interface(), idempotent(r, req)
}

// readBody reads the JSON of a request into the request or the field of it that the route names.
func (c *call) readBody(w http.ResponseWriter, r *http.Request, req protoreflect.Message) error {
	b, err := io.ReadAll(http.MaxBytesReader(w, r.Body, MaxBody))
	if over := (*http.MaxBytesError)(nil); errors.As(err, &over) {
		return &httpError{http.StatusRequestEntityTooLarge, refusal(codes.InvalidArgument, "TOO_LARGE", "the body is too large; want at most 32 MiB")}
	}
	if err != nil {
		return refusal(codes.InvalidArgument, "BODY", "the body ended early")
	}
	into := req
	switch c.route.Body {
	case "":
		if len(b) > 0 {
			return invalid("body", "found one; %s takes none here", r.Method)
		}
		return nil
	case "*":
		if len(b) == 0 {
			return nil
		}
	default:
		into = req.Mutable(req.Descriptor().Fields().ByName(protoreflect.Name(c.route.Body))).Message()
	}
	if err := (protojson.UnmarshalOptions{RecursionLimit: deepest}).Unmarshal(b, into.Interface()); err != nil {
		return malformed(err, into.Descriptor().Name())
	}
	return nil
}

// unknownField is how the decoder speaks of a field that a message doesn't have: line, column, name.
var unknownField = regexp.MustCompile(`\(line (\d+):(\d+)\): unknown field "((?:[^"\\]|\\.)*)"`)

// malformed says what is wrong with a body. The decoder's words are kept, without the prefix that it varies on purpose.
func malformed(err error, want protoreflect.Name) error {
	text := strings.TrimLeftFunc(strings.TrimPrefix(err.Error(), "proto:"), unicode.IsSpace)
	if m := unknownField.FindStringSubmatch(text); m != nil {
		return invalid(m[3], "there is no such field; found it in line %s, column %s", m[1], m[2])
	}
	return invalid("body", "found what isn't the JSON of %s: %s", want, text)
}

// parameters puts those of the query into the request: fields of its first level that stand neither in the body nor in the path.
func parameters(u *url.URL, req protoreflect.Message, taken []string) error {
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return invalid("query", "can't be read: %s", err)
	}
	for name, values := range query {
		f := fieldOf(req.Descriptor(), name)
		switch {
		case f == nil:
			return invalid(name, "there is no such parameter")
		case slices.Contains(taken, "*"):
			return invalid(name, "belongs into the body here")
		case slices.Contains(taken, string(f.Name())) || !route.Parameter(f):
			return invalid(name, "isn't taken from the query")
		case len(values) > 1 && !f.IsList():
			return invalid(name, "is given %d times", len(values))
		}
		if err := assign(req, string(f.Name()), values); err != nil {
			return err
		}
	}
	return nil
}

// fieldOf finds a field by its JSON name or its name in the contract, as JSON bodies do.
func fieldOf(d protoreflect.MessageDescriptor, name string) protoreflect.FieldDescriptor {
	if f := d.Fields().ByJSONName(name); f != nil {
		return f
	}
	return d.Fields().ByName(protoreflect.Name(name))
}

// assign sets a field to values written as text. The path goes down through single messages.
func assign(m protoreflect.Message, path string, values []string) error {
	names := strings.Split(path, ".")
	for _, n := range names[:len(names)-1] {
		m = m.Mutable(m.Descriptor().Fields().ByName(protoreflect.Name(n))).Message()
	}
	f := m.Descriptor().Fields().ByName(protoreflect.Name(names[len(names)-1]))
	texts := make([]json.RawMessage, len(values))
	for i, v := range values {
		b, err := json.Marshal(v)
		if err != nil {
			return err
		}
		if f.Kind() == protoreflect.BoolKind && (v == "true" || v == "false") {
			b = []byte(v)
		}
		texts[i] = b
	}
	var value any = texts
	if !f.IsList() {
		value = texts[0]
	}
	b, err := json.Marshal(map[string]any{string(f.Name()): value})
	if err != nil {
		return err
	}
	one := m.New().Interface()
	if err := protojson.Unmarshal(b, one); err != nil {
		return invalid(path, "found %q; want %s", strings.Join(values, ", "), wanted(f))
	}
	proto.Merge(m.Interface(), one)
	return nil
}

// wanted says in words what a field takes.
func wanted(f protoreflect.FieldDescriptor) string {
	switch {
	case f.Enum() != nil:
		return "a name of " + string(f.Enum().Name())
	case f.Message() != nil:
		return "names of fields with commas between"
	case f.Kind() == protoreflect.BoolKind:
		return "true or false"
	case f.Kind() == protoreflect.StringKind:
		return "text in UTF-8"
	default:
		return "a number (" + f.Kind().String() + ")"
	}
}

// at is what a field of text holds; empty if it isn't set.
func at(m protoreflect.Message, path string) string {
	names := strings.Split(path, ".")
	for i, n := range names {
		f := m.Descriptor().Fields().ByName(protoreflect.Name(n))
		if !m.Has(f) {
			return ""
		}
		if i == len(names)-1 {
			return m.Get(f).String()
		}
		m = m.Get(f).Message()
	}
	return ""
}

// idempotent puts the header into request_id. Where a request takes none, the header is refused, so that nobody believes that a repetition is harmless.
func idempotent(r *http.Request, req protoreflect.Message) error {
	values := r.Header.Values(IdempotencyKey)
	if len(values) == 0 {
		return nil
	}
	id := strings.Trim(values[0], `"`) // the draft has it as a quoted string
	f := req.Descriptor().Fields().ByName("request_id")
	switch {
	case len(values) > 1:
		return invalid(IdempotencyKey, "is given %d times", len(values))
	case f == nil:
		return invalid(IdempotencyKey, "%s takes no request_id", req.Descriptor().Name())
	case req.Has(f) && req.Get(f).String() != id:
		return invalid(IdempotencyKey, "found %q, and %q in request_id", id, req.Get(f).String())
	}
	return assign(req, "request_id", []string{id})
}
