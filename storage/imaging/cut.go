package imaging

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
)

// Cut asks for a part of a picture at a wanted size, ready to be printed or shown. Transparency is laid on white, one bit a pixel becomes gray.
type Cut struct {
	// X, Y, Width and Height are the part, in pixels of the picture as shown (orientation applied); all zero means the whole.
	X, Y, Width, Height int
	// OutWidth and OutHeight are the size of the part in the result, in pixels, before Rotate; it is filled exactly. One of them 0 follows from the other
	// by the part's proportions, both 0 means pixel by pixel.
	OutWidth, OutHeight int
	// Mirror exchanges left and right, so that a fish looks the other way; it comes before Rotate.
	Mirror bool
	// Rotate turns clockwise by 0, 90, 180 or 270 degrees.
	Rotate int
	// Gray drops color, keeping lightness.
	Gray bool
	// Depth is bits a sample, 8 or 16; 0 keeps that of the original, or 8 for JPEG.
	Depth int
	// MediaType is TIFF (compressed by Deflate), PNG or JPEG.
	MediaType string
	// PPI is the resolution written into the file, pixels per inch; 0 writes 72, which programs take for "as on the screen".
	PPI float64
	// Quality of a JPEG, 1 to 100; 0 means 90.
	Quality int
}

// CutInfo describes a cut as made.
type CutInfo struct {
	MediaType     string `json:"media_type"`
	Width         int    `json:"width"`  // pixels
	Height        int    `json:"height"` // pixels
	BitsPerSample int    `json:"bits_per_sample"`
	Gray          bool   `json:"gray"`
	// ICCProfile names the color profile in the file. There is none where colors were converted to sRGB: libvips does so for 8 bits, keeping the
	// original's profile for 16; pure Go always keeps it.
	ICCProfile string   `json:"icc_profile,omitempty"`
	Decoder    string   `json:"decoder"`
	Warnings   []string `json:"warnings,omitempty"`
	Size       int64    `json:"size"` // bytes
}

const (
	defaultQuality = 90
	defaultPPI     = 72
	maxCuts        = 100   // of one original at once
	jpegEdge       = 65500 // pixels; the format ends at 65,535, decoders somewhat earlier
)

// Cut makes one cut of an original and writes it to w. Errors are as with Derive; ErrBadCut says that the cut itself is wrong.
func (r *Runner) Cut(ctx context.Context, original io.Reader, c Cut, w io.Writer) (CutInfo, error) {
	infos, err := r.Cuts(ctx, original, []Cut{c}, func(int) (io.Writer, error) { return w, nil })
	if err != nil {
		return CutInfo{}, err
	}
	return infos[0], nil
}

// Cuts makes several cuts of one original in one child process. When all are made, to gives the writer of each in turn.
func (r *Runner) Cuts(ctx context.Context, original io.Reader, cuts []Cut, to func(i int) (io.Writer, error)) ([]CutInfo, error) {
	if len(cuts) == 0 || len(cuts) > maxCuts {
		return nil, fault(ErrBadCut, fmt.Sprintf("ask for 1 to %d", maxCuts), "%d cuts of one picture", len(cuts))
	}
	var infos []CutInfo
	err := r.work(ctx, original, request{Cuts: cuts}, func(a answer, dir string) error {
		if len(a.Cuts) != len(cuts) {
			return errEmptyAnswer
		}
		infos = a.Cuts
		for i := range cuts {
			w, err := to(i)
			if err == nil {
				err = copyFile(ctx, w, cutFile(dir, i, cuts[i].MediaType))
			}
			if err != nil {
				return fmt.Errorf("hand on cut %d: %w", i, err)
			}
		}
		return nil
	})
	return infos, err
}

// cutFile is where the child writes cut number i.
func cutFile(dir string, i int, mediaType string) string {
	return filepath.Join(dir, fmt.Sprintf("cut-%d%s", i, Extension(mediaType)))
}

