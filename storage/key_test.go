package storage_test

import (
	"errors"
	"path"
	"strings"
	"testing"

	"platarium/storage"
)

// FuzzCheckKey holds CheckKey against what a folder needs: that a good key is a clean relative path which stays below its folder, and that each of
// its beginnings passes CheckPrefix.
func FuzzCheckKey(f *testing.F) {
	for _, key := range []string{"a", "a/b", "A.b-c_d=e/f", "", "/", "a//b", "..", "a/../b", ".a", "a/", "a\x00b", "ä", "a\\b", strings.Repeat("x", 256), "a/.b/c"} {
		f.Add(key)
	}
	f.Fuzz(func(t *testing.T, key string) {
		if err := storage.CheckKey(key); err != nil {
			if !errors.Is(err, storage.ErrKey) {
				t.Fatalf("%q: %v doesn't wrap ErrKey", key, err)
			}
			return
		}
		if path.Clean(key) != key || path.IsAbs(key) || strings.HasPrefix(key, ".") || strings.Contains(key, "/.") || strings.ContainsAny(key, "\\:\x00 *?\"<>|") {
			t.Errorf("%q passed", key)
		}
		for i := range len(key) + 1 {
			if err := storage.CheckPrefix(key[:i]); err != nil {
				t.Errorf("the key %q may begin with %q: %v", key, key[:i], err)
			}
		}
	})
}

func TestCheckPrefixRefuses(t *testing.T) {
	for _, prefix := range []string{"/", "a//", "../", ".", "a/.", "a b", strings.Repeat("x", 256), strings.Repeat("abc/", 225) + "/"} {
		if err := storage.CheckPrefix(prefix); !errors.Is(err, storage.ErrKey) {
			t.Errorf("%q: found %v, want ErrKey", prefix, err)
		}
	}
}
