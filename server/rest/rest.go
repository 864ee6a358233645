// Package rest answers the contract as JSON over HTTP, for scripts without gRPC.
//
// A table of routes (server/rest/route) drives both the handlers and the OpenAPI document: for this contract grpc-gateway would generate some 5,000 lines, pass over unknown parameters in silence
// and leave files and streams to be written by hand all the same.
//
// Invariants: every call goes through the contract with the key that the caller presents in Authorization, so that the same roles and the same views rule; cookies are never looked at. A field,
// parameter or body that isn't understood is refused by name. An error is a google.rpc.Status as JSON, as gRPC has it.
//
// Left out: what the services do (server/api), sockets, TLS and their time limits (server), pages (server/web).
package rest

import (
	"context"
	_ "embed"
	"fmt"
	"net/http"
	"path"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"platarium/server/rest/route"
)

//go:embed openapi.json
var document []byte

// MaxBody is the largest JSON body taken, bytes: a batch of 1,000 pictures fits. Originals have the limit of the contract.
const MaxBody = 32 << 20

// answerer answers one route.
type answerer interface {
	answer(w http.ResponseWriter, r *http.Request) error
}

// call is a method of the contract as it is reached by one route.
type call struct {
	conn     grpc.ClientConnInterface
	route    route.Route
	template route.Template
	in, out  protoreflect.MessageType
}

// New answers for everything below /v1/ over a connection to the services. It is an error of the program if a route doesn't fit the contract.
func New(conn grpc.ClientConnInterface) (http.Handler, error) {
	mux := http.NewServeMux()
	byPattern := map[string]*crossing{}
	for _, r := range route.All() {
		c := call{conn: conn, route: r}
		a, err := c.resolve()
		if err != nil {
			return nil, err
		}
		pattern := r.Verb + " " + c.template.Path
		if byPattern[pattern] == nil {
			byPattern[pattern] = &crossing{mux: mux, last: c.template.Last(), ways: map[string]answerer{}}
		}
		if byPattern[pattern].ways[c.template.Action] != nil {
			return nil, fmt.Errorf("%s %s is there twice", r.Verb, r.Path)
		}
		byPattern[pattern].ways[c.template.Action] = a
	}
	for pattern, x := range byPattern {
		mux.Handle(pattern, x)
	}
	mux.HandleFunc("GET /v1/openapi.json", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		_, _ = w.Write(document)
	})
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) { astray(mux, w, r) })
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'; sandbox")
		h.Set("X-Content-Type-Options", "nosniff")
		mux.ServeHTTP(w, r)
	}), nil
}

// resolve finds the method in the contract, and the way to answer its kind.
func (c *call) resolve() (answerer, error) {
	var err error
	if c.template, err = c.route.Template(); err != nil {
		return nil, err
	}
	name := protoreflect.FullName(strings.ReplaceAll(strings.TrimPrefix(c.route.Method, "/"), "/", "."))
	d, err := protoregistry.GlobalFiles.FindDescriptorByName(name)
	if err != nil {
		return nil, fmt.Errorf("route of %s: %w", name, err)
	}
	m, ok := d.(protoreflect.MethodDescriptor)
	if !ok {
		return nil, fmt.Errorf("route of %s: not a method", name)
	}
	for d, t := range map[protoreflect.MessageDescriptor]*protoreflect.MessageType{m.Input(): &c.in, m.Output(): &c.out} {
		if *t, err = protoregistry.GlobalTypes.FindMessageByName(d.FullName()); err != nil {
			return nil, fmt.Errorf("route of %s: %w", name, err)
		}
	}
	switch kind := route.KindOf(m); kind {
	case route.Unary:
		return unary{c}, nil
	case route.Lines:
		return lines{c}, nil
	case route.Ranges:
		return ranges{c}, nil
	case route.File:
		return file{c}, nil
	case route.Upload:
		return upload{c}, nil
	default:
		return nil, fmt.Errorf("route of %s: kind %d has no answer", name, kind)
	}
}

// crossing parts the routes of one path by their custom methods, which net/http can't tell from the id before them.
type crossing struct {
	mux  *http.ServeMux
	last string // parameter that ends the path, if one does
	ways map[string]answerer
}

// way finds the answer for what stands in the last segment of a path, and the id in it. No id has a colon.
func (x *crossing) way(segment string) (answerer, string) {
	if x.last == "" {
		return x.ways[""], ""
	}
	id, action, _ := strings.Cut(segment, ":")
	return x.ways[action], id
}

func (x *crossing) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	way, id := x.way(r.PathValue(x.last))
	if way == nil {
		astray(x.mux, w, r)
		return
	}
	if x.last != "" {
		r.SetPathValue(x.last, id)
	}
	err := admitted(r)
	if err == nil {
		err = way.answer(w, r)
	}
	if err != nil {
		fail(w, err)
	}
}

// admitted refuses at once who presents no key, before a body is read. Whether the key is good is for the services to say.
func admitted(r *http.Request) error {
	if v := r.Header.Values("Authorization"); len(v) != 1 || !strings.HasPrefix(v[0], "Bearer ") {
		return refusal(codes.Unauthenticated, "NO_KEY", "no key was presented")
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return nil
	}
	if r.ContentLength != 0 {
		return invalid("body", "found one; %s takes none", r.Method)
	}
	return nil
}

// invoke calls the method as the caller.
func (c *call) invoke(r *http.Request, req proto.Message) (proto.Message, error) {
	res := c.out.New().Interface()
	return res, c.conn.Invoke(withKey(r), c.route.Method, req, res, limits...)
}

// open begins a stream as the caller. It ends with the request.
func (c *call) open(r *http.Request, kind grpc.StreamDesc) (grpc.ClientStream, error) {
	return c.conn.NewStream(withKey(r), &kind, c.route.Method, limits...)
}

// limits let messages through that are as large as the services take and send.
var limits = []grpc.CallOption{grpc.MaxCallSendMsgSize(MaxBody), grpc.MaxCallRecvMsgSize(MaxBody)}

// withKey hands the caller's key on, and nothing else of what it sent.
func withKey(r *http.Request) context.Context {
	return metadata.AppendToOutgoingContext(r.Context(), "authorization", r.Header.Get("Authorization"))
}

// astray answers for what no route has: 405 if another verb would do, else 404.
func astray(mux *http.ServeMux, w http.ResponseWriter, r *http.Request) {
	var allow []string
	for _, verb := range []string{http.MethodDelete, http.MethodGet, http.MethodPatch, http.MethodPost, http.MethodPut} {
		other := r.Clone(r.Context())
		other.Method = verb
		h, _ := mux.Handler(other)
		x, ok := h.(*crossing)
		if !ok {
			continue
		}
		if way, _ := x.way(path.Base(r.URL.Path)); way != nil {
			allow = append(allow, verb)
		}
	}
	if len(allow) == 0 {
		fail(w, errNoRoute(r))
		return
	}
	w.Header().Set("Allow", strings.Join(allow, ", "))
	fail(w, &httpError{http.StatusMethodNotAllowed, refusal(codes.Unimplemented, "METHOD", fmt.Sprintf("found %s; want %s", r.Method, strings.Join(allow, " or ")))})
}
