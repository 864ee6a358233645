package imaging

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// chain is a row of libvips operations, each reading what the one before it has written.
type chain struct {
	vips vipsPrograms
	dir  string
	at   string // what the next operation reads
	used string // the same if it is a scratch file, to be removed after it; empty for the original
	n    int
}

// do runs one operation. Scratch files are uncompressed and in libvips' own format, which it reads without decoding, a window at a time.
func (c *chain) do(ctx context.Context, op string, args ...string) error {
	c.n++
	return c.to(ctx, filepath.Join(c.dir, fmt.Sprintf("step-%d.v", c.n)), op, args...)
}

func (c *chain) to(ctx context.Context, out, op string, args ...string) error {
	if err := c.run(ctx, op, out, args...); err != nil {
		return err
	}
	c.at, c.used = out, out
	return nil
}

// run applies an operation to what stands at the end of the chain, and removes that if it was a scratch file.
func (c *chain) run(ctx context.Context, op, out string, args ...string) error {
	run := c.vips.run
	if c.used != "" {
		run = c.vips.runOnOwn
	}
	if _, err := run(ctx, c.dir, c.vips.Vips, append([]string{op, c.at, out}, args...)...); err != nil || c.used == "" {
		return err
	}
	return os.Remove(c.used)
}

func (v vipsPrograms) cutAll(ctx context.Context, req request, h Header, parts []part, profile []byte, out func(int) string) ([]CutInfo, error) {
	version, err := v.run(ctx, req.Dir, v.Vips, "--version")
	if err != nil {
		return nil, err
	}
	kept := ""
	if profile != nil {
		kept = filepath.Join(req.Dir, "profile.icc")
		if err := os.WriteFile(kept, profile, 0o600); err != nil {
			return nil, err
		}
	}
	infos := make([]CutInfo, len(parts))
	for i, p := range parts {
		infos[i] = p.info(libvipsName(version), h.cutWarnings())
		c := chain{vips: v, dir: req.Dir, at: req.Path + "[access=sequential,fail-on=truncated]"}
		if err := c.cut(ctx, h, p, kept, out(i), &infos[i]); err != nil {
			return nil, err
		}
	}
	return infos, nil
}

// cutWarnings are what one who uses a cut should know.
func (h Header) cutWarnings() []string {
	var w []string
	if h.Model == CMYK && h.ICCProfile == "" {
		w = append(w, warnPlainCMYK)
	}
	return w
}

const warnPlainCMYK = "colors are approximate: the file is CMYK and names no color profile"