func copyFile(ctx context.Context, w io.Writer, path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	_, err = io.Copy(w, contextReader{ctx.Err, f})
	return errors.Join(err, f.Close())
}

// part is a cut in terms of the stored picture: what is taken, at which size, and how it is turned then.
type part struct {
	x, y, width, height int
	outWidth, outHeight int
	turn                turn
	depth               int
	gray                bool
	whole               bool
	mediaType           string
	ppi                 float64
	quality             int
}

// of checks a cut against the picture and fills in what it leaves open.
func (c Cut) of(h Header) (part, error) {
	sw, sh := h.Oriented()
	w, hh := int(sw), int(sh)
	if c.X == 0 && c.Y == 0 && c.Width == 0 && c.Height == 0 {
		c.Width, c.Height = w, hh
	}
	if err := c.check(w, hh); err != nil {
		return part{}, err
	}
	c.outSize()
	p := part{
		depth: c.Depth, gray: c.Gray || !h.Color(), mediaType: c.MediaType, ppi: c.PPI, quality: c.Quality,
		whole: c.Width == w && c.Height == hh,
	}
	if p.depth == 0 {
		p.depth = 8
		if h.wide() && c.MediaType != JPEG {
			p.depth = 16
		}
	}
	if p.ppi == 0 {
		p.ppi = defaultPPI
	}
	if p.quality == 0 {
		p.quality = defaultQuality
	}
	upright := turnOf(h.Orientation)
	x0, y0 := upright.source(c.X, c.Y, int(h.Width), int(h.Height))
	x1, y1 := upright.source(c.X+c.Width-1, c.Y+c.Height-1, int(h.Width), int(h.Height))
	p.x, p.y, p.width, p.height = min(x0, x1), min(y0, y1), max(x0, x1)-min(x0, x1)+1, max(y0, y1)-min(y0, y1)+1
	p.outWidth, p.outHeight = upright.size(c.OutWidth, c.OutHeight) // a quarter turn is its own inverse as to sizes
	p.turn = upright.then(turn{c.Mirror, 0}).then(turn{false, c.Rotate / 90})
	if ow, oh := p.turn.size(p.outWidth, p.outHeight); c.MediaType == JPEG && max(ow, oh) > jpegEdge {
		return part{}, fault(ErrBadCut, "ask for TIFF or PNG, or a smaller size", "a JPEG of %d by %d pixels", ow, oh)
	}
	return p, nil
}

// check says what is wrong with a cut of a picture of w by h pixels as shown.
func (c Cut) check(w, h int) error {
	bad := func(right, wrong string, args ...any) error { return fault(ErrBadCut, right, wrong, args...) }
	switch {
	case c.X < 0 || c.Y < 0 || c.Width <= 0 || c.Height <= 0 || c.X > w-c.Width || c.Y > h-c.Height:
		return bad("name a part within the picture", "part %d,%d of %d by %d in a picture of %d by %d pixels", c.X, c.Y, c.Width, c.Height, w, h)
	case c.OutWidth < 0 || c.OutHeight < 0 || c.OutWidth > math.MaxInt32 || c.OutHeight > math.MaxInt32:
		return bad("name a size of 0 pixels or more", "a size of %d by %d pixels", c.OutWidth, c.OutHeight)
	case c.Rotate != 0 && c.Rotate != 90 && c.Rotate != 180 && c.Rotate != 270:
		return bad("turn by 0, 90, 180 or 270 degrees", "a turn by %d degrees", c.Rotate)
	case c.Depth != 0 && c.Depth != 8 && c.Depth != 16 || c.Depth == 16 && c.MediaType == JPEG:
		return bad("ask for 8 bits, or 16 in TIFF or PNG", "%d bits a sample in %q", c.Depth, c.MediaType)
	case c.MediaType != TIFF && c.MediaType != PNG && c.MediaType != JPEG:
		return bad("ask for TIFF, PNG or JPEG", "media type %q", c.MediaType)
	case !(c.PPI == 0 || c.PPI >= 1 && c.PPI <= 25400):
		return bad("give 1 to 25,400 pixels per inch", "a resolution of %g pixels per inch", c.PPI)
	case c.Quality < 0 || c.Quality > 100:
		return bad("give a quality of 1 to 100", "a quality of %d", c.Quality)
	default:
		return nil
	}
}

