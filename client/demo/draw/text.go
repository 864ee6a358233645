package draw

import (
	"fmt"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// lettering sets a line of text as outlines; size is the em in mm. It returns
// the paths and the width.
func lettering(text string, italic bool, size float64, at Point) ([][]Point, float64, error) {
	ttf := goregular.TTF
	if italic {
		ttf = goitalic.TTF
	}
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, 0, fmt.Errorf("caption font: %w", err)
	}
	const em = 1000
	var buf sfnt.Buffer
	var paths [][]Point
	x := 0.0
	k := size / em
	for _, r := range text {
		id, err := f.GlyphIndex(&buf, r)
		if err != nil {
			return nil, 0, fmt.Errorf("caption letter %q: %w", r, err)
		}
		segs, err := f.LoadGlyph(&buf, id, fixed.I(em), nil)
		if err != nil {
			return nil, 0, fmt.Errorf("caption letter %q: %w", r, err)
		}
		place := func(p fixed.Point26_6) Point {
			return Point{at.X + (x+float64(p.X)/64)*k, at.Y + float64(p.Y)/64*k}
		}
		paths = append(paths, glyph(segs, place)...)
		adv, err := f.GlyphAdvance(&buf, id, fixed.I(em), font.HintingNone)
		if err != nil {
			return nil, 0, fmt.Errorf("caption letter %q: %w", r, err)
		}
		x += float64(adv) / 64
	}
	return paths, x * k, nil
}

// glyph flattens the outline of one letter.
func glyph(segs sfnt.Segments, place func(fixed.Point26_6) Point) [][]Point {
	var out [][]Point
	var cur []Point
	for _, s := range segs {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if len(cur) > 0 {
				out = append(out, cur)
			}
			cur = []Point{place(s.Args[0])}
		case sfnt.SegmentOpLineTo:
			cur = append(cur, place(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			cur = append(cur, quad(cur[len(cur)-1], place(s.Args[0]), place(s.Args[1]), 5)[1:]...)
		case sfnt.SegmentOpCubeTo:
			cur = append(cur, cubic(cur[len(cur)-1], place(s.Args[0]), place(s.Args[1]), place(s.Args[2]), 6)[1:]...)
		}
	}
	if len(cur) > 0 {
		out = append(out, cur)
	}
	return out
}
