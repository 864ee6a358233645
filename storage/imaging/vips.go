package imaging

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// vipsPrograms are the paths of libvips' command line programs, empty when they aren't used.
type vipsPrograms struct {
	Vips  string `json:"vips"`      // vips, for the reduction
	Thumb string `json:"thumbnail"` // vipsthumbnail, for color
}

// findVips looks both programs up on PATH; one alone is as good as none.
func findVips() vipsPrograms {
	v, err := exec.LookPath("vips")
	if err != nil {
		return vipsPrograms{}
	}
	t, err := exec.LookPath("vipsthumbnail")
	if err != nil {
		return vipsPrograms{}
	}
	return vipsPrograms{Vips: v, Thumb: t}
}

func (v vipsPrograms) found() bool { return v.Vips != "" && v.Thumb != "" }

// reduce decodes with libvips, streaming where the format allows. The reduction is libvips' triangle kernel without its integer pre-shrink, the
// same filter as in pure Go. Transparent pictures are laid on white before it, which costs an uncompressed copy on disk; color is converted
// to sRGB after it, on the small picture. Orientation is left to the caller.
func (v vipsPrograms) reduce(ctx context.Context, path, dir string, h Header, width, height int, d *Derived) (image.Image, error) {
	version, err := v.run(ctx, dir, v.Vips, "--version")
	if err != nil {
		return nil, err
	}
	d.Decoder = libvipsName(version)
	const load = "[access=sequential,fail-on=truncated]"
	in, out := path+load, filepath.Join(dir, "small.png")
	if h.layout.alpha {
		opaque := filepath.Join(dir, "opaque.tif")
		white := strconv.Itoa(1<<max(h.BitsPerSample, 8) - 1)
		if _, err := v.run(ctx, dir, v.Vips, "flatten", in, opaque, "--background", white); err != nil {
			return nil, err
		}
		in = opaque + load
	}
	reduced := out
	convert := h.ICCProfile != "" || h.Model == CMYK || h.Model == Lab
	if convert {
		reduced = filepath.Join(dir, "reduced.tif")
	}
	if err := v.shrink(ctx, dir, in, reduced, h, width, height); err != nil {
		return nil, err
	}
	if convert {
		edge := max(width, height)
		size := fmt.Sprintf("%dx%d>", edge, edge)
		if _, err := v.run(ctx, dir, v.Thumb, reduced, "--size", size, "--no-rotate", "--export-profile", "srgb", "-o", out+"[strip]"); err != nil {
			return nil, err
		}
	}
	if h.Model == CMYK && h.ICCProfile == "" {
		d.Warnings = append(d.Warnings, warnPlainCMYK)
	}
	// A sample beyond the colors that isn't transparency (a spot color, say) would be taken for it.
	return readSmall(ctx, out, width, height)
}

func (v vipsPrograms) shrink(ctx context.Context, dir, in, out string, h Header, width, height int) error {
	across := strconv.FormatFloat(float64(width)/float64(h.Width), 'g', 17, 64)
	down := strconv.FormatFloat(float64(height)/float64(h.Height), 'g', 17, 64)
	_, err := v.run(ctx, dir, v.Vips, "resize", in, out, across, "--vscale", down, "--kernel", "linear", "--gap", "0")
	return err
}

// readSmall reads the result, of which the fourth sample of a pixel, if any, means nothing. It is at most as large as a preview plus rounding.
func readSmall(ctx context.Context, path string, width, height int) (image.Image, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, fault(ErrDecoder, "try again", "libvips left no result: %v", err)
	}
	m, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		return nil, fault(ErrDecoder, "try again", "libvips' result can't be read: %v", err)
	}
	if s := m.Bounds(); max(s.Dx()-width, width-s.Dx(), s.Dy()-height, height-s.Dy()) > 1 {
		return nil, fault(ErrMalformed, rightExport, "libvips made %d by %d pixels of it, %d by %d were expected", s.Dx(), s.Dy(), width, height)
	}
	small, err := reduce(ctx, rasterOf(m, true), m.Bounds().Dx(), m.Bounds().Dy())
	if err != nil {
		return nil, err
	}
	return grayIfGray(small), nil
}

