// Command openapigen is a plugin of the protocol compiler that writes the OpenAPI document of the routes (server/rest/route), with the comments of the contract as descriptions.
//
// Invariants: the same contract gives the same bytes; what a route takes and gives in the document is decided by the same functions as in the handlers.
//
// Left out: whether the document is valid, which the tests of server/rest have a library of others judge.
package main

import (
	"encoding/json"
	"fmt"

	"google.golang.org/protobuf/compiler/protogen"
	"google.golang.org/protobuf/reflect/protoreflect"

	"platarium/server/rest/route"
)

func main() {
	protogen.Options{}.Run(func(p *protogen.Plugin) error {
		p.SupportedFeatures = 1 // proto3 optional
		g := &generator{methods: map[string]*protogen.Method{}, schemas: object{}}
		for _, f := range p.Files {
			if !f.Generate {
				continue
			}
			for _, s := range f.Services {
				for _, m := range s.Methods {
					g.methods[fmt.Sprintf("/%s/%s", s.Desc.FullName(), m.Desc.Name())] = m
				}
			}
		}
		doc, err := g.document(route.All())
		if err != nil {
			return err
		}
		b, err := json.MarshalIndent(doc, "", "  ")
		if err != nil {
			return err
		}
		_, err = p.NewGeneratedFile("openapi.json", "").Write(append(b, '\n'))
		return err
	})
}

// object is a JSON object. Its keys are written in order.
type object = map[string]any

// generator gathers the schemas that the operations name.
type generator struct {
	methods map[string]*protogen.Method
	schemas object
}

const about = `JSON over HTTP for what the archive's gRPC contract offers. Present a key as "Authorization: Bearer ...": roles and views are those of the contract.

Bodies and answers are the JSON of Protocol Buffers: what is empty is left out, 64-bit numbers are strings, times are RFC 3339. Names may be written as here or with underscores. ` +
	`What isn't known is refused by name. Errors are google.rpc.Status; its details hold a reason and, for fields at fault, their paths. ` +
	`A stream is one JSON object a line; if it fails after its beginning, the last line has nothing but "error".`

func (g *generator) document(routes []route.Route) (object, error) {
	paths := object{}
	tags := []object{}
	seen := map[string]bool{}
	for _, r := range routes {
		m, ok := g.methods[r.Method]
		if !ok {
			return nil, fmt.Errorf("%s isn't in the contract", r.Method)
		}
		t, err := r.Template()
		if err != nil {
			return nil, err
		}
		item, _ := paths[t.Whole()].(object)
		if item == nil {
			item = object{}
			paths[t.Whole()] = item
		}
		item[verbs[r.Verb]] = g.operation(r, t, m)
		if service := string(m.Parent.Desc.Name()); !seen[service] {
			seen[service] = true
			tags = append(tags, object{"name": service, "description": text(m.Parent.Comments.Leading)})
		}
	}
	g.schemas["Error"] = object{
		"description": "google.rpc.Status.", "type": "object",
		"properties": object{
			"code":    object{"type": "integer", "format": "int32", "description": "A value of google.rpc.Code."},
			"message": object{"type": "string", "description": "What is wrong, in words."},
			"details": object{
				"type": "array", "description": "google.rpc.ErrorInfo with the reason, google.rpc.BadRequest with fields at fault, google.rpc.PreconditionFailure with what stands in the way.",
				"items": object{"type": "object", "properties": object{"@type": object{"type": "string"}}, "additionalProperties": true},
			},
		},
	}
	return object{
		"openapi": "3.0.3",
		"info":    object{"title": "Platarium", "version": "v1", "description": about},
		"servers": []object{{"url": "/"}},
		"tags":    tags, "paths": paths,
		"security": []object{{"key": []string{}}},
		"components": object{
			"schemas":         g.schemas,
			"securitySchemes": object{"key": object{"type": "http", "scheme": "bearer", "description": "The secret of a key."}},
			"responses": object{"Error": object{
				"description": "An error.", "content": object{"application/json": object{"schema": reference("Error")}},
			}},
		},
	}, nil
}

var verbs = map[string]string{"GET": "get", "POST": "post", "PUT": "put", "PATCH": "patch", "DELETE": "delete"}

func reference(name string) object { return object{"$ref": "#/components/schemas/" + name} }

// text is a comment without its line breaks.
func text(c protogen.Comments) string { return fold(string(c)) }

func field(m *protogen.Message, name protoreflect.Name) *protogen.Field {
	for _, f := range m.Fields {
		if f.Desc.Name() == name {
			return f
		}
	}
	return nil
}
