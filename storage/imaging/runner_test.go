package imaging

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

var bothDecoders = map[string]Decoders{"Go": OnlyGo, "libvips": OnlyVips}

func TestDerive(t *testing.T) {
	t.Parallel()
	lines := encodePNG(t, hatching(1700, 200))
	tints := convert(t, lines, "out.png", "vips", "falsecolour", "in", "out.png")
	line := convert(t, lines, "out.tif", "vips", "tiffsave", "in", "out.tif", "--bitdepth", "1", "--compression", "ccittfax4")
	for name, d := range bothDecoders {
		r := newRunner(t, d, Limits{})
		for _, tt := range []struct {
			what  string
			file  []byte
			media string
			gray  bool
		}{{"color", tints, JPEG, false}, {"gray", lines, JPEG, true}, {"line art", line, PNG, true}} {
			got := derived(t, r, tt.file)
			want := []Preview{
				{Name: "preview-1600" + Extension(tt.media), Width: 1600, Height: 188, MediaType: tt.media},
				{Name: "preview-320" + Extension(tt.media), Width: 320, Height: 38, MediaType: tt.media},
			}
			if len(got.Previews) != len(want) || len(got.Warnings) != 0 || !strings.Contains(got.Decoder, map[string]string{"Go": "image/", "libvips": "libvips 8."}[name]) {
				t.Errorf("%s, %s: %d previews, warnings %q, decoder %q", name, tt.what, len(got.Previews), got.Warnings, got.Decoder)
				continue
			}
			for i, p := range got.Previews {
				pm := decodePreview(t, p)
				p.Bytes = nil
				if fmt.Sprint(p) != fmt.Sprint(want[i]) || pm.Bounds().Dx() != p.Width || pm.Bounds().Dy() != p.Height {
					t.Errorf("%s, %s: %+v with pixels %v, want %+v", name, tt.what, p, pm.Bounds(), want[i])
				}
				if _, isGray := pm.(*image.Gray); isGray != tt.gray {
					t.Errorf("%s, %s: preview is a %T", name, tt.what, pm)
				}
			}
		}
	}
}

// An oriented file gives the previews and the hash of the upright picture, in either decoder.
func TestDeriveOrients(t *testing.T) {
	t.Parallel()
	upright := as(image.NewGray(image.Rect(0, 0, 240, 160)), drawing(240, 160))
	for name, d := range bothDecoders {
		r := newRunner(t, d, Limits{})
		want := derived(t, r, grayTIFF(upright))
		for _, o := range []int{6} {
			stored := image.Image(upright)
			for range 3 { // a quarter turn is undone by three more
				stored = orient(stored, o)
			}
			got := derived(t, r, grayTIFF(stored.(*image.Gray), short(tagOrientation, uint64(o))))
			if p, q := got.Previews[0], want.Previews[0]; p.Width != q.Width || p.Height != q.Height {
				t.Fatalf("%s, orientation %d: %d by %d, want %d by %d", name, o, p.Width, p.Height, q.Width, q.Height)
			}
			mean, _ := meanDifference(t, decodePreview(t, got.Previews[0]), decodePreview(t, want.Previews[0]))
			if mean > 0.5 || got.PHash != want.PHash {
				t.Errorf("%s, orientation %d: pixels differ by %.2f, hash by %d bits", name, o, mean, Distance(got.PHash, want.PHash))
			}
		}
	}
}

// libvips' own reading of the orientation is a third opinion.
func TestOrientationAsLibvipsReadsIt(t *testing.T) {
	t.Parallel()
	stored := as(image.NewGray(image.Rect(0, 0, 120, 80)), drawing(120, 80))
	for o := 2; o <= 8; o++ {
		b := convert(t, grayTIFF(stored, short(tagOrientation, uint64(o))), "out.png", "vips", "autorot", "in", "out.png")
		want, _, err := image.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if mean, _ := meanDifference(t, orient(stored, o), want); mean != 0 {
			t.Errorf("orientation %d: differs by %.2f", o, mean)
		}
	}
}

