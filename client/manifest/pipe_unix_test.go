//go:build unix

package manifest

import (
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// TestNamedPipe: a pipe among the scans is refused at once, rather than waited for.
func TestNamedPipe(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mkfifo(filepath.Join(dir, "pipe.tif"), 0o600); err != nil {
		t.Fatal(err)
	}
	got := checked(t, Options{Path: put(t, dir, "plates.csv", "file,kind,title\npipe.tif,plate,Perch\n")})
	if want := `column file: found "pipe.tif", which is a named pipe; want a file`; !strings.Contains(got, want) {
		t.Errorf("got %s; want %s", got, want)
	}
	f, err := openFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := f.open("pipe.tif"); err == nil || !strings.Contains(err.Error(), "named pipe") {
		t.Errorf("opening a pipe that took a file's place gave %v", err)
	}
	if err := f.close(); err != nil {
		t.Error(err)
	}
}
