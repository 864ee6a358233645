package route

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

func TestTemplate(t *testing.T) {
	for _, c := range []struct{ template, path, action, last, values string }{
		{"/v1/pictures", "/v1/pictures", "", "", ""},
		{"/v1/pictures:search", "/v1/pictures:search", "", "", ""},
		{"/v1/{name=pictures/*}", "/v1/pictures/{id}", "", "id", "name=pictures/<id>"},
		{"/v1/{name=grants/*}:end", "/v1/grants/{id}", "end", "id", "name=grants/<id>"},
		{"/v1/{picture.name=pictures/*}", "/v1/pictures/{id}", "", "id", "picture.name=pictures/<id>"},
		{"/v1/{name=*/*}/revisions", "/v1/{collection}/{id}/revisions", "", "", "name=<collection>/<id>"},
		{"/v1/{picture=pictures/*}/files/{variant}", "/v1/pictures/{id}/files/{variant}", "", "variant", "picture=pictures/<id> variant=<variant>"},
		{"/v1/originals/{header.sha256}", "/v1/originals/{sha256}", "", "sha256", "header.sha256=<sha256>"},
	} {
		got, err := Route{Verb: get, Path: c.template}.Template()
		if err != nil {
			t.Error(err)
			continue
		}
		var values []string
		for _, v := range got.Vars {
			values = append(values, v.Field+"="+v.Value(func(p string) string { return "<" + p + ">" }))
		}
		if got.Path != c.path || got.Action != c.action || got.Last() != c.last || strings.Join(values, " ") != c.values {
			t.Errorf("%s is %+v with %q", c.template, got, values)
		}
		if c.action != "" && got.Whole() != c.path+":"+c.action {
			t.Errorf("%s as a whole is %s", c.template, got.Whole())
		}
	}
	for _, bad := range []string{"/v2/pictures", "/v1/{name=Pictures/*}", "/v1/x{name}", "/v1/{name"} {
		if got, err := (Route{Verb: get, Path: bad}).Template(); err == nil {
			t.Errorf("%s is %+v", bad, got)
		}
	}
}

// The verb says what a method does: reading is GET, so that it can be repeated; whole requests are POSTed.
func TestVerbs(t *testing.T) {
	for _, r := range All() {
		name := r.Method[strings.LastIndexByte(r.Method, '/')+1:]
		want := []string{post}
		switch {
		case strings.HasPrefix(name, "Get"), strings.HasPrefix(name, "List"):
			want = []string{get}
		case strings.HasPrefix(name, "Update"):
			want = []string{patch}
		case strings.HasPrefix(name, "Delete"):
			want = []string{remove}
		case strings.HasPrefix(name, "Check"), strings.HasPrefix(name, "Export"), name == "Download":
			want = []string{get, post}
		case name == "UploadOriginal":
			want = []string{put}
		}
		if !slices.Contains(want, r.Verb) {
			t.Errorf("%s is reached by %s; want %s", name, r.Verb, want)
		}
		if r.Verb == get && r.Body != "" || r.Verb == remove && r.Body != "" || r.Verb == patch && (r.Body == "" || r.Body == "*") {
			t.Errorf("%s by %s has the body %q", name, r.Verb, r.Body)
		}
	}
}

// Whatever can't be said in the query of a route without a body can't be said at all: there must be no such field.
func TestNothingIsUnreachable(t *testing.T) {
	for _, r := range All() {
		d, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(strings.ReplaceAll(r.Method[1:], "/", ".")))
		if err != nil {
			t.Fatal(err)
		}
		m := d.(protoreflect.MethodDescriptor)
		if r.Body == "*" || KindOf(m) == Upload {
			continue
		}
		for i := range m.Input().Fields().Len() {
			if f := m.Input().Fields().Get(i); string(f.Name()) != r.Body && !Parameter(f) {
				t.Errorf("%s: %s can stand neither in the body nor in the query", r.Method, f.Name())
			}
		}
	}
}