// outline is a shaded body with fins on white, seen from the side; bend moves its parts.
func outline(width, height int, bend float64) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			fx, fy := 2*float64(x)/float64(width)-1, 2*float64(y)/float64(height)-1+bend*float64(x)/float64(width)
			v := 255.0
			switch body := fx*fx/0.5 + fy*fy/(0.16+0.1*bend); {
			case (fx+0.45)*(fx+0.45)+(fy+0.08)*(fy+0.08) < 0.002:
				v = 10 // eye
			case body < 1:
				v = 90 + 120*body - 60*fy + 25*math.Sin(40*fx)*math.Cos(30*fy) // scales
			case fx > 0.62 && fx < 0.95 && math.Abs(fy) < (fx-0.5)*1.1:
				v = 150 + 40*math.Sin(60*fy) // caudal fin
			case math.Abs(fx-0.1*bend) < 0.35 && fy < 0 && fy > -0.68+fx*fx:
				v = 170 + 50*math.Sin(50*fx) // dorsal fin
			}
			g := uint8(min(max(v, 0), 255))
			m.SetRGBA(x, y, color.RGBA{g, uint8(float64(g) * 0.9), uint8(float64(g) * 0.8), 255})
		}
	}
	return m
}

func TestPerceptualHash(t *testing.T) {
	t.Parallel()
	m := outline(400, 260, 0)
	r := newRunner(t, OnlyGo, Limits{})
	hash := func(b []byte) uint64 { return derived(t, r, b).PHash }
	base := hash(encodePNG(t, m))
	jpeg := convert(t, encodePNG(t, m), "out.jpg", "vips", "jpegsave", "in", "out.jpg", "--Q", "75")
	if d := Distance(base, hash(jpeg)); d > 2 {
		t.Errorf("another format: %d bits, want at most 2", d)
	}
	if d := Distance(base, hash(encodePNG(t, m.SubImage(image.Rect(10, 7, 390, 253))))); d == 0 || d > Near {
		t.Errorf("cropped by 5 %%: %d bits, want 1 to %d", d, Near)
	}
	if d := Distance(base, hash(encodePNG(t, outline(400, 260, 0.9)))); d <= Near {
		t.Errorf("another picture: %d bits, want more than %d", d, Near)
	}
	if d := Distance(0, ^uint64(0)); d != 64 {
		t.Errorf("Distance of opposites: %d", d)
	}
}

func TestDeriveSaysMorePages(t *testing.T) {
	dir := []entry{long(tagWidth, 4), long(tagHeight, 4), short(tagBits, 8), short(tagPhotometric, 1), long(tagStripOffsets, 8), long(tagStripCounts, 16)}
	b := buildTIFF(binary.LittleEndian, make([]byte, 16), 0, dir, dir, append([]entry{long(tagSubfile, 1)}, dir...))
	if h := probe(t, b); h.Pages != 2 {
		t.Errorf("%d pages, want 2: a smaller version of a page is none", h.Pages)
	}
	got := derived(t, newRunner(t, OnlyGo, Limits{}), b)
	if len(got.Warnings) != 1 || !strings.Contains(got.Warnings[0], "2 pages") {
		t.Errorf("warnings %q, want one about 2 pages", got.Warnings)
	}
}

// A child may do anything: every end is an error of kind ErrDecoder, in time, with nothing left in the temporary folder.
func TestBadChildren(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Fatal("the children of this test are shell scripts")
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	tests := map[string]struct{ script, says string }{
		"hangs":             {"sleep 60", "not done after"},
		"hangs with helper": {"sleep 60 & wait", "not done after"},
		"crashes":           {"kill -SEGV $$", "ended"},
		"exits":             {"echo broken >&2; exit 3", "broken"},
		"says nothing":      {"true", "no sound answer"},
		"says nonsense":     {"echo '{]'", "no sound answer"},
		"says empty answer": {"echo '{}'", "empty answer"},
		"floods":            {"head -c 70000000 /dev/zero", "more than"},
		"takes all memory":  {fmt.Sprintf("exec %q hoard", self), "ended: exit status"},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			script := filepath.Join(dir, "child")
			if err := os.WriteFile(script, []byte("#!/bin/sh\n"+tt.script+"\n"), 0o700); err != nil {
				t.Fatal(err)
			}
			lim := DefaultLimits()
			lim.Timeout = time.Second
			if strings.Contains(tt.script, "hoard") || strings.Contains(tt.script, "head") {
				lim.Timeout = time.Minute
			}
			scratch := t.TempDir()
			r, err := NewRunner(Config{Executable: script, Limits: lim, TempDir: scratch})
			if err != nil {
				t.Fatal(err)
			}
			_, err = r.Derive(t.Context(), strings.NewReader("x"))
			if !errors.Is(err, ErrDecoder) || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("got %v, want ErrDecoder saying %q", err, tt.says)
			}
			if left, _ := os.ReadDir(scratch); len(left) != 0 {
				t.Errorf("%d things left in the temporary folder", len(left))
			}
		})
	}
}

