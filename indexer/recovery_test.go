package indexer

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"go.etcd.io/bbolt"

	pb "platarium/proto/platarium/v1"
)

// reopened opens dir over s and tells whether that built the index again.
func reopened(tb testing.TB, dir string, s *studio) (x *Index, built bool) {
	tb.Helper()
	var log bytes.Buffer
	x, err := Open(context.Background(), dir, s, Options{batch: 100, Logger: slog.New(slog.NewTextHandler(&log, nil))})
	if err != nil {
		tb.Fatal(err)
	}
	return x, strings.Contains(log.String(), "building the index")
}

func closed(tb testing.TB, x *Index) {
	tb.Helper()
	if err := x.Close(); err != nil {
		tb.Fatal(err)
	}
}

// sameAs checks that an index answers as one made now from the same records.
func sameAs(tb testing.TB, x *Index, s *studio) {
	tb.Helper()
	fresh := s.open(tb)
	for _, r := range []*pb.SearchPicturesRequest{
		{PageSize: maxPage, Facets: facetNames()},
		{PageSize: maxPage, Text: "fin"},
		{PageSize: maxPage, Wanted: &pb.Wanted{Near: "Mullus barbatus", Counts: "D1 VIII; A II,6", Structures: []string{"barbel"}}},
	} {
		got, want := ask(tb, x, r), ask(tb, fresh, r)
		if !slices.Equal(namesOf(got), namesOf(want)) || got.Total != want.Total || fmt.Sprint(got.Facets) != fmt.Sprint(want.Facets) {
			tb.Errorf("%v:\n got %v\nwant %v", r, namesOf(got), namesOf(want))
		}
	}
}

func TestReopens(t *testing.T) {
	t.Parallel()
	s, dir := newRecords(t), t.TempDir()
	x, built := reopened(t, dir, s)
	if !built {
		t.Error("an empty folder wasn't built")
	}
	seq, names := s.edit("pictures/zeus-plate", func(p *pb.Picture) { p.Title = "Saint Peter" })
	apply(t, x, seq, names)
	if _, err := Open(context.Background(), dir, s, Options{}); !errors.Is(err, ErrLocked) {
		t.Errorf("a second opener got %v", err)
	}
	closed(t, x)
	closed(t, x) // harmless
	if _, err := x.Search(context.Background(), Query{}); !errors.Is(err, ErrClosed) {
		t.Errorf("search after closing: %v", err)
	}
	if err := x.Apply(context.Background(), 9, nil); !errors.Is(err, ErrClosed) {
		t.Errorf("apply after closing: %v", err)
	}
	x, built = reopened(t, dir, s)
	defer closed(t, x)
	if built || x.Sequence() != seq {
		t.Errorf("built %v, sequence %d, want %d", built, x.Sequence(), seq)
	}
	sameAs(t, x, s)
}

// TestCrash takes a copy of the folder while the index is in use, as a power cut
// would leave it, and brings it up to date from the journal.
func TestCrash(t *testing.T) {
	t.Parallel()
	s, dir := newRecords(t), t.TempDir()
	x, _ := reopened(t, dir, s)
	defer closed(t, x)
	log := map[int64][]string{}
	for i := range 30 {
		seq, names := s.edit("pictures/zeus-plate", func(p *pb.Picture) { p.Title = fmt.Sprintf("John dory, state %d", i) })
		log[seq] = names
		apply(t, x, seq, names)
	}
	seq, gone := s.remove("pictures/perca-plate")
	log[seq] = gone
	apply(t, x, seq, gone)
	left := t.TempDir()
	copyIndex(t, dir, left)

	y, built := reopened(t, left, s)
	defer closed(t, y)
	if built {
		t.Fatal("built again instead of repaired")
	}
	behind := y.Sequence()
	if behind > seq {
		t.Fatalf("sequence %d is beyond %d", behind, seq)
	}
	for n := behind + 1; n <= seq; n++ {
		apply(t, y, n, log[n])
	}
	if y.Sequence() != seq {
		t.Errorf("sequence %d, want %d", y.Sequence(), seq)
	}
	sameAs(t, y, s)
}

// copyIndex copies what a crash leaves: the state, and of each generation the
// root first, so that every segment it names is there or too new to be named.
func copyIndex(tb testing.TB, from, to string) {
	tb.Helper()
	p := pointer{}
	entries, err := os.ReadDir(from)
	if err != nil {
		tb.Fatal(err)
	}
	for _, e := range entries {
		if !e.IsDir() {
			continue
		}
		p = pointer{Schema: schema, Archive: "studio", Generation: e.Name()}
		sub := filepath.Join(to, e.Name())
		if err := os.Mkdir(sub, 0o700); err != nil {
			tb.Fatal(err)
		}
		copyRoot(tb, filepath.Join(from, e.Name()), sub)
	}
	st, err := openState(to)
	if err != nil {
		tb.Fatal(err)
	}
	if err := errors.Join(st.write(p), st.close()); err != nil {
		tb.Fatal(err)
	}
}