// outSize fills in the size that is left open.
func (c *Cut) outSize() {
	follow := func(known, of, other int) int {
		return max(1, int(math.Round(float64(known)*float64(other)/float64(of))))
	}
	switch {
	case c.OutWidth == 0 && c.OutHeight == 0:
		c.OutWidth, c.OutHeight = c.Width, c.Height
	case c.OutWidth == 0:
		c.OutWidth = follow(c.OutHeight, c.Height, c.Width)
	case c.OutHeight == 0:
		c.OutHeight = follow(c.OutWidth, c.Width, c.Height)
	}
}

// wide says whether samples of more than 8 bits are to be kept.
func (h Header) wide() bool { return h.BitsPerSample > 8 && h.Model != Palette && h.MediaType != JPEG }

// outBytes is the result as a decoded picture in memory, in bytes.
func (p part) outBytes() int64 {
	n := int64(p.depth / 8)
	if !p.gray {
		n *= 4 // with the unused fourth sample of Go's picture types
	}
	return mul(int64(p.outWidth), int64(p.outHeight), n)
}

// cutAll makes the cuts of a request. It runs in the child process.
func cutAll(ctx context.Context, req request) (infos []CutInfo, err error) {
	f, h, useVips, err := openPicture(ctx, req.Path, req.Limits, req.Vips)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	parts := make([]part, len(req.Cuts))
	for i, c := range req.Cuts {
		if parts[i], err = c.of(h); err != nil {
			return nil, err
		}
		if err := parts[i].fits(h, req.Limits, useVips); err != nil {
			return nil, err
		}
	}
	st, err := f.Stat()
	if err != nil {
		return nil, err
	}
	profile := readProfile(ctx, f, st.Size(), h)
	out := func(i int) string { return cutFile(req.Dir, i, parts[i].mediaType) }
	if useVips {
		infos, err = req.Vips.cutAll(ctx, req, h, parts, profile, out)
	} else {
		infos, err = goCutAll(ctx, f, h, parts, profile, out)
	}
	for i := range infos {
		st, serr := os.Stat(out(i))
		if serr != nil {
			return nil, fault(ErrDecoder, "try again", "no result: %v", serr)
		}
		infos[i].Size = st.Size()
	}
	return infos, err
}

// fits refuses a cut whose result is beyond the limits; choose has judged the original.
func (p part) fits(h Header, lim Limits, useVips bool) error {
	pixels := mul(int64(p.outWidth), int64(p.outHeight))
	most, need := lim.WholePixels, add(h.DecodeBytes(), mul(p.outBytes(), 2)) // the result, and its turned copy
	if useVips {
		const band = 512 // rows in flight
		most, need = lim.StreamedPixels, add(h.streamBytes(), mul(int64(max(p.outWidth, p.outHeight)), 6, band))
	}
	switch {
	case pixels > most:
		return fault(ErrTooBig, "ask for a smaller size", "a result of %d by %d pixels; at most %d million are made", p.outWidth, p.outHeight, most/1e6)
	case need > lim.Memory:
		return fault(ErrTooBig, "ask for a smaller size, or raise the memory limit", "needs about %s (%d bytes) for a result of %d by %d pixels; the limit is %s",
			mib(need), need, p.outWidth, p.outHeight, mib(lim.Memory))
	default:
		return nil
	}
}

// info is what is known of the result before it is made.
func (p part) info(decoder string, warnings []string) CutInfo {
	w, h := p.turn.size(p.outWidth, p.outHeight)
	return CutInfo{MediaType: p.mediaType, Width: w, Height: h, BitsPerSample: p.depth, Gray: p.gray, Decoder: decoder, Warnings: warnings}
}
