package rest_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"platarium/server/rest/route"
)

// noRoute are methods that HTTP doesn't offer, each with the reason.
var noRoute = map[string]string{}

// Every method of the contract has a route or a reason, and every route stands in the document.
func TestEveryMethodHasARoute(t *testing.T) {
	doc := newDesk(t).document(t)
	routed := map[string]route.Route{}
	for _, r := range route.All() {
		if old, ok := routed[r.Method]; ok {
			t.Errorf("%s has two routes, %s and %s", r.Method, old.Path, r.Path)
		}
		routed[r.Method] = r
	}
	methods, documented := 0, 0
	protoregistry.GlobalFiles.RangeFilesByPackage("platarium.v1", func(f protoreflect.FileDescriptor) bool {
		for i := range f.Services().Len() {
			s := f.Services().Get(i)
			for k := range s.Methods().Len() {
				methods++
				m := s.Methods().Get(k)
				full := fmt.Sprintf("/%s/%s", s.FullName(), m.Name())
				r, ok := routed[full]
				if _, excused := noRoute[full]; ok == excused {
					t.Errorf("%s: want either a route or a reason", full)
				}
				if !ok {
					continue
				}
				path, err := r.Template()
				if err != nil {
					t.Error(err)
					continue
				}
				op := doc.Paths.Value(path.Whole()).GetOperation(r.Verb)
				if op == nil || op.OperationID != string(m.Name()) || op.Description == "" {
					t.Errorf("%s %s isn't described as %s", r.Verb, path.Whole(), m.Name())
				}
				if f := m.Output().Fields().ByName("error"); f != nil && m.IsStreamingServer() {
					t.Errorf("%s streams messages with a field error, which is the sign of a stream that failed", full)
				}
			}
		}
		return true
	})
	for _, item := range doc.Paths.Map() {
		documented += len(item.Operations())
	}
	if methods < 60 || documented != len(routed) {
		t.Errorf("%d methods, %d routes, %d described", methods, len(routed), documented)
	}
}

// document reads the OpenAPI document as anybody does, without a key, and has it judged.
func (d *desk) document(t *testing.T) *openapi3.T {
	t.Helper()
	a := d.do(t, "", "GET", "/v1/openapi.json", "")
	if a.code != 200 || a.header.Get("Content-Type") != "application/json" {
		t.Fatalf("got %d %v", a.code, a.header)
	}
	doc, err := openapi3.NewLoader().LoadFromData(a.body)
	if err != nil {
		t.Fatal(err)
	}
	if err := doc.Validate(t.Context()); err != nil {
		t.Fatalf("the document isn't valid: %v", err)
	}
	return doc
}

// The document tells what a field is for, and what can be given where.
func TestDocumentSays(t *testing.T) {
	doc := newDesk(t).document(t)
	picture := doc.Components.Schemas["Picture"].Value
	for _, name := range []string{"title", "identification", "updateTime"} {
		if p := picture.Properties[name]; p == nil || p.Value.Description == "" {
			t.Errorf("Picture.%s is without a word", name)
		}
	}
	for _, c := range []struct {
		verb, path string
		want       []string
	}{
		{"PATCH", "/v1/pictures/{id}", []string{"header Idempotency-Key", "path id", "query requestId", "query updateMask"}},
		{"POST", "/v1/pictures", []string{"header Idempotency-Key", "query pictureId", "query requestId"}},
		{"GET", "/v1/pictures/{id}/files/{variant}", []string{"header If-None-Match", "header Range", "path id", "path variant"}},
		{"PUT", "/v1/originals/{sha256}", []string{"path sha256", "query fileName"}},
		{"POST", "/v1/pictures:search", nil},
		{"GET", "/v1/{collection}/{id}/revisions", []string{"path collection", "path id", "query pageSize", "query pageToken"}},
	} {
		var got []string
		for _, p := range doc.Paths.Value(c.path).GetOperation(c.verb).Parameters {
			got = append(got, p.Value.In+" "+p.Value.Name)
		}
		if slices.Sort(got); !slices.Equal(got, c.want) {
			t.Errorf("%s %s takes %q; want %q", c.verb, c.path, got, c.want)
		}
	}
	body := doc.Paths.Value("/v1/grants/{id}:end").Post.RequestBody.Value.Content["application/json"].Schema.Value
	if got := slices.Sorted(maps.Keys(body.Properties)); !slices.Equal(got, []string{"endedOn", "reason", "requestId"}) {
		t.Errorf("the end of a grant takes %q", got)
	}
}

