package imaging

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// PyramidInfo describes a pyramid: the picture upright, on white and in sRGB, cut into JPEG tiles at full size, half, a quarter and so on, down to one tile.
type PyramidInfo struct {
	Width    int      `json:"width"`  // pixels of the picture as shown
	Height   int      `json:"height"` // pixels
	Tile     int      `json:"tile"`   // edge of a tile, pixels; those at the right and lower edge are smaller
	Levels   int      `json:"levels"` // level 0 has full size, each next one half of it, rounded up
	Gray     bool     `json:"gray"`
	Decoder  string   `json:"decoder"`
	Warnings []string `json:"warnings,omitempty"`
	Bytes    int64    `json:"bytes"` // of all tiles
}

const (
	pyramidTile    = 512
	pyramidQuality = 90 // at which libvips keeps full color resolution
	pyramidName    = "picture"
	// pyramidTimes is how much longer than previews a pyramid may take.
	pyramidTimes = 5
)

// Size is the size of a level in pixels.
func (p PyramidInfo) Size(level int) (width, height int) {
	return halved(p.Width, level), halved(p.Height, level)
}

// halved is n halved so many times, rounded up each time, which is the same as rounding up once.
func halved(n, times int) int { return (n + 1<<times - 1) >> times }

// TileFile is where a tile lies in the pyramid's folder: the layout of Deep Zoom, whose levels count from the smallest.
func (p PyramidInfo) TileFile(level, column, row int) string {
	return filepath.Join(pyramidName+"_files", strconv.Itoa(p.Levels-1-level), fmt.Sprintf("%d_%d.jpg", column, row))
}

// Pyramid makes the tiles of an original in dir, an empty folder that the caller removes if it fails. With libvips memory stays below 300 MiB
// whatever the size of a picture that can be read row by row; pure Go holds the picture whole, and refuses what is beyond the memory limit with
// libvips as the remedy. Errors are as with Derive.
func (r *Runner) Pyramid(ctx context.Context, original io.Reader, dir string) (PyramidInfo, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return PyramidInfo{}, err
	}
	lim := r.cfg.Limits
	lim.Timeout *= time.Duration(pyramidTimes)
	var info PyramidInfo
	err = r.work(ctx, original, request{Pyramid: dir, Limits: lim}, func(a answer, _ string) error {
		if a.Pyramid == nil {
			return errEmptyAnswer
		}
		info = *a.Pyramid
		return nil
	})
	return info, err
}

// newPyramid describes the pyramid of a picture before it is made.
func newPyramid(h Header, gray bool) PyramidInfo {
	w, hh := h.Oriented()
	p := PyramidInfo{Width: int(w), Height: int(hh), Tile: pyramidTile, Levels: 1, Gray: gray, Warnings: h.cutWarnings()}
	for n := max(p.Width, p.Height); halved(n, p.Levels-1) > p.Tile; {
		p.Levels++
	}
	return p
}

// makePyramid runs in the child process.
func makePyramid(ctx context.Context, req request) (p PyramidInfo, err error) {
	f, h, useVips, err := openPicture(ctx, req.Path, req.Limits, req.Vips)
	if err != nil {
		return p, err
	}
	defer f.Close() //nolint:errcheck // only read
	p = newPyramid(h, !h.Color())
	if useVips {
		err = req.Vips.pyramid(ctx, req, h, &p)
	} else {
		err = goPyramid(ctx, f, req, h, &p)
	}
	if err != nil {
		return p, err
	}
	return p, p.measure(req.Pyramid)
}

// measure adds up the tiles and checks that the first and last of each level are there.
func (p *PyramidInfo) measure(dir string) error {
	for level := range p.Levels {
		w, h := p.Size(level)
		for _, name := range []string{p.TileFile(level, 0, 0), p.TileFile(level, (w-1)/p.Tile, (h-1)/p.Tile)} {
			if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
				return fault(ErrDecoder, "try again", "a pyramid of %d levels lacks a tile: %v", p.Levels, err)
			}
		}
	}
	return filepath.WalkDir(dir, func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err == nil {
			p.Bytes += info.Size()
		}
		return err
	})
}

// pyramid has libvips make the tiles, straight from the file when it needs neither turning nor another depth or color.
func (v vipsPrograms) pyramid(ctx context.Context, req request, h Header, p *PyramidInfo) error {
	version, err := v.run(ctx, req.Dir, v.Vips, "--version")
	if err != nil {
		return err
	}
	p.Decoder = libvipsName(version)
	c := chain{vips: v, dir: req.Dir, at: req.Path + "[access=sequential,fail-on=truncated]"}
	if err := c.opaque(ctx, h); err != nil {
		return err
	}
	var info CutInfo
	if _, err := c.color(ctx, h, part{depth: 8, gray: p.Gray}, &info); err != nil {
		return err
	}
	p.Warnings = append(p.Warnings, info.Warnings...)
	if err := c.turn(ctx, turnOf(h.Orientation)); err != nil {
		return err
	}
	return c.run(ctx, "dzsave", filepath.Join(req.Pyramid, pyramidName), "--tile-size", strconv.Itoa(p.Tile), "--overlap", "0", "--depth", "onetile",
		"--suffix", fmt.Sprintf(".jpg[Q=%d]", pyramidQuality), "--strip")
}

