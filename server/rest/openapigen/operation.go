package main

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/compiler/protogen"
	"google.golang.org/protobuf/reflect/protoreflect"

	"platarium/server/rest/route"
)

// operation describes one route.
func (g *generator) operation(r route.Route, t route.Template, m *protogen.Method) object {
	kind := route.KindOf(m.Desc)
	in := m.Input
	said := r.Elsewhere()
	var parameters []object
	for _, v := range t.Vars {
		parameters = append(parameters, g.pathParameters(m.Input, v)...)
		said = append(said, v.Field)
	}
	op := object{"operationId": m.GoName, "tags": []string{string(m.Parent.Desc.Name())}, "description": text(m.Comments.Leading)}
	switch {
	case kind == route.Upload:
		in = field(m.Input, "header").Message
		said = append(said, "sha256")
		op["requestBody"] = object{
			"required": true, "description": "The file. Content-Length must be its length.",
			"content": object{"application/octet-stream": object{"schema": object{"type": "string", "format": "binary"}}},
		}
	case r.Body == "*":
		schema := g.message(m.Input)
		if len(t.Vars) > 0 {
			schema = g.properties(m.Input, said)
		}
		op["requestBody"] = object{"content": object{"application/json": object{"schema": schema}}}
	case r.Body != "":
		f := field(m.Input, protoreflect.Name(r.Body))
		op["requestBody"] = object{"required": true, "description": text(f.Comments.Leading), "content": object{"application/json": object{"schema": g.message(f.Message)}}}
		said = append(said, r.Body)
	default:
	}
	if r.Body != "*" {
		parameters = append(parameters, g.queryParameters(in, said)...)
	}
	if kind == route.Ranges {
		parameters = append(parameters, header("Range", "Bytes wanted, as RFC 9110 has it: one range."), header("If-None-Match", "Entity tag of what the caller has: the sha256 in quotation marks."))
	}
	if field(in, "request_id") != nil {
		parameters = append(parameters, header("Idempotency-Key", "Stands for requestId: makes a repetition harmless."))
	}
	if parameters != nil {
		op["parameters"] = parameters
	}
	op["responses"] = g.responses(kind, m)
	return op
}

func header(name, about string) object {
	return object{"name": name, "in": "header", "description": about, "schema": object{"type": "string"}}
}

// pathParameters are the variable segments of one field.
func (g *generator) pathParameters(m *protogen.Message, v route.Var) []object {
	names := strings.Split(v.Field, ".")
	for _, n := range names[:len(names)-1] {
		m = field(m, protoreflect.Name(n)).Message
	}
	f := field(m, protoreflect.Name(names[len(names)-1]))
	var out []object
	for _, p := range v.Parts {
		if p.Param == "" {
			continue
		}
		about := text(f.Comments.Leading)
		if len(v.Parts) > 1 {
			about = "Of " + v.Value(func(param string) string { return "{" + param + "}" }) + "."
		}
		schema := object{"type": "string"}
		if len(v.Parts) == 1 {
			schema = g.single(f)
		}
		out = append(out, object{"name": p.Param, "in": "path", "required": true, "description": about, "schema": schema})
	}
	return out
}

// queryParameters are the fields that stand neither in the path nor in the body.
func (g *generator) queryParameters(m *protogen.Message, said []string) []object {
	var out []object
	for _, f := range m.Fields {
		if slices.Contains(said, string(f.Desc.Name())) || !route.Parameter(f.Desc) {
			continue
		}
		out = append(out, object{"name": f.Desc.JSONName(), "in": "query", "description": text(f.Comments.Leading), "schema": g.field(f)})
	}
	return out
}

// responses are the answer by its kind, and the error.
func (g *generator) responses(kind route.Kind, m *protogen.Method) object {
	binary := object{"*/*": object{"schema": object{"type": "string", "format": "binary"}}}
	out := object{"default": object{"$ref": "#/components/responses/Error"}}
	switch kind {
	case route.Lines:
		out["200"] = object{"description": "One object a line: " + text(m.Output.Comments.Leading), "content": object{"application/x-ndjson": object{"schema": g.message(m.Output)}}}
	case route.Ranges:
		out["200"] = object{"description": "The file.", "content": binary}
		out["206"] = object{"description": "The part asked for.", "content": binary}
		out["304"] = object{"description": "The caller has it."}
		out["416"] = object{"description": "The range lies outside."}
	case route.File:
		out["200"] = object{
			"description": `The file. With "Accept: multipart/mixed", a JSON of what is embedded in a delivered copy comes before it as a part of its own.`, "content": binary,
		}
	default: // one message
		out["200"] = object{"description": text(m.Output.Comments.Leading), "content": object{"application/json": object{"schema": g.message(m.Output)}}}
	}
	return out
}