func copyRoot(tb testing.TB, from, to string) {
	tb.Helper()
	// Segments are never changed once written: linking keeps those that the running
	// index removes meanwhile. Two rounds catch what the root names.
	for range 2 {
		files, err := filepath.Glob(filepath.Join(from, "*"))
		if err != nil {
			tb.Fatal(err)
		}
		for _, f := range files {
			b, err := os.ReadFile(f)
			if err != nil {
				continue // removed meanwhile
			}
			if err := os.WriteFile(filepath.Join(to, filepath.Base(f)), b, 0o600); err != nil {
				tb.Fatal(err)
			}
		}
	}
}

func TestBuiltAgain(t *testing.T) {
	t.Parallel()
	shared, whole := newRecords(t), t.TempDir()
	x, _ := reopened(t, whole, shared)
	total := ask(t, x, &pb.SearchPicturesRequest{Text: "fin"}).Total
	closed(t, x)
	for name, spoil := range map[string]func(t *testing.T, dir string, s *studio){
		"schema":          func(t *testing.T, dir string, _ *studio) { setPointer(t, dir, func(p *pointer) { p.Schema++ }) },
		"another archive": func(_ *testing.T, _ string, s *studio) { s.id = "another" },
		"no generation": func(t *testing.T, dir string, _ *studio) {
			setPointer(t, dir, func(p *pointer) { p.Generation = "gone" })
		},
		"path outside": func(t *testing.T, dir string, _ *studio) {
			setPointer(t, dir, func(p *pointer) { p.Generation = "../x" })
		},
		"ahead":    func(_ *testing.T, _ string, s *studio) { s.seq = 0 },
		"no state": func(t *testing.T, dir string, _ *studio) { remove(t, filepath.Join(dir, stateFile)) },
		"damaged state": func(t *testing.T, dir string, _ *studio) {
			overwrite(t, filepath.Join(dir, stateFile))
		},
		"damaged root":    func(t *testing.T, dir string, _ *studio) { overwrite(t, one(t, dir, "generation-*/root.bolt")) },
		"segment gone":    func(t *testing.T, dir string, _ *studio) { remove(t, one(t, dir, "generation-*/*.zap")) },
		"segment cut":     func(t *testing.T, dir string, _ *studio) { truncate(t, one(t, dir, "generation-*/*.zap")) },
		"segment flipped": func(t *testing.T, dir string, _ *studio) { flip(t, one(t, dir, "generation-*/*.zap")) },
		"segment spoiled": func(t *testing.T, dir string, _ *studio) { overwrite(t, one(t, dir, "generation-*/*.zap")) },
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			s := &studio{id: shared.id, seq: shared.seq, taxa: shared.taxa, pictures: shared.pictures, specimens: shared.specimens}
			if err := os.CopyFS(dir, os.DirFS(whole)); err != nil {
				t.Fatal(err)
			}
			spoil(t, dir, s)
			x, built := reopened(t, dir, s)
			defer closed(t, x)
			if !built {
				t.Error("wasn't built again")
			}
			if a := ask(t, x, &pb.SearchPicturesRequest{Text: "fin"}); a.Total != total {
				t.Errorf("%d found, want %d", a.Total, total)
			}
			if folders, _ := filepath.Glob(filepath.Join(dir, "generation-*")); len(folders) != 1 {
				t.Errorf("folders left: %v", folders)
			}
		})
	}
}

func setPointer(t *testing.T, dir string, f func(*pointer)) {
	t.Helper()
	st, err := openState(dir)
	if err != nil {
		t.Fatal(err)
	}
	p := st.read()
	f(&p)
	if err := errors.Join(st.write(p), st.close()); err != nil {
		t.Fatal(err)
	}
}

func one(t *testing.T, dir, pattern string) string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(dir, pattern))
	if err != nil || len(found) == 0 {
		t.Fatalf("%s: %v %v", pattern, found, err)
	}
	return found[0]
}

func remove(t *testing.T, path string) {
	t.Helper()
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
}

func overwrite(t *testing.T, path string) {
	t.Helper()
	if err := os.WriteFile(path, bytes.Repeat([]byte("spoiled "), 600), 0o600); err != nil {
		t.Fatal(err)
	}
}

// flip changes one bit in the middle.
func flip(t *testing.T, path string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	b[len(b)/3] ^= 0x10
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func truncate(t *testing.T, path string) {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, info.Size()/2); err != nil {
		t.Fatal(err)
	}
}

// TestFailedBuild leaves nothing behind, and the next try works.
func TestFailedBuild(t *testing.T) {
	t.Parallel()
	s, dir := newRecords(t), t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Open(ctx, dir, s, Options{}); !errors.Is(err, context.Canceled) {
		t.Fatalf("got %v", err)
	}
	x, built := reopened(t, dir, s)
	defer closed(t, x)
	if !built {
		t.Error("a failed build was taken for an index")
	}
	sameAs(t, x, s)
}

func TestDamagedPointer(t *testing.T) {
	t.Parallel()
	st, err := openState(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = st.close() }()
	if err := st.write(pointer{Schema: 1, Generation: "g"}); err != nil {
		t.Fatal(err)
	}
	err = st.db.Update(func(tx *bbolt.Tx) error { return tx.Bucket(stateBucket).Put(stateBucket, []byte("{")) })
	if err != nil {
		t.Fatal(err)
	}
	if p := st.read(); p != (pointer{}) {
		t.Errorf("read %+v", p)
	}
}
