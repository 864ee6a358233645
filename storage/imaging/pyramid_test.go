package imaging

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// level reads all tiles of a level and lays them together.
func readLevel(t testing.TB, p PyramidInfo, dir string, number int) image.Image {
	t.Helper()
	w, h := p.Size(number)
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := 0; y < h; y += p.Tile {
		for x := 0; x < w; x += p.Tile {
			b, err := os.ReadFile(filepath.Join(dir, p.TileFile(number, x/p.Tile, y/p.Tile)))
			if err != nil {
				t.Fatal(err)
			}
			m, err := jpeg.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			box := image.Rect(x, y, min(x+p.Tile, w), min(y+p.Tile, h))
			if m.Bounds().Size() != box.Size() {
				t.Fatalf("level %d, tile at %d,%d: %v, want %v", number, x, y, m.Bounds().Size(), box.Size())
			}
			if _, gray := m.(*image.Gray); gray != p.Gray {
				t.Fatalf("level %d: tile is a %T, gray %v is told", number, m, p.Gray)
			}
			draw.Draw(out, box, m, m.Bounds().Min, draw.Src)
		}
	}
	return out
}

// The tiles of every level laid together are the picture at that level's size, upright, in either decoder, for sizes that don't divide evenly.
func TestPyramid(t *testing.T) {
	t.Parallel()
	smooth, err := Sample(t.Context(), drawing(300, 150), 0, 0, 300, 150, 1101, 523) // Go halves color resolution in JPEG
	if err != nil {
		t.Fatal(err)
	}
	colors := smooth.(*image.RGBA)
	gray := as(image.NewGray(image.Rect(0, 0, 400, 525)), colors)
	files := map[string]struct {
		file []byte
		want image.Image
	}{
		"color":    {encodePNG(t, colors), colors},
		"turned":   {grayTIFF(gray, short(tagOrientation, 8)), orient(gray, 8)},
		"16 bits":  {encodePNG(t, as(image.NewGray16(gray.Rect), gray)), gray},
		"one tile": {encodePNG(t, colors.SubImage(image.Rect(0, 0, 200, 512))), colors.SubImage(image.Rect(0, 0, 200, 512))},
	}
	for name, d := range bothDecoders {
		r := newRunner(t, d, Limits{})
		for what, f := range files {
			dir := t.TempDir()
			p, err := r.Pyramid(t.Context(), bytes.NewReader(f.file), dir)
			if err != nil {
				t.Fatalf("%s, %s: %v", name, what, err)
			}
			if b := f.want.Bounds(); p.Width != b.Dx() || p.Height != b.Dy() || p.Bytes == 0 || p.Gray != (what != "color" && what != "one tile") {
				t.Fatalf("%s, %s: %+v of %v", name, what, p, b)
			}
			if w, h := p.Size(p.Levels - 1); max(w, h) > p.Tile || p.Levels > 1 && max(w, h) <= p.Tile/2 {
				t.Errorf("%s, %s: %d levels, the last of %d by %d", name, what, p.Levels, w, h)
			}
			for number := range p.Levels {
				w, h := p.Size(number)
				want, err := Sample(t.Context(), f.want, 0, 0, float64(w<<number), float64(h<<number), w, h)
				if err != nil {
					t.Fatal(err)
				}
				// The tent's reach is wider than the mean of four that makes tiles, which shows at fine lines.
				if mean, _ := meanDifference(t, want, readLevel(t, p, dir, number)); mean > 8 || number == 0 && mean > 4 {
					t.Errorf("%s, %s, level %d: differs by %.2f in the mean", name, what, number, mean)
				}
			}
		}
	}
}

func TestPyramidRefusals(t *testing.T) {
	t.Parallel()
	for name, d := range bothDecoders {
		for _, tt := range []struct {
			what string
			file []byte
			want error
		}{{"bomb", pngBomb(60000, 60000, 8, 0), ErrTooBig}, {"cut short", encodeTIFF(t, image.NewGray(image.Rect(0, 0, 600, 400)), nil)[:2000], ErrTruncated}} {
			if _, err := newRunner(t, d, Limits{}).Pyramid(t.Context(), bytes.NewReader(tt.file), t.TempDir()); !errors.Is(err, tt.want) {
				t.Errorf("%s, %s: %v, want %v", name, tt.what, err, tt.want)
			}
		}
	}
	// Larger than pure Go may hold, small enough for libvips.
	lim := DefaultLimits()
	lim.WholePixels = 1000
	_, err := newRunner(t, OnlyGo, lim).Pyramid(t.Context(), bytes.NewReader(encodePNG(t, drawing(60, 40))), t.TempDir())
	if !errors.Is(err, ErrTooBig) || !strings.Contains(err.Error(), "libvips-tools") {
		t.Errorf("beyond the pixels held whole: %v, want ErrTooBig with libvips-tools as the remedy", err)
	}
}

// A part sampled at its own size is that part, and halves of a picture sampled apart meet without a seam.
func TestSample(t *testing.T) {
	m := as(image.NewRGBA(image.Rect(0, 0, 90, 60)), drawing(90, 60))
	got, err := Sample(t.Context(), m, 20, 10, 31, 17, 31, 17)
	if err != nil {
		t.Fatal(err)
	}
	if mean, _ := meanDifference(t, got, as(image.NewRGBA(image.Rect(0, 0, 31, 17)), shifted{m, 20, 10})); mean != 0 {
		t.Errorf("a part at its own size differs by %.3f", mean)
	}
	for _, edge := range []int{15, 180} {
		whole, err := Sample(t.Context(), m, 0, 0, 90, 60, 2*edge, 2*edge)
		if err != nil {
			t.Fatal(err)
		}
		right, err := Sample(t.Context(), m, 45, 0, 45, 60, edge, 2*edge)
		if err != nil {
			t.Fatal(err)
		}
		if mean, most := meanDifference(t, right, as(image.NewRGBA(right.Bounds()), shifted{whole, edge, 0})); most > 1 {
			t.Errorf("to %d: the right half differs by %.3f, at most %.0f", edge, mean, most)
		}
	}
	if g, ok := Lightness(m).(*image.Gray); !ok || g.GrayAt(3, 3).Y == 0 {
		t.Errorf("lightness is a %T", Lightness(m))
	}
}

// shifted is a picture seen from another corner.
type shifted struct {
	image.Image
	x, y int
}

func (s shifted) At(x, y int) color.Color { return s.Image.At(x+s.x, y+s.y) }