// Answers are what the document says.
func TestAnswersFitTheDocument(t *testing.T) {
	d := newDesk(t)
	d.stock(t)
	doc := d.document(t)
	for _, c := range []struct{ key, verb, path, described, body string }{
		{"assistant", "GET", "/v1/status", "/v1/status", ""},
		{"assistant", "GET", "/v1/pictures", "/v1/pictures", ""},
		{"quillfin", "GET", "/v1/pictures", "/v1/pictures", ""},
		{"assistant", "GET", "/v1/pictures/perch-plate", "/v1/pictures/{id}", ""},
		{"assistant", "GET", "/v1/pictures/perch-plate/revisions", "/v1/{collection}/{id}/revisions", ""},
		{"assistant", "GET", "/v1/pictures/perch-plate/derived", "/v1/pictures/{id}/derived", ""},
		{"quillfin", "GET", "/v1/pictures/perch-plate/history", "/v1/pictures/{id}/history", ""},
		{"quillfin", "GET", "/v1/statement?picture=pictures/perch-plate", "/v1/statement", ""},
		{"quillfin", "GET", "/v1/statement?party=parties/quillfin", "/v1/statement", ""},
		{"assistant", "GET", "/v1/grants/first-grant", "/v1/grants/{id}", ""},
		{"assistant", "GET", "/v1/grants/first-grant/export", "/v1/grants/{id}/export", ""},
		{"assistant", "GET", "/v1/grants?party=parties/quillfin", "/v1/grants", ""},
		{"assistant", "GET", "/v1/history?party=parties/quillfin", "/v1/history", ""},
		{"assistant", "GET", "/v1/alarms?days=3000", "/v1/alarms", ""},
		{"assistant", "GET", "/v1/journal/1?head=" + strings.Repeat("0", 64), "/v1/journal/{sequence}", ""},
		{"assistant", "POST", "/v1/pictures:search", "/v1/pictures:search", `{"wanted":{"near":"Perca fluviatilis","counts":"D XIV"},"facets":["kind","view"]}`},
		{"assistant", "POST", "/v1/taxa:match", "/v1/taxa:match", `{"names":["Perca fluviatillis"]}`},
		{"assistant", "POST", "/v1/counts:parse", "/v1/counts:parse", `{"formulae":["D XIV, I,13"]}`},
		{"otterbach", "POST", "/v1/availability", "/v1/availability", `{"scope":{"works":["pictures/perch-plate"],"media":["print.book"],"territories":["DE"],"languages":["de"],"from":"2026-06-01","to":"2026-12-31"}}`},
		{"owner", "GET", "/v1/keys", "/v1/keys", ""},
		{"owner", "POST", "/v1/keys", "/v1/keys", `{"displayName":"night desk","role":"ROLE_ASSISTANT"}`},
		{"owner", "POST", "/v1/keys/assistant-key:revoke", "/v1/keys/{id}:revoke", ""},
		{"owner", "GET", "/v1/pictures/none-such", "", ""},
	} {
		a := d.do(t, c.key, c.verb, c.path, c.body)
		schema := doc.Components.Responses["Error"].Value.Content["application/json"].Schema.Value
		if c.described != "" {
			if a.code != 200 {
				t.Errorf("%s %s: %d %s", c.verb, c.path, a.code, a.body)
				continue
			}
			schema = doc.Paths.Value(c.described).GetOperation(c.verb).Responses.Value("200").Value.Content["application/json"].Schema.Value
		}
		var v any
		if err := json.Unmarshal(a.body, &v); err != nil {
			t.Fatal(err)
		}
		if err := schema.VisitJSON(v); err != nil {
			t.Errorf("%s %s: %v", c.verb, c.path, err)
		}
	}
}
