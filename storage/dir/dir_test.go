package dir_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"platarium/storage"
	"platarium/storage/buckettest"
	"platarium/storage/dir"
)

// racerVariable makes this test program a process that races for keys in the folder that it names.
const racerVariable = "DIR_TEST_RACER"

func TestMain(m *testing.M) {
	if folder := os.Getenv(racerVariable); folder != "" {
		os.Exit(race(folder))
	}
	os.Exit(m.Run())
}

func TestConformance(t *testing.T) {
	buckettest.Run(t, func(t *testing.T) storage.Bucket { return open(t, t.TempDir()) })
}

func open(t testing.TB, path string) *dir.Bucket {
	t.Helper()
	b, err := dir.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestOpenMakesTheFolder(t *testing.T) {
	root := filepath.Join(t.TempDir(), "new", "archive")
	if err := open(t, root).Create(t.Context(), "a/b", []byte("x")); err != nil {
		t.Fatal(err)
	}
	// The archive can be read without this program, and by another instance of it.
	if data, err := os.ReadFile(filepath.Join(root, "a", "b")); err != nil || string(data) != "x" {
		t.Errorf("found %q, %v", data, err)
	}
	if err := open(t, root).Create(t.Context(), "a/b", []byte("y")); !errors.Is(err, storage.ErrExist) {
		t.Errorf("found %v, want ErrExist", err)
	}
}

func TestOpenRefuses(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"", file, filepath.Join(file, "below")} {
		if _, err := dir.Open(path); err == nil {
			t.Errorf("%q was opened", path)
		}
	}
}

const racers, rounds = 4, 40

func racerKey(i int) string { return fmt.Sprintf("journal/%020d.json", i) }

// race is what each process does; it prints the keys that it won.
func race(folder string) int {
	b, err := dir.Open(folder)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	for i := range rounds {
		err := b.Create(context.Background(), racerKey(i), fmt.Appendf(nil, "%d", os.Getpid()))
		switch {
		case err == nil:
			fmt.Println(racerKey(i), os.Getpid())
		case !errors.Is(err, storage.ErrExist):
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
	}
	return 0
}

func TestRaceBetweenProcesses(t *testing.T) {
	folder := t.TempDir()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	var cmds []*exec.Cmd
	var outputs []*bytes.Buffer
	for range racers {
		var out bytes.Buffer
		cmd := exec.CommandContext(t.Context(), program)
		cmd.Env = append(os.Environ(), racerVariable+"="+folder)
		cmd.Stdout, cmd.Stderr = &out, os.Stderr
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		cmds, outputs = append(cmds, cmd), append(outputs, &out)
	}
	winners := map[string]string{}
	for i, cmd := range cmds {
		if err := cmd.Wait(); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(outputs[i].String()) {
			key, pid, _ := strings.Cut(strings.TrimSpace(line), " ")
			if winners[key] != "" {
				t.Errorf("%s was won twice, by %s and %s", key, winners[key], pid)
			}
			winners[key] = pid
		}
	}
	b := open(t, folder)
	for i := range rounds {
		key := racerKey(i)
		if got := contents(t, b, key); got == "" || got != winners[key] {
			t.Errorf("%s holds %q, and was won by %q", key, got, winners[key])
		}
	}
	noPartial(t, folder)
}

func TestNothingPartialIsLeft(t *testing.T) {
	root := t.TempDir()
	b := open(t, root)
	ctx := t.Context()
	wrong := storage.Digest{}
	broken := io.MultiReader(strings.NewReader("half"), failing{})
	for name, err := range map[string]error{
		"digest": b.Put(ctx, "new/folder/a", strings.NewReader("abc"), 3, &wrong),
		"short":  b.Put(ctx, "new/folder/a", strings.NewReader("abc"), 4, nil),
		"broken": b.Put(ctx, "new/folder/a", broken, 8, nil),
	} {
		if err == nil {
			t.Errorf("%s: was stored", name)
		}
	}
	if err := b.Create(ctx, "a", []byte("x")); err != nil {
		t.Fatal(err)
	}
	if err := b.Create(ctx, "a", []byte("y")); !errors.Is(err, storage.ErrExist) {
		t.Fatal(err)
	}
	noPartial(t, root)
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("broken") }

func noPartial(t *testing.T, root string) {
	t.Helper()
	entries, err := os.ReadDir(filepath.Join(root, ".partial"))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		t.Errorf("left behind: %s", e.Name())
	}
}

