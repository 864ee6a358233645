package dir

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"platarium/storage"
)

func TestFileSystemsWithoutLinksAreRefused(t *testing.T) {
	for name, link := range map[string]func(from, to string) error{
		"none":                func(from, to string) error { return &os.LinkError{Op: "link", Old: from, New: to, Err: syscall.EPERM} },
		"replaces":            os.Rename,
		"says that it worked": func(string, string) error { return nil },
	} {
		root := t.TempDir()
		_, err := open(root, link)
		if !errors.Is(err, storage.ErrUnsuitable) {
			t.Errorf("%s: found %v, want ErrUnsuitable", name, err)
		}
		if err != nil && !strings.Contains(err.Error(), "link") {
			t.Errorf("%s: %q doesn't give the reason", name, err)
		}
		if left, err := os.ReadDir(filepath.Join(root, partial)); err != nil || len(left) != 0 {
			t.Errorf("%s: left %v, %v", name, left, err)
		}
	}
}

func TestAnotherFileSystemBelowIsRefused(t *testing.T) {
	b, err := Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	b.link = func(from, to string) error { return &os.LinkError{Op: "link", Old: from, New: to, Err: syscall.EXDEV} }
	if err := b.Create(t.Context(), "originals/x", []byte("x")); !errors.Is(err, storage.ErrUnsuitable) {
		t.Errorf("found %v, want ErrUnsuitable", err)
	}
}

func TestKnownFoldersAreBounded(t *testing.T) {
	b, err := Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	for i := range maxDurable {
		b.durable[filepath.Join(b.root, "old", string(rune('a'+i%26)), string(rune(i)))] = true
	}
	if err := b.Create(t.Context(), "new/x", []byte("x")); err != nil {
		t.Fatal(err)
	}
	if len(b.durable) != 1 {
		t.Errorf("%d folders are kept", len(b.durable))
	}
}
