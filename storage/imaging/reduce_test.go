package imaging

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"
)

func TestTentWeights(t *testing.T) {
	for _, s := range [][2]int{{1, 1}, {2, 1}, {1600, 1600}, {1601, 1600}, {7016, 1600}, {60000, 1}, {9, 4}} {
		n, m := s[0], s[1]
		reach := make([]float64, n)
		for i, tp := range tent(n, m) {
			sum := 0.0
			for k, w := range tp.weights {
				sum += float64(w)
				reach[tp.first+k] += float64(w)
			}
			if math.Abs(sum-1) > 1e-4 {
				t.Errorf("%d to %d: weights of sample %d sum to %g", n, m, i, sum)
			}
		}
		for x, r := range reach { // every source sample counts
			if r <= 0 {
				t.Errorf("%d to %d: source sample %d is lost", n, m, x)
				break
			}
		}
	}
}

func TestReduceKeepsFlatTones(t *testing.T) {
	for _, v := range []uint8{0, 1, 127, 254, 255} {
		src := image.NewRGBA(image.Rect(0, 0, 97, 61))
		for i := range src.Pix {
			src.Pix[i] = v
		}
		m, err := reduce(t.Context(), rasterOf(src, true), 31, 17)
		if err != nil {
			t.Fatal(err)
		}
		for _, got := range m.(*image.RGBA).Pix[:3] {
			if got != v {
				t.Errorf("%d became %d", v, got)
			}
		}
	}
}

// The tone of hatching finer than a preview pixel must survive: each pixel is as dark as the lines around it. Taking single pixels instead, as fast
// reductions do, makes bars. Sizes are in the ratio of A4 at 600 ppi to a preview of 800 pixels, lines a third of a millimetre apart.
func TestReduceKeepsToneOfHatching(t *testing.T) {
	src := hatching(2480, 1754)
	const w, h = 283, 200
	m, err := reduce(t.Context(), rasterOf(src, true), w, h)
	if err != nil {
		t.Fatal(err)
	}
	tent := toneError(src, func(x, y int) uint8 { return m.(*image.Gray).Pix[y*w+x] }, w, h)
	nearest := toneError(src, func(x, y int) uint8 { return src.Pix[(y*src.Rect.Dy()/h)*src.Stride+x*src.Rect.Dx()/w] }, w, h)
	t.Logf("mean tone error: tent %.2f, nearest %.2f of 255", tent, nearest)
	if tent >= 1 {
		t.Errorf("mean tone error %.2f of 255, want below 1", tent)
	}
	if nearest < 25 {
		t.Errorf("the same measure finds only %.2f for nearest pixels: it doesn't see bars", nearest)
	}
}

// toneError compares each preview pixel with the share of white in the source around it, over whole periods of the hatching: mean difference, 0 to 255.
func toneError(src *image.Gray, at func(x, y int) uint8, w, h int) float64 {
	sx, sy := float64(src.Rect.Dx())/float64(w), float64(src.Rect.Dy())/float64(h)
	const across, down = 2 * hatchPeriod, 2 * hatchPeriod // source pixels to each side
	sum, n := 0.0, 0
	for y := 4; y < h-4; y++ {
		for x := 4; x < w-4; x += 7 {
			cx, cy := int((float64(x)+0.5)*sx), int((float64(y)+0.5)*sy)
			white := 0
			for j := cy - down; j < cy+down; j++ {
				for _, v := range src.Pix[j*src.Stride+cx-across : j*src.Stride+cx+across] {
					white += int(v)
				}
			}
			sum += math.Abs(float64(at(x, y)) - float64(white)/(4*across*down))
			n++
		}
	}
	return sum / float64(n)
}

