package main

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/compiler/protogen"
	"google.golang.org/protobuf/reflect/protoreflect"
)

func fold(s string) string { return strings.Join(strings.Fields(s), " ") }

// schemaName is the name of a message or enum without its package; within another it has the name of that before it.
func schemaName(d protoreflect.Descriptor) string {
	return strings.TrimPrefix(string(d.FullName()), string(d.ParentFile().Package())+".")
}

// message adds the schema of a message and of all that it holds, and refers to it.
func (g *generator) message(m *protogen.Message) object {
	switch m.Desc.FullName() {
	case "google.protobuf.Timestamp":
		return object{"type": "string", "format": "date-time"}
	case "google.protobuf.FieldMask":
		return object{"type": "string"}
	default:
	}
	name := schemaName(m.Desc)
	if g.schemas[name] == nil {
		s := object{}
		g.schemas[name] = s // before its fields, that may come back to it
		for k, v := range g.properties(m, nil) {
			s[k] = v
		}
		s["description"] = text(m.Comments.Leading)
	}
	return reference(name)
}

// properties is an object with the fields of a message, those left out apart.
func (g *generator) properties(m *protogen.Message, without []string) object {
	props := object{}
	for _, f := range m.Fields {
		if !slices.Contains(without, string(f.Desc.Name())) {
			props[f.Desc.JSONName()] = described(g.field(f), f.Comments.Leading)
		}
	}
	return object{"type": "object", "properties": props, "additionalProperties": false}
}

// described adds a comment. Beside a reference nothing else may stand, so that it is wrapped.
func described(s object, c protogen.Comments) object {
	d := text(c)
	if d == "" {
		return s
	}
	if s["$ref"] != nil {
		return object{"allOf": []object{s}, "description": d}
	}
	s["description"] = d
	return s
}

// field is the schema of a field's values.
func (g *generator) field(f *protogen.Field) object {
	switch {
	case f.Desc.IsMap():
		return object{"type": "object", "additionalProperties": g.single(f.Message.Fields[1])}
	case f.Desc.IsList():
		return object{"type": "array", "items": g.single(f)}
	default:
		return g.single(f)
	}
}

// single is the schema of one value, as the JSON of Protocol Buffers has it.
func (g *generator) single(f *protogen.Field) object {
	switch f.Desc.Kind() {
	case protoreflect.MessageKind, protoreflect.GroupKind:
		return g.message(f.Message)
	case protoreflect.EnumKind:
		return g.enum(f.Enum)
	case protoreflect.BoolKind:
		return object{"type": "boolean"}
	case protoreflect.StringKind:
		return object{"type": "string"}
	case protoreflect.BytesKind:
		return object{"type": "string", "format": "byte"}
	case protoreflect.DoubleKind:
		return object{"type": "number", "format": "double"}
	case protoreflect.FloatKind:
		return object{"type": "number", "format": "float"}
	case protoreflect.Int64Kind, protoreflect.Sint64Kind, protoreflect.Sfixed64Kind:
		return object{"type": "string", "format": "int64"}
	case protoreflect.Uint64Kind, protoreflect.Fixed64Kind:
		return object{"type": "string", "format": "uint64"}
	case protoreflect.Uint32Kind, protoreflect.Fixed32Kind:
		return object{"type": "integer", "format": "int64"}
	default: // the 32-bit numbers with a sign
		return object{"type": "integer", "format": "int32"}
	}
}

// enum adds the schema of an enum with its values' comments, and refers to it.
func (g *generator) enum(e *protogen.Enum) object {
	name := schemaName(e.Desc)
	if g.schemas[name] == nil {
		var values, lines []string
		for _, v := range e.Values {
			values = append(values, string(v.Desc.Name()))
			lines = append(lines, "- "+string(v.Desc.Name())+": "+text(v.Comments.Leading))
		}
		g.schemas[name] = object{"type": "string", "enum": values, "description": text(e.Comments.Leading) + "\n\n" + strings.Join(lines, "\n")}
	}
	return reference(name)
}