func TestCancelledDerive(t *testing.T) {
	dir := t.TempDir()
	script := filepath.Join(dir, "child")
	if err := os.WriteFile(script, []byte("#!/bin/sh\nsleep 60\n"), 0o700); err != nil {
		t.Fatal(err)
	}
	r, err := NewRunner(Config{Executable: script, TempDir: dir})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
	defer cancel()
	_, err = r.Derive(ctx, strings.NewReader("x"))
	if !errors.Is(err, context.DeadlineExceeded) || Reason(err) != "" {
		t.Errorf("got %v, want the caller's deadline and no fault of the picture", err)
	}
}

// The child's environment holds no secrets of the parent.
func TestChildEnvironment(t *testing.T) {
	t.Setenv("AWS_SECRET_ACCESS_KEY", "planted")
	dir := t.TempDir()
	script, seen := filepath.Join(dir, "child"), filepath.Join(dir, "seen")
	if err := os.WriteFile(script, []byte("#!/bin/sh\nenv > "+seen+"\n"), 0o700); err != nil {
		t.Fatal(err)
	}
	r, err := NewRunner(Config{Executable: script, TempDir: dir})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Derive(t.Context(), strings.NewReader("x")); err == nil {
		t.Fatal("a child without answer passes")
	}
	env, err := os.ReadFile(seen)
	if err != nil || !strings.Contains(string(env), "GOMEMLIMIT=") {
		t.Fatalf("environment %q, %v", env, err)
	}
	if strings.Contains(string(env), "planted") {
		t.Error("the child sees the parent's secret")
	}
}

func TestMissingExecutableIsNoFault(t *testing.T) {
	r, err := NewRunner(Config{Executable: filepath.Join(t.TempDir(), "absent"), TempDir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Derive(t.Context(), strings.NewReader("x")); err == nil || Reason(err) != "" {
		t.Errorf("got %v, want an error of the machine", err)
	}
}

func TestRunnerLimits(t *testing.T) {
	t.Parallel()
	b := encodePNG(t, image.NewGray(image.Rect(0, 0, 4000, 3000)))
	small := DefaultLimits()
	small.WholePixels, small.StreamedPixels = 10e6, 10e6
	tight := DefaultLimits()
	tight.FileBytes = int64(len(b) - 1)
	for name, lim := range map[string]Limits{"pixels": small, "file": tight} {
		for _, d := range []Decoders{OnlyVips} {
			if _, err := newRunner(t, d, lim).Derive(t.Context(), bytes.NewReader(b)); !errors.Is(err, ErrTooBig) {
				t.Errorf("%s: %v, want ErrTooBig", name, err)
			}
		}
	}
	for _, lim := range []Limits{{StreamedPixels: 1}, {StreamedPixels: 1, WholePixels: 1, Memory: 1, FileBytes: 1, Timeout: time.Hour}} {
		if _, err := NewRunner(Config{Limits: lim}); err == nil {
			t.Errorf("limits %+v pass", lim)
		}
	}
}

// What only libvips decodes within the limits says so where it is missing.
func TestRemedyIsLibvips(t *testing.T) {
	b := grayTIFF(image.NewGray(image.Rect(0, 0, 1, 1)), long(tagWidth, 20000), long(tagHeight, 15000), long(tagRowsPerStrip, 1))
	h := probe(t, b)
	_, f := choose(h, DefaultLimits(), false)
	if !errors.Is(f, ErrTooBig) || !strings.Contains(f.Right, "libvips-tools") {
		t.Errorf("without libvips: %v", f)
	}
	if useVips, f := choose(h, DefaultLimits(), true); f != nil || !useVips {
		t.Errorf("with libvips: %v", f)
	}
}

func TestNoVipsOnPath(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	if _, err := NewRunner(Config{Decoders: OnlyVips}); !errors.Is(err, ErrUnsupported) {
		t.Errorf("got %v, want ErrUnsupported", err)
	}
	r, err := NewRunner(Config{TempDir: t.TempDir()})
	if err != nil || r.HasVips() {
		t.Fatalf("%v", err)
	}
	if d := derived(t, r, fixture(t, "rgb-lzw.tif")); !strings.Contains(d.Decoder, "x/image") {
		t.Errorf("decoder %q", d.Decoder)
	}
}

func TestDeriveKeepsReadErrors(t *testing.T) {
	broken := errors.New("bucket gone")
	_, err := newRunner(t, OnlyGo, Limits{}).Derive(t.Context(), io.MultiReader(strings.NewReader("II*"), failingReader{broken}))
	if !errors.Is(err, broken) || Reason(err) != "" {
		t.Errorf("got %v", err)
	}
}

type failingReader struct{ err error }

func (f failingReader) Read([]byte) (int, error) { return 0, f.err }
