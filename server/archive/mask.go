package archive

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// serverOwned are the fields that no client sets, whatever the record.
var serverOwned = map[string]bool{"name": true, "revision": true, "etag": true, "create_time": true, "update_time": true}

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
	for _, path := range mask {
		top, _, _ := strings.Cut(path, ".")
		if serverOwned[top] || owned[top] {
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
