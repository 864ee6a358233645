// Package route is the table of how each method of the contract is reached over HTTP. The handlers (server/rest) and the description of them (server/rest/openapigen) are both made from it, so
// that neither can know a path that the other doesn't.
//
// Paths are templates as google.api.http has them (google/api/http.proto): {name=pictures/*} stands for the field name, whose value is pictures/ and one segment; a custom method follows a colon
// (AIP-136).
//
// Left out: requests and answers.
package route

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
)

// Route is one way to reach a method.
type Route struct {
	Verb   string // of HTTP
	Path   string // template
	Method string // as gRPC calls it: /package.Service/Method
	Body   string // the field that the body holds; "*" for the whole request; empty for none, or for bytes
}

// Template is a path taken apart.
type Template struct {
	Path   string // with each variable part as {param}; without the action if that follows a variable part
	Action string // custom method on a variable part
	Vars   []Var
}

// Var is a field of the request that stands in the path.
type Var struct {
	Field string // such as name or picture.name
	Parts []Part
}

// Part is a segment of a variable: fixed, or given by the caller.
type Part struct {
	Literal string
	Param   string // its name if it isn't fixed
}

// Whole is the path with the action.
func (t Template) Whole() string {
	if t.Action == "" {
		return t.Path
	}
	return t.Path + ":" + t.Action
}

// Last is the name of the parameter that ends the path; empty if a fixed segment does.
func (t Template) Last() string {
	if !strings.HasSuffix(t.Path, "}") {
		return ""
	}
	return t.Path[strings.LastIndexByte(t.Path, '{')+1 : len(t.Path)-1]
}

// Value is what the field is when the parameters are as param says.
func (v Var) Value(param func(string) string) string {
	parts := make([]string, len(v.Parts))
	for i, p := range v.Parts {
		parts[i] = p.Literal
		if p.Param != "" {
			parts[i] = param(p.Param)
		}
	}
	return strings.Join(parts, "/")
}

var variable = regexp.MustCompile(`\{([a-z0-9_.]+)(?:=([a-z*]+(?:/[a-z*]+)*))?\}`)

// Template takes the path apart. The variable segments are called collection and id, or by the field where it is the whole segment.
func (r Route) Template() (Template, error) {
	var t Template
	t.Path = variable.ReplaceAllStringFunc(r.Path, func(s string) string {
		m := variable.FindStringSubmatch(s)
		v := Var{Field: m[1]}
		pattern := m[2]
		if pattern == "" {
			v.Parts = []Part{{Param: m[1][strings.LastIndexByte(m[1], '.')+1:]}}
		}
		for i, segment := range strings.Split(pattern, "/") {
			switch {
			case pattern == "":
			case segment != "*":
				v.Parts = append(v.Parts, Part{Literal: segment})
			case i == 0:
				v.Parts = append(v.Parts, Part{Param: "collection"})
			default:
				v.Parts = append(v.Parts, Part{Param: "id"})
			}
		}
		t.Vars = append(t.Vars, v)
		return v.Value(func(param string) string { return "{" + param + "}" })
	})
	if i := strings.LastIndexByte(t.Path, ':'); i > 0 && t.Path[i-1] == '}' {
		t.Path, t.Action = t.Path[:i], t.Path[i+1:]
	}
	if strings.Count(t.Path, "{") != strings.Count(strings.Join(segments(t), ""), "{") || !strings.HasPrefix(t.Path, "/v1/") || r.Verb == "" {
		return Template{}, fmt.Errorf("route %s %s of %s can't be read", r.Verb, r.Path, r.Method)
	}
	return t, nil
}

// segments are those of the path that are a parameter as a whole.
func segments(t Template) []string {
	var out []string
	for _, s := range strings.Split(t.Path, "/") {
		if strings.HasPrefix(s, "{") && strings.HasSuffix(s, "}") {
			out = append(out, s)
		}
	}
	return out
}

const (
	get    = http.MethodGet
	post   = http.MethodPost
	put    = http.MethodPut
	patch  = http.MethodPatch
	remove = http.MethodDelete
)
