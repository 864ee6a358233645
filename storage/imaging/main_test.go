package imaging

import (
	"bytes"
	"context"
	"image"
	"os"
	"path/filepath"
	"testing"
)

// TestMain lets the test program serve as its own decoder process.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 {
		switch os.Args[1] {
		case ChildVerb:
			code := ChildMain(os.Args[2:], os.Stdin, os.Stdout, os.Stderr)
			leavePeak()
			os.Exit(code)
		case "hoard":
			hoard()
		}
	}
	os.Exit(m.Run())
}

func fixture(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "images", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func probe(t testing.TB, b []byte) Header {
	t.Helper()
	h, err := Probe(t.Context(), bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatalf("Probe: %v", err)
	}
	return h
}

// newRunner makes a Runner whose child is the test program. Asking for libvips where it isn't installed fails the test.
func newRunner(t testing.TB, d Decoders, lim Limits) *Runner {
	t.Helper()
	r, err := NewRunner(Config{Decoders: d, Limits: lim, TempDir: t.TempDir(), Concurrency: 2})
	if err != nil {
		t.Fatalf("NewRunner: %v", err)
	}
	return r
}

func derived(t testing.TB, r *Runner, original []byte) Derived {
	t.Helper()
	d, err := r.Derive(t.Context(), bytes.NewReader(original))
	if err != nil {
		t.Fatalf("Derive: %v", err)
	}
	return d
}

// decodePreview reads a preview back.
func decodePreview(t testing.TB, p Preview) image.Image {
	t.Helper()
	m, _, err := image.Decode(bytes.NewReader(p.Bytes))
	if err != nil {
		t.Fatalf("preview %s: %v", p.Name, err)
	}
	return m
}

// reduced decodes an original and gives it as the largest preview's pixels before they are encoded, so that tests see no JPEG noise.
func reduced(t testing.TB, original []byte, useVips bool, width, height int) image.Image {
	t.Helper()
	dir := t.TempDir()
	path := filepath.Join(dir, "original")
	if err := os.WriteFile(path, original, 0o600); err != nil {
		t.Fatal(err)
	}
	h := probe(t, original)
	var d Derived
	var m image.Image
	var err error
	if useVips {
		v := findVips()
		if !v.found() {
			t.Fatal("vips and vipsthumbnail must be installed for this test: apt-get install libvips-tools")
		}
		m, err = v.reduce(context.Background(), path, dir, h, width, height, &d)
	} else {
		var f *os.File
		if f, err = os.Open(path); err == nil {
			t.Cleanup(func() { _ = f.Close() })
			m, err = goReduce(context.Background(), f, h, width, height, &d)
		}
	}
	if err != nil {
		t.Fatalf("decode: %v", err)
	}
	return m
}

// hoard takes memory without end under the limits of a decoder process. It exits well if nothing stops it, so that the test notices; how it is stopped
// differs with the race detector.
func hoard() {
	if err := confine(256 << 20); err != nil {
		os.Exit(0)
	}
	var all [][]byte
	for range 1 << 12 { // 16 GiB, which no run may reach
		b := make([]byte, 4<<20)
		for i := 0; i < len(b); i += 4096 {
			b[i] = 1
		}
		all = append(all, b)
	}
	os.Exit(min(len(all), 0))
}