func TestOldPartialFilesAreRemovedAtOpen(t *testing.T) {
	root := t.TempDir()
	open(t, root)
	old, young := filepath.Join(root, ".partial", "old"), filepath.Join(root, ".partial", "young")
	for _, name := range []string{old, young} {
		if err := os.WriteFile(name, []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	past := time.Now().Add(-25 * time.Hour)
	if err := os.Chtimes(old, past, past); err != nil {
		t.Fatal(err)
	}
	open(t, root)
	if _, err := os.Stat(old); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the old file: %v", err)
	}
	if _, err := os.Stat(young); err != nil {
		t.Errorf("the young file, which another process may be writing: %v", err)
	}
}

func TestForeignFilesAreNoObjects(t *testing.T) {
	root := t.TempDir()
	b := open(t, root)
	for _, name := range []string{"a/object", "a/.hidden", "a/with space", ".hidden/file", "a/ümlaut", "b d/file", "a/b/c"} {
		path := filepath.Join(root, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.MkdirAll(filepath.Join(root, "empty", "folder"), 0o700); err != nil {
		t.Fatal(err)
	}
	var keys []string
	for info, err := range b.List(t.Context(), "", "") {
		if err != nil {
			t.Fatal(err)
		}
		keys = append(keys, info.Key)
	}
	if want := []string{"a/b/c", "a/object"}; !slices.Equal(keys, want) {
		t.Errorf("found %v, want %v", keys, want)
	}
}

func TestAFolderRemovedBehindItsBackIsMadeAgain(t *testing.T) {
	root := t.TempDir()
	b := open(t, root)
	for i := range 3 {
		if err := b.Create(t.Context(), "deep/er/key", []byte("x")); err != nil {
			t.Fatalf("%d: %v", i, err)
		}
		if err := os.RemoveAll(filepath.Join(root, "deep")); err != nil {
			t.Fatal(err)
		}
	}
}

func TestAKeyIsNoFolder(t *testing.T) {
	b := open(t, t.TempDir())
	ctx := t.Context()
	if err := b.Create(ctx, "f/object", []byte("x")); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"f", "f/object/below", "f/object/far/below"} {
		if err := b.Create(ctx, key, []byte("y")); !errors.Is(err, storage.ErrKey) {
			t.Errorf("creating %s: found %v, want ErrKey", key, err)
		}
		if err := b.Put(ctx, key, strings.NewReader("y"), 1, nil); !errors.Is(err, storage.ErrKey) {
			t.Errorf("putting %s: found %v, want ErrKey", key, err)
		}
	}
	if got := contents(t, b, "f/object"); got != "x" {
		t.Errorf("found %q", got)
	}
}

func contents(t *testing.T, b storage.Bucket, key string) string {
	t.Helper()
	r, err := b.Open(t.Context(), key, 0, -1)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(r)
	if err = errors.Join(err, r.Close()); err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// BenchmarkCreate is the path of a commit, beside the bare system calls that it can't do without.
func BenchmarkCreate(b *testing.B) {
	data := buckettest.Content{Seed: 1, Size: 2000}.Bytes()
	b.Run("one", func(b *testing.B) {
		bucket, i := open(b, b.TempDir()), 0
		for b.Loop() {
			i++
			if err := bucket.Create(b.Context(), fmt.Sprintf("journal/%020d.json", i), data); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("bare calls", func(b *testing.B) {
		folder, i := b.TempDir(), 0
		f, err := os.Open(folder)
		if err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			i++
			if err := linkSynced(f, filepath.Join(folder, fmt.Sprint(i)), data); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func linkSynced(folder *os.File, name string, data []byte) error {
	f, err := os.Create(name + ".partial")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Sync(), f.Close(), os.Link(f.Name(), name), folder.Sync(), os.Remove(f.Name()))
}

func BenchmarkPut(b *testing.B) {
	for _, size := range []int64{1 << 20, 64 << 20} {
		b.Run(fmt.Sprintf("%dMiB", size>>20), func(b *testing.B) {
			bucket := open(b, b.TempDir())
			data := buckettest.Content{Seed: 1, Size: size}
			bytesOf, sum := data.Bytes(), data.Digest()
			b.SetBytes(size)
			for b.Loop() {
				if err := bucket.Put(b.Context(), "originals/x", bytes.NewReader(bytesOf), size, &sum); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkList(b *testing.B) {
	root := b.TempDir()
	bucket := open(b, root)
	if err := os.Mkdir(filepath.Join(root, "journal"), 0o700); err != nil {
		b.Fatal(err)
	}
	const count = 20_000
	for i := range count {
		if err := os.WriteFile(filepath.Join(root, "journal", fmt.Sprintf("%020d.json", i)), nil, 0o600); err != nil {
			b.Fatal(err)
		}
	}
	for name, after := range map[string]string{"all": "", "tail": fmt.Sprintf("journal/%020d.json", count-10)} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				for _, err := range bucket.List(b.Context(), "journal/", after) {
					if err != nil {
						b.Fatal(err)
					}
				}
			}
		})
	}
}
