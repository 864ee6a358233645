package archive

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// serverOwned are the fields that no client sets, whatever the record.
var serverOwned = map[string]bool{"name": true, "revision": true, "etag": true, "create_time": true, "update_time": true, "collides_with": true, "warnings": true, "deliveries": true}

// foundOut are the fields below the first level that the server finds out by itself.
var foundOut = map[string]bool{
	"counts.parsed": true, "counts.warnings": true, "counts.canonical": true,
	"scope.expanded_territories": true, "scope.expanded_media": true, "scope.tables": true,
}

// together are fields that the server keeps in step: who changes one changes all of them.
var together = map[string][]string{
	"counts.formula":                 {"counts"},
	"original.sha256":                {"original"},
	"identification.taxon":           {"identification.taxon", "identification.scientific_name"},
	"identification.scientific_name": {"identification.taxon", "identification.scientific_name"},
}

// widened is a mask with what goes together.
func widened(mask []string) []string {
	var out []string
	for _, path := range mask {
		if all, ok := together[path]; ok {
			out = append(out, all...)
		} else {
			out = append(out, path)
		}
	}
	return out
}

// only is a copy of a record with nothing but name, etag and the masked fields: what a mask doesn't name is neither read nor judged. What is wrong with the mask
// is for overlay to say.
func only[T Record](given T, mask []string) T {
	given, _ = proto.Clone(given).(T)
	if slices.Contains(mask, "*") {
		return given
	}
	out := given.ProtoReflect().New()
	setting := slices.DeleteFunc(slices.Clone(mask), func(path string) bool { return serverSets(path, nil) })
	for _, path := range append(setting, "name", "etag") {
		_ = copyPath(out, given.ProtoReflect(), path)
	}
	kept, _ := out.Interface().(T)
	return kept
}

// serverSets says whether a path of a mask names what only the server sets.
func serverSets(path string, owned map[string]bool) bool {
	top, below, deep := strings.Cut(path, ".")
	return serverOwned[top] || owned[top] || foundOut[path] || top == "original" && deep && below != "sha256"
}

// overlay returns a copy of old with the masked fields of given laid over it. A path may go down through single messages; "*" stands for all fields that
// a client may set. Server-owned fields, named or not, stay as they are; naming one is an error so that nobody believes to have set it.
func overlay[T Record](old, given T, mask []string, owned map[string]bool) (T, error) {
	next := proto.Clone(old).(T)
	var c checks
	if len(mask) == 0 {
		c.add("update_mask", "is empty; want the fields to change, or *")
	}
	if slices.Contains(mask, "*") {
		fields := next.ProtoReflect().Descriptor().Fields()
		mask = mask[:0:0]
		for i := range fields.Len() {
			if n := string(fields.Get(i).Name()); !serverOwned[n] && !owned[n] {
				mask = append(mask, n)
			}
		}
	}
	given, _ = proto.Clone(given).(T) // a change may be planned more than once, and what is planned is worked on
	for _, path := range widened(mask) {
		if serverSets(path, owned) {
			c.add("update_mask", "names %q, which only the server sets", path)
			continue
		}
		if err := copyPath(next.ProtoReflect(), given.ProtoReflect(), path); err != nil {
			c.add("update_mask", "%s", err)
		}
	}
	return next, c.err()
}

// copyPath sets one field of dst to what src has, unset included.
func copyPath(dst, src protoreflect.Message, path string) error {
	head, rest, deep := strings.Cut(path, ".")
	f := dst.Descriptor().Fields().ByName(protoreflect.Name(head))
	if f == nil {
		return fmt.Errorf("names %q; %s has no such field", path, dst.Descriptor().Name())
	}
	if !deep {
		if src.Has(f) {
			dst.Set(f, src.Get(f))
		} else {
			dst.Clear(f)
		}
		return nil
	}
	if f.Kind() != protoreflect.MessageKind || f.IsList() || f.IsMap() {
		return fmt.Errorf("names %q; %s is not a single message", path, head)
	}
	return copyPath(dst.Mutable(f).Message(), src.Get(f).Message(), rest)
}

// clearOwned empties the server-owned fields of a record about to be created.
func clearOwned(r Record, owned map[string]bool) {
	m := r.ProtoReflect()
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		if n := string(fields.Get(i).Name()); serverOwned[n] || owned[n] {
			m.Clear(fields.Get(i))
		}
	}
}