// run starts one of the programs with an environment of its own: loaders that libvips holds unfit for untrusted files are off, and
// memory use is kept low and even.
func (v vipsPrograms) run(ctx context.Context, dir, program string, args ...string) (string, error) {
	return v.start(ctx, dir, []string{"VIPS_BLOCK_UNTRUSTED=1"}, program, args...)
}

// runOnOwn is run for files that libvips itself has written: its own format is among those unfit for files from elsewhere.
func (v vipsPrograms) runOnOwn(ctx context.Context, dir, program string, args ...string) (string, error) {
	return v.start(ctx, dir, nil, program, args...)
}

func (v vipsPrograms) start(ctx context.Context, dir string, env []string, program string, args ...string) (string, error) {
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Dir = dir
	cmd.Env = slices.Concat(plainEnv(), env, []string{"VIPS_CONCURRENCY=2", "MALLOC_ARENA_MAX=2", "LC_ALL=C", "TMPDIR=" + dir})
	var out, errs capped
	out.limit, errs.limit = 1<<10, 4<<10
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	if err == nil {
		return out.buf.String(), nil
	}
	if ctx.Err() != nil {
		return "", ctx.Err()
	}
	return "", vipsFault(program, err, errs.buf.String())
}

// vipsFault tells a crash from a complaint. The phrases are those of libvips 8.14 and the libraries under it.
func vipsFault(program string, err error, said string) error {
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() < 0 {
		return fault(ErrDecoder, "try again, or raise the memory limit", "%s stopped: %v", filepath.Base(program), err)
	}
	line := complaint(said)
	low := strings.ToLower(said)
	switch {
	case strings.Contains(low, "memory") || strings.Contains(low, "failed to allocate") || strings.Contains(low, "failed to create thread"):
		return fault(ErrDecoder, "raise the memory limit if the picture is sound", "libvips ran out of memory (%s)", line)
	case strings.Contains(low, "premature end"), strings.Contains(low, "truncated"), strings.Contains(low, "read error"),
		strings.Contains(low, "not enough data"), strings.Contains(low, "end of stream"), strings.Contains(low, "not enough image data"):
		return fault(ErrTruncated, rightCopy, "the pixels end early (%s)", line)
	default:
		return fault(ErrMalformed, rightExport, "libvips can't read it (%s)", line)
	}
}

// complaint is the last line that says something, without GLib's decoration.
func complaint(said string) string {
	last := "no message"
	for line := range strings.Lines(said) {
		if line = cleanText(line); line != "" && !strings.Contains(line, "VIPS-WARNING") {
			last = line
		}
	}
	return last
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return cleanText(line)
}

// plainEnv is what a program needs to start and no more: credentials in the parent's environment stay there.
func plainEnv() []string {
	var env []string
	for _, name := range []string{"PATH", "LD_LIBRARY_PATH", "DYLD_FALLBACK_LIBRARY_PATH", "SystemRoot", "SYSTEMROOT", "GOCOVERDIR"} {
		if v, ok := os.LookupEnv(name); ok {
			env = append(env, name+"="+v)
		}
	}
	return env
}

// capped keeps the first limit bytes written to it and drops the rest.
type capped struct {
	buf      bytes.Buffer // not embedded: its ReadFrom would pass the limit by
	limit    int
	overflow bool
}

// Write never fails, so that a program that says too much isn't killed for it by a broken pipe.
func (c *capped) Write(p []byte) (int, error) {
	room := max(c.limit-c.buf.Len(), 0)
	if room < len(p) {
		c.overflow = true
	}
	c.buf.Write(p[:min(room, len(p))])
	return len(p), nil
}
