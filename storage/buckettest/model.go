package buckettest

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"platarium/storage"
)

// testModel compares random operations with a map. A failure names the seed.
func testModel(t *testing.T, b storage.Bucket) {
	const seeds, operations = 3, 250
	for seed := range uint64(seeds) {
		m := &model{t: t, b: b, r: rand.New(rand.NewPCG(seed, 1)), want: map[string][]byte{}, root: fmt.Sprintf("m%d/", seed)}
		for i := range operations {
			if m.step(); t.Failed() {
				t.Fatalf("at operation %d of seed %d", i, seed)
			}
		}
	}
}

type model struct {
	t    *testing.T
	b    storage.Bucket
	r    *rand.Rand
	want map[string][]byte
	root string
}

// key draws from a few dozen; files and folders have unlike names, so that no key is another's folder.
func (m *model) key() string {
	key := m.root
	for range m.r.IntN(3) {
		key += []string{"f/", "f-1/", "f.x/"}[m.r.IntN(3)]
	}
	return key + []string{"a", "b-1", "b.c", "b0", "Z=_"}[m.r.IntN(5)]
}

func (m *model) step() {
	ctx, key := m.t.Context(), m.key()
	data := Content{Seed: m.r.Uint64(), Size: m.r.Int64N(3000)}
	old, exists := m.want[key]
	switch m.r.IntN(7) {
	case 0:
		m.no(m.b.Put(ctx, key, data.Reader(), data.Size, nil))
		m.want[key] = data.Bytes()
	case 1:
		wrong := storage.Digest{1}
		if err := m.b.Put(ctx, key, data.Reader(), data.Size, &wrong); !errors.Is(err, storage.ErrChecksum) {
			m.t.Errorf("putting %s with a wrong digest: %v", key, err)
		}
	case 2:
		switch err := m.b.Create(ctx, key, data.Bytes()); {
		case exists && !errors.Is(err, storage.ErrExist):
			m.t.Errorf("creating %s, which exists: %v", key, err)
		case !exists:
			m.no(err)
			m.want[key] = data.Bytes()
		}
	case 3:
		m.no(m.b.Delete(ctx, key))
		delete(m.want, key)
	case 4:
		info, err := m.b.Stat(ctx, key)
		if exists != (err == nil) || exists && info.Size != int64(len(old)) {
			m.t.Errorf("Stat(%s): found %+v, %v; exists: %v with %d bytes", key, info, err, exists, len(old))
		}
	case 5:
		m.read(key, old, exists)
	case 6:
		m.list()
	}
}

func (m *model) no(err error) {
	if err != nil {
		m.t.Error(err)
	}
}

func (m *model) read(key string, want []byte, exists bool) {
	offset, length := m.r.Int64N(3100), m.r.Int64N(3100)-1
	got, err := read(m.t.Context(), m.b, key, offset, length)
	if !exists {
		if !errors.Is(err, storage.ErrNotExist) {
			m.t.Errorf("reading %s, which is absent: %v", key, err)
		}
		return
	}
	want = want[min(offset, int64(len(want))):]
	if length >= 0 {
		want = want[:min(length, int64(len(want)))]
	}
	if err != nil || !bytes.Equal(got, want) {
		m.t.Errorf("reading %s from %d, %d bytes: found %d, %v; want %d", key, offset, length, len(got), err, len(want))
	}
}

func (m *model) list() {
	var keys []string
	for key := range m.want {
		keys = append(keys, key)
	}
	prefix, after := m.key(), ""
	prefix = prefix[:len(m.root)+m.r.IntN(len(prefix)-len(m.root))]
	if m.r.IntN(2) == 0 {
		after = m.key()
	}
	if storage.CheckPrefix(prefix) != nil {
		return
	}
	got, err := list(m.t.Context(), m.b, prefix, after)
	if want := expected(keys, prefix, after); err != nil || !slices.Equal(got, want) {
		m.t.Errorf("listing %q after %q: found %v, %v; want %v", prefix, after, got, err, want)
	}
}