// goPyramid decodes whole and makes all levels in one pass over the rows.
func goPyramid(ctx context.Context, f *os.File, req request, h Header, p *PyramidInfo) error {
	most := add(h.DecodeBytes(), mul(int64(p.Width), 2*pyramidTile*4))
	if h.Orientation > 1 {
		most = add(most, mul(h.Pixels(), 8))
	}
	if most > req.Limits.Memory {
		return fault(ErrTooBig, "install libvips-tools, which needs less memory", "needs about %s (%d bytes) for tiles; the limit is %s", mib(most), most, mib(req.Limits.Memory))
	}
	m, err := goPicture(f, h)
	if err != nil {
		return err
	}
	if h.MediaType == GIF {
		m = onCanvas(m, h)
	}
	src := rasterOf(m, !h.layout.alpha)
	if t := turnOf(h.Orientation); t != (turn{}) {
		whole := part{width: src.width, height: src.height, outWidth: src.width, outHeight: src.height, depth: 8, turn: t, gray: src.channels == 1}
		if m, err = whole.make(ctx, src); err != nil {
			return err
		}
		src = rasterOf(m, true)
	}
	p.Decoder, p.Gray = goDecoderName(h.MediaType), src.channels == 1
	if h.ICCProfile != "" && h.Model != CMYK && !strings.Contains(h.ICCProfile, "sRGB") {
		p.Warnings = append(p.Warnings, warnProfile(h))
	}
	top, err := newLevels(*p, req.Pyramid, src.channels)
	if err != nil {
		return err
	}
	line := make([]float32, src.width*src.channels)
	for y := range src.height {
		if err := ctx.Err(); err != nil {
			return err
		}
		src.row(y, line)
		if err := top.push(line); err != nil {
			return err
		}
	}
	return nil
}

// level collects rows, writes a band of tiles when it has enough, and hands each pair of rows on to the next level as their mean.
type level struct {
	info     PyramidInfo
	number   int
	dir      string
	channels int
	width    int
	height   int
	band     flat
	y        int       // rows taken
	odd      []float32 // an upper row that waits for the lower one
	next     *level
}

func newLevels(p PyramidInfo, dir string, channels int) (*level, error) {
	var below *level
	for number := p.Levels - 1; number >= 0; number-- {
		l := &level{info: p, number: number, dir: dir, channels: channels, next: below}
		l.width, l.height = p.Size(number)
		l.band = newFlat(l.width, min(p.Tile, l.height), channels, 8)
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, p.TileFile(number, 0, 0))), 0o700); err != nil {
			return nil, err
		}
		below = l
	}
	return below, nil
}

func (l *level) push(row []float32) error {
	l.band.setRow(l.y%l.info.Tile, row)
	l.y++
	if l.y%l.info.Tile == 0 || l.y == l.height {
		if err := l.write(); err != nil {
			return err
		}
	}
	switch {
	case l.next == nil:
		return nil
	case l.y%2 == 1 && l.y < l.height:
		l.odd = append(l.odd[:0], row...)
		return nil
	case l.y%2 == 1: // a last row without partner stands for both
		return l.next.push(mean(row, row, l.channels))
	default:
		return l.next.push(mean(l.odd, row, l.channels))
	}
}

// mean halves two rows to one; a last sample without partner stands for both.
func mean(a, b []float32, channels int) []float32 {
	n := len(a) / channels
	out := make([]float32, (n+1)/2*channels)
	for x := 0; x < n; x += 2 {
		right := min(x+1, n-1)
		for c := range channels {
			out[x/2*channels+c] = (a[x*channels+c] + a[right*channels+c] + b[x*channels+c] + b[right*channels+c]) / 4
		}
	}
	return out
}

// write cuts the band into tiles.
func (l *level) write() error {
	row := (l.y - 1) / l.info.Tile
	rows := l.y - row*l.info.Tile
	for column := 0; column*l.info.Tile < l.width; column++ {
		box := image.Rect(column*l.info.Tile, 0, min((column+1)*l.info.Tile, l.width), rows)
		var tile image.Image
		if l.channels == 1 {
			tile = l.band.gray.SubImage(box)
		} else {
			tile = l.band.rgb.SubImage(box)
		}
		if err := writeTile(filepath.Join(l.dir, l.info.TileFile(l.number, column, row)), tile); err != nil {
			return err
		}
	}
	return nil
}

func writeTile(path string, m image.Image) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return jpeg.Encode(f, m, &jpeg.Options{Quality: pyramidQuality})
}
