package cli

import (
	"fmt"
	"sort"
	"strconv"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// assign sets fields of a message from words of the form field=value, and returns the paths set. A path goes down with dots; lists are parted by
// semicolons; enums are written in words ("left lateral"); a message or a list of messages is written in JSON.
func assign(m proto.Message, words []string) ([]string, error) {
	var paths []string
	for _, w := range words {
		path, value, ok := strings.Cut(w, "=")
		if !ok || path == "" {
			return nil, usage(fmt.Errorf("found %q; want field=value, such as title=\"European perch\"", w))
		}
		if err := assignPath(m.ProtoReflect(), path, value); err != nil {
			return nil, usage(fmt.Errorf("%s: %w", path, err))
		}
		paths = append(paths, path)
	}
	return paths, nil
}

func assignPath(m protoreflect.Message, path, value string) error {
	head, rest, deep := strings.Cut(path, ".")
	f := m.Descriptor().Fields().ByName(protoreflect.Name(head))
	if f == nil {
		return fmt.Errorf("%s has no such field; want one of %s", m.Descriptor().Name(), fieldNames(m.Descriptor()))
	}
	if deep {
		if f.Kind() != protoreflect.MessageKind || f.IsList() || f.IsMap() {
			return fmt.Errorf("%s has no fields below it", head)
		}
		return assignPath(m.Mutable(f).Message(), rest, value)
	}
	if value == "" {
		m.Clear(f)
		return nil
	}
	if f.Kind() == protoreflect.MessageKind {
		return assignJSON(m, f, value)
	}
	if !f.IsList() {
		v, err := scalar(f, value)
		if err == nil {
			m.Set(f, v)
		}
		return err
	}
	list := m.NewField(f).List()
	for part := range strings.SplitSeq(value, ";") {
		v, err := scalar(f, strings.TrimSpace(part))
		if err != nil {
			return err
		}
		list.Append(v)
	}
	m.Set(f, protoreflect.ValueOfList(list))
	return nil
}

func assignJSON(m protoreflect.Message, f protoreflect.FieldDescriptor, value string) error {
	part := m.New()
	if err := protojson.Unmarshal(fmt.Appendf(nil, "{%q: %s}", f.JSONName(), value), part.Interface()); err != nil {
		return fmt.Errorf("want JSON of %s: %w", f.Message().Name(), err)
	}
	m.Set(f, part.Get(f))
	return nil
}

func fieldNames(d protoreflect.MessageDescriptor) string {
	names := make([]string, d.Fields().Len())
	for i := range names {
		names[i] = string(d.Fields().Get(i).Name())
	}
	sort.Strings(names)
	return strings.Join(names, ", ")
}

func scalar(f protoreflect.FieldDescriptor, s string) (protoreflect.Value, error) {
	switch f.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(s), nil
	case protoreflect.BoolKind:
		switch strings.ToLower(s) {
		case "yes", "true":
			return protoreflect.ValueOfBool(true), nil
		case "no", "false":
			return protoreflect.ValueOfBool(false), nil
		}
		return protoreflect.Value{}, fmt.Errorf("found %q; want yes or no", s)
	case protoreflect.Int32Kind:
		n, err := strconv.ParseInt(s, 10, 32)
		if err != nil {
			return protoreflect.Value{}, fmt.Errorf("found %q; want a whole number", s)
		}
		return protoreflect.ValueOfInt32(int32(n)), nil
	case protoreflect.Int64Kind:
		n, err := strconv.ParseInt(s, 10, 64)
		if err != nil {
			return protoreflect.Value{}, fmt.Errorf("found %q; want a whole number", s)
		}
		return protoreflect.ValueOfInt64(n), nil
	case protoreflect.DoubleKind:
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return protoreflect.Value{}, fmt.Errorf("found %q; want a number", s)
		}
		return protoreflect.ValueOfFloat64(x), nil
	case protoreflect.EnumKind:
		return enumValue(f.Enum(), s)
	default:
		return protoreflect.Value{}, fmt.Errorf("can't be set here")
	}
}

// enumWords gives the words of an enum's values: FINAL_ART of Stage is "final art".
func enumWords(d protoreflect.EnumDescriptor) map[string]protoreflect.EnumNumber {
	out := map[string]protoreflect.EnumNumber{}
	prefix := strings.TrimSuffix(string(d.Values().Get(0).Name()), "UNSPECIFIED")
	for i := 1; i < d.Values().Len(); i++ {
		v := d.Values().Get(i)
		out[strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(string(v.Name()), prefix), "_", " "))] = v.Number()
	}
	return out
}

func enumValue(d protoreflect.EnumDescriptor, s string) (protoreflect.Value, error) {
	words := enumWords(d)
	key := strings.ToLower(strings.NewReplacer("_", " ", "-", " ").Replace(strings.TrimSpace(s)))
	if n, ok := words[key]; ok {
		return protoreflect.ValueOfEnum(n), nil
	}
	names := make([]string, 0, len(words))
	for w := range words {
		names = append(names, w)
	}
	sort.Strings(names)
	return protoreflect.Value{}, fmt.Errorf("found %q; want one of %s", s, strings.Join(names, ", "))
}

// word gives an enum value in words, empty for the unspecified one.
func word(e protoreflect.Enum) string {
	for w, n := range enumWords(e.Descriptor()) {
		if n == e.Number() {
			return w
		}
	}
	return ""
}

// parseEnum reads an enum of type E from words.
func parseEnum[E interface {
	protoreflect.Enum
	~int32
}](s string) (E, error) {
	var zero E
	if s == "" {
		return zero, nil
	}
	v, err := enumValue(zero.Descriptor(), s)
	if err != nil {
		return zero, usage(err)
	}
	return E(v.Enum()), nil
}
