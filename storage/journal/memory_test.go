package journal

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"iter"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"platarium/storage"
)

// memory is a bucket in memory, which counts calls.
type memory struct {
	mu      sync.Mutex
	objects map[string][]byte
	calls   map[string]int
}

func newMemory() *memory {
	return &memory{objects: map[string][]byte{}, calls: map[string]int{}}
}

func (m *memory) count(call string) { m.calls[call]++ }

func (m *memory) Put(ctx context.Context, key string, body io.Reader, size int64, sum *storage.Digest) error {
	data, err := io.ReadAll(body)
	if err != nil {
		return err
	}
	if int64(len(data)) != size || sum != nil && *sum != sha256.Sum256(data) {
		return storage.ErrChecksum
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.count("put")
	m.objects[key] = data
	return ctx.Err()
}

func (m *memory) Create(ctx context.Context, key string, data []byte) error {
	if err := storage.CheckKey(key); err != nil {
		return err
	}
	if len(data) > storage.MaxCreate {
		return storage.ErrKey
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.count("create")
	if _, found := m.objects[key]; found {
		return fmt.Errorf("%s: %w", key, storage.ErrExist)
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	m.objects[key] = bytes.Clone(data)
	return nil
}

func (m *memory) Open(ctx context.Context, key string, offset, length int64) (io.ReadCloser, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.count("open")
	data, found := m.objects[key]
	if !found {
		return nil, fmt.Errorf("%s: %w", key, storage.ErrNotExist)
	}
	data = data[min(offset, int64(len(data))):]
	if length >= 0 {
		data = data[:min(length, int64(len(data)))]
	}
	return io.NopCloser(bytes.NewReader(data)), ctx.Err()
}

func (m *memory) Stat(_ context.Context, key string) (storage.Info, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.count("stat")
	data, found := m.objects[key]
	if !found {
		return storage.Info{}, fmt.Errorf("%s: %w", key, storage.ErrNotExist)
	}
	return storage.Info{Key: key, Size: int64(len(data)), Modified: time.Unix(0, 0)}, nil
}

func (m *memory) List(_ context.Context, prefix, after string) iter.Seq2[storage.Info, error] {
	return func(yield func(storage.Info, error) bool) {
		m.mu.Lock()
		m.count("list")
		keys := slices.Sorted(maps.Keys(m.objects))
		sizes := map[string]int64{}
		for _, k := range keys {
			sizes[k] = int64(len(m.objects[k]))
		}
		m.mu.Unlock()
		for _, k := range keys {
			if strings.HasPrefix(k, prefix) && k > after && !yield(storage.Info{Key: k, Size: sizes[k]}, nil) {
				return
			}
		}
	}
}

func (m *memory) Delete(_ context.Context, key string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.count("delete")
	delete(m.objects, key)
	return nil
}

// copied is an independent bucket of the same content.
func (m *memory) copied() *memory {
	m.mu.Lock()
	defer m.mu.Unlock()
	c := newMemory()
	maps.Copy(c.objects, m.objects)
	return c
}

// edit replaces an object behind the program's back.
func (m *memory) edit(key string, change func(string) string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.objects[key] = []byte(change(string(m.objects[key])))
}

// calledAndReset tells the calls so far and begins counting anew.
func (m *memory) calledAndReset() map[string]int {
	m.mu.Lock()
	defer m.mu.Unlock()
	c := m.calls
	m.calls = map[string]int{}
	return c
}