// Each image type gives the samples that its color model says.
func TestRasterOfEveryType(t *testing.T) {
	const w, h = 13, 7
	r := rand.New(rand.NewPCG(1, 2))
	box := image.Rect(0, 0, w, h)
	pal := image.NewPaletted(box, color.Palette{color.White, color.Black, color.NRGBA{200, 10, 30, 255}, color.NRGBA{9, 9, 9, 60}})
	ycc := image.NewYCbCr(box, image.YCbCrSubsampleRatio420)
	for i := range pal.Pix {
		pal.Pix[i] = uint8(r.IntN(4))
	}
	for _, plane := range [][]uint8{ycc.Y, ycc.Cb, ycc.Cr} {
		for i := range plane {
			plane[i] = uint8(r.IntN(256))
		}
	}
	images := []image.Image{pal, ycc, image.NewCMYK(box)}
	type settable interface {
		image.Image
		Set(x, y int, c color.Color)
	}
	for _, m := range []settable{image.NewGray(box), image.NewGray16(box), image.NewRGBA(box), image.NewNRGBA(box), image.NewRGBA64(box), image.NewNRGBA64(box)} {
		for y := range h {
			for x := range w {
				m.Set(x, y, color.NRGBA64{uint16(r.Uint32()), uint16(r.Uint32()), uint16(r.Uint32()), uint16(r.Uint32())})
			}
		}
		images = append(images, m)
	}
	for _, m := range images {
		ra := rasterOf(m, false)
		row := make([]float32, ra.width*ra.channels)
		var want [3]float32
		for y := range h {
			ra.row(y, row)
			for x := range w {
				onWhite(m.At(x, y), want[:])
				for c := range ra.channels {
					// Go's own colors round up to twice: for premultiplied 8 bits, and from YCbCr.
					if d := math.Abs(float64(row[x*ra.channels+c] - want[c])); d > 1 {
						t.Fatalf("%T at %d,%d channel %d: %g, want %g", m, x, y, c, row[x*ra.channels+c], want[c])
					}
				}
			}
		}
	}
}

// Orientation o means what Exif's table says of row 0 and column 0, written out here by turns and mirrorings.
func TestOrient(t *testing.T) {
	// The letter F in a box of 3 by 5 is unlike all of its turns.
	upright := []string{"###", "#..", "##.", "#..", "#.."}
	stored := map[int][]string{
		1: {"###", "#..", "##.", "#..", "#.."},
		2: {"###", "..#", ".##", "..#", "..#"},
		3: {"..#", "..#", ".##", "..#", "###"},
		4: {"#..", "#..", "##.", "#..", "###"},
		5: {"#####", "#.#..", "#...."},
		6: {"#....", "#.#..", "#####"},
		7: {"....#", "..#.#", "#####"},
		8: {"#####", "..#.#", "....#"},
	}
	for o, rows := range stored {
		for _, gray := range []bool{true, false} {
			got := letters(orient(letter(rows, gray), o))
			for y, row := range upright {
				if len(got) != len(upright) || got[y] != row {
					t.Errorf("orientation %d, gray %v: %q, want %q", o, gray, got, upright)
					break
				}
			}
		}
	}
}

func letter(rows []string, gray bool) image.Image {
	f := newFlat(len(rows[0]), len(rows), map[bool]int{true: 1, false: 3}[gray], 8)
	for y, row := range rows {
		for x, c := range row {
			v := color.Gray{uint8(map[rune]int{'#': 0, '.': 255}[c])}
			if gray {
				f.gray.Set(x, y, v)
			} else {
				f.rgb.Set(x, y, v)
			}
		}
	}
	return f.image()
}

func letters(m image.Image) (rows []string) {
	for y := range m.Bounds().Dy() {
		row := ""
		for x := range m.Bounds().Dx() {
			if color.GrayModel.Convert(m.At(x, y)).(color.Gray).Y < 128 {
				row += "#"
			} else {
				row += "."
			}
		}
		rows = append(rows, row)
	}
	return rows
}

func TestFit(t *testing.T) {
	tests := [][4]int{{7016, 4961, 1600, 1131}, {4961, 7016, 1131, 1600}, {1600, 1600, 1600, 1600}, {10, 20, 10, 20}, {100000, 1, 1600, 1}, {1, 100000, 1, 1600}}
	for _, tt := range tests {
		if w, h := fit(tt[0], tt[1], 1600); w != tt[2] || h != tt[3] {
			t.Errorf("%d by %d: %d by %d, want %d by %d", tt[0], tt[1], w, h, tt[2], tt[3])
		}
	}
}