func (c *chain) cut(ctx context.Context, h Header, p part, profile, out string, info *CutInfo) error {
	if !p.whole {
		if err := c.do(ctx, "extract_area", ints(p.x, p.y, p.width, p.height)...); err != nil {
			return err
		}
	}
	if err := c.opaque(ctx, h); err != nil {
		return err
	}
	converted := false
	steps := []func() error{
		func() error { return c.resize(ctx, p) },
		func() (err error) { converted, err = c.color(ctx, h, p, info); return err },
	}
	if p.outWidth > p.width || p.outHeight > p.height { // color costs less on the smaller picture
		steps[0], steps[1] = steps[1], steps[0]
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	if err := c.turn(ctx, p.turn); err != nil {
		return err
	}
	if converted || profile == "" {
		profile = ""
	} else {
		info.ICCProfile = h.ICCProfile
	}
	return c.save(ctx, p, profile, out)
}

// opaque lays transparency on white, and drops samples that are neither color nor transparency, such as a spot color.
func (c *chain) opaque(ctx context.Context, h Header) error {
	colors := map[ColorModel]int{Bilevel: 1, Gray: 1, RGB: 3, CMYK: 4, Lab: 3}[h.Model]
	switch {
	case h.layout.alpha || h.MediaType == GIF:
		return c.do(ctx, "flatten", "--background", strconv.Itoa(1<<max(h.BitsPerSample, 8)-1))
	case h.MediaType == TIFF && colors > 0 && h.SamplesPerPixel > colors:
		return c.do(ctx, "extract_band", "0", "--n", strconv.Itoa(colors))
	default:
		return nil
	}
}

// resize scales each direction with the filter that suits it: the tent that previews have when reducing, Catmull-Rom (libvips' bicubic) when enlarging.
func (c *chain) resize(ctx context.Context, p part) error {
	across, down := float64(p.outWidth)/float64(p.width), float64(p.outHeight)/float64(p.height)
	if across < 1 || down < 1 {
		err := c.do(ctx, "resize", decimal(min(across, 1)), "--vscale", decimal(min(down, 1)), "--kernel", "linear", "--gap", "0")
		if err != nil {
			return err
		}
	}
	if across <= 1 && down <= 1 {
		return nil
	}
	if c.used == "" { // an enlargement doesn't read row by row
		if err := c.do(ctx, "copy"); err != nil {
			return err
		}
	}
	// The displacements lay the centers of pixels on each other rather than the corners; libvips' resize would be off by up to half a pixel here.
	matrix := decimal(max(across, 1)) + " 0 0 " + decimal(max(down, 1))
	area := fmt.Sprintf("0 0 %d %d", p.outWidth, p.outHeight)
	return c.do(ctx, "affine", matrix, "--interpolate", "bicubic", "--extend", "copy", "--oarea", area,
		"--idx", "0.5", "--idy", "0.5", "--odx", "-0.5", "--ody", "-0.5")
}

func decimal(v float64) string { return strconv.FormatFloat(v, 'g', 17, 64) }

// color brings the samples to the wanted model and depth. Converted says that they mean sRGB now, or gray.
func (c *chain) color(ctx context.Context, h Header, p part, info *CutInfo) (converted bool, err error) {
	color, depth := h.Color(), 8
	if h.wide() {
		depth = 16
	}
	switch {
	case h.Model == Lab:
		converted, depth = true, p.depth
		err = c.do(ctx, "colourspace", map[int]string{8: "srgb", 16: "rgb16"}[depth])
	case h.Model == CMYK, h.ICCProfile != "" && (p.depth == 8 || p.gray && color):
		args := []string{"srgb", "--embedded", "--depth", strconv.Itoa(p.depth)}
		if h.Model == CMYK {
			args = append(args, "--input-profile", "cmyk")
		}
		err = c.do(ctx, "icc_transform", args...)
		if converted = err == nil; converted {
			color, depth = true, p.depth
		} else if errors.Is(err, ErrMalformed) && h.Model != CMYK {
			err = nil
			info.Warnings = append(info.Warnings, "colors are approximate: the color profile "+h.ICCProfile+" could not be applied")
			converted = true // and isn't passed on
		}
	}
	if err == nil && p.gray && color {
		converted = true
		err = c.do(ctx, "colourspace", grayOf(depth))
	}
	if err == nil && depth != p.depth {
		err = c.depth(ctx, p)
	}
	return converted, err
}

func grayOf(depth int) string { return map[int]string{8: "b-w", 16: "grey16"}[depth] }

// depth goes from 8 bits to 16, or back with rounding.
func (c *chain) depth(ctx context.Context, p part) error {
	model := grayOf(p.depth)
	if !p.gray {
		model = map[int]string{8: "srgb", 16: "rgb16"}[p.depth]
	}
	var err error
	if p.depth == 8 {
		err = c.do(ctx, "linear", decimal(1.0/257), "0.5", "--uchar")
	} else if err = c.do(ctx, "linear", "257", "0"); err == nil {
		err = c.do(ctx, "cast", "ushort")
	}
	if err != nil {
		return err
	}
	return c.do(ctx, "copy", "--interpretation", model)
}

func (c *chain) turn(ctx context.Context, t turn) error {
	if t.mirror {
		if err := c.do(ctx, "flip", "horizontal"); err != nil {
			return err
		}
	}
	if t.quarters == 0 {
		return nil
	}
	return c.do(ctx, "rot", fmt.Sprintf("d%d", 90*t.quarters))
}

// save writes the result without metadata but its resolution and, where one is named, its profile. libvips' own way to leave metadata out takes these two along, so
// that the pixels pass through a format that holds nothing else.
func (c *chain) save(ctx context.Context, p part, profile, out string) error {
	if err := c.to(ctx, filepath.Join(c.dir, "bare.ppm"), "copy"); err != nil {
		return err
	}
	var options []string
	switch p.mediaType {
	case JPEG:
		options = append(options, "Q="+strconv.Itoa(p.quality))
	case TIFF:
		options = append(options, "compression=deflate", "predictor=horizontal", "resunit=inch")
		if p.outBytes() > mostTIFF/2 {
			options = append(options, "bigtiff")
		}
	}
	if profile != "" {
		options = append(options, "profile="+profile)
	}
	res := decimal(p.ppi / 25.4) // libvips counts pixels per millimeter
	return c.run(ctx, "copy", out+"["+strings.Join(options, ",")+"]", "--xres", res, "--yres", res)
}

func libvipsName(version string) string {
	return "libvips " + strings.TrimPrefix(firstLine(version), "vips-")
}

func ints(v ...int) []string {
	out := make([]string, len(v))
	for i, n := range v {
		out[i] = strconv.Itoa(n)
	}
	return out
}
