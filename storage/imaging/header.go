package imaging

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/bits"
)

// ColorModel is how the samples of a pixel are to be read.
type ColorModel string

// Color models. Bilevel is one bit a pixel without palette; RGBA is RGB with transparency.
const (
	Bilevel   ColorModel = "bilevel"
	Gray      ColorModel = "gray"
	GrayAlpha ColorModel = "graya"
	RGB       ColorModel = "rgb"
	RGBA      ColorModel = "rgba"
	Palette   ColorModel = "palette"
	CMYK      ColorModel = "cmyk"
	Lab       ColorModel = "lab"
	OtherCM   ColorModel = "other"
)

// Header is what a file says about itself before any pixel is decoded. Numbers that the format doesn't state are 0.
type Header struct {
	MediaType string

	// Width and Height are pixels as stored; see Oriented.
	Width, Height int64
	// Orientation is Exif's 1 to 8; 1 when the file doesn't say.
	Orientation int
	// PPIX and PPIY are pixels per inch, converted from the file's own unit, or 0 when the file gives no absolute resolution.
	PPIX, PPIY float64
	// ResolutionUnit is the file's own: "inch", "cm", "metre", "none" (only an aspect ratio), or "" when it gives no resolution.
	ResolutionUnit string

	BitsPerSample   int
	SamplesPerPixel int
	Model           ColorModel
	Compression     string
	// Pages counts full pictures in the file; GIF frames and PDF pages aren't counted (0).
	Pages int
	// ICCProfile is the description of the embedded color profile, "unnamed" for one without, "" for none.
	ICCProfile string
	// BigTIFF marks the 64-bit variant of TIFF.
	BigTIFF bool
	// Warnings are findings that don't keep the file from being read.
	Warnings []string

	layout layout
}

// layout is what only the choice of a decoder needs to know.
type layout struct {
	streams     bool  // rows can be decoded one after another
	chunk       int64 // bytes of the largest strip, tile or pass that must be held decoded
	progressive bool  // JPEG with all coefficients held
	planar      bool  // samples in separate planes
	photometric uint64
	compression uint64
	extra       uint64 // kind of the first extra sample
	t4options   uint64
	predictor   uint64
	fillReverse bool
	unsorted    bool
	format      uint64 // TIFF sample format; 1 is unsigned
	jpegSOF     byte
	animated    bool
	mixedBits   bool
	alpha       bool // there is transparency, whatever Model says
}

const (
	probeBytes = 32 << 20  // all that Probe may read of one file; only PNGs of many gigabytes and hostile files come near
	probeReads = 2_000_000 // PNG writers commonly cut the pixels into chunks of 8 KiB, each of which costs one read
)

// Probe reads the header of a file of size bytes. It reads a few kilobytes, never the pixels, and its memory doesn't follow the file's
// claims. When a file is cut short or contradicts itself after its dimensions were read, the Header is filled as far as known beside
// the error, a *Fault. Safe for concurrent use if r is.
func Probe(ctx context.Context, r io.ReaderAt, size int64) (Header, error) {
	h := Header{Orientation: 1}
	if size <= 0 {
		return h, fault(ErrEmpty, rightCopy, "0 bytes")
	}
	w := newWindow(ctx, r, size, probeBytes, probeReads)
	magic, err := w.head(16)
	if err != nil {
		return h, err
	}
	h.MediaType = sniff(magic)
	switch h.MediaType {
	case JPEG:
		err = probeJPEG(w, &h)
	case PNG:
		err = probePNG(w, &h)
	case TIFF:
		err = probeTIFF(w, &h)
	case WebP:
		err = probeWebP(w, &h)
	case GIF:
		err = probeGIF(w, &h)
	case PSD:
		err = probePSD(w, &h)
	case PDF, HEIC, AVIF:
		h.Compression = "as in the file"
	default:
		return h, fault(ErrUnknownFormat, "send TIFF, PNG, JPEG, WebP or GIF; PSD, PDF and HEIC are kept without preview",
			"the content begins with %q", magic)
	}
	if err != nil {
		return h, fmt.Errorf("read %s header: %w", shortName(h.MediaType), err)
	}
	return h, nil
}

// Oriented gives the width and height as the picture is to be seen.
func (h Header) Oriented() (width, height int64) {
	if h.Orientation >= 5 {
		return h.Height, h.Width
	}
	return h.Width, h.Height
}

// Pixels is width times height, saturating.
func (h Header) Pixels() int64 { return mul(h.Width, h.Height) }

// Color says whether the picture has more than tones of gray.
func (h Header) Color() bool {
	switch h.Model {
	case Bilevel, Gray, GrayAlpha:
		return false
	default:
		return true
	}
}

// setPPI converts a resolution to pixels per inch. Values within 0.01 of a whole number are taken for it: formats that count in metres or
// centimetres can't express 300 or 600 ppi exactly.
func (h *Header) setPPI(x, y float64, unit string) {
	factor := map[string]float64{"inch": 1, "cm": 2.54, "metre": 0.0254}[unit]
	switch {
	case factor == 0: // an aspect ratio
		h.ResolutionUnit = unit
	case x > 0 && y > 0 && !math.IsInf(x, 0) && !math.IsInf(y, 0):
		h.PPIX, h.PPIY, h.ResolutionUnit = snap(x*factor), snap(y*factor), unit
	case x != 0 || y != 0: // both zero is a common way to say nothing
		h.warn("resolution of %g by %g is no resolution: treated as absent", x, y)
	}
}

func snap(v float64) float64 {
	if r := math.Round(v); math.Abs(v-r) < 0.01 {
		return r
	}
	return v
}

func (h *Header) warn(format string, args ...any) {
	h.Warnings = append(h.Warnings, fmt.Sprintf(format, args...))
}

// checkSize refuses pictures without extent; the formats that are kept without preview don't come here.
func (h *Header) checkSize() error {
	if h.Width <= 0 || h.Height <= 0 {
		return fault(ErrMalformed, rightExport, "%d by %d pixels", h.Width, h.Height)
	}
	return nil
}

const most = 1 << 61 // where sizes saturate

// add sums sizes without overflow.
func add(sizes ...int64) int64 {
	sum := int64(0)
	for _, s := range sizes {
		sum = min(sum+min(s, most), most) // two of them stay below 2^63
	}
	return sum
}

// mul multiplies sizes without overflow.
func mul(factors ...int64) int64 {
	p := uint64(1)
	for _, f := range factors {
		hi, lo := bits.Mul64(p, uint64(max(f, 0)))
		if hi != 0 || lo > most {
			return most
		}
		p = lo
	}
	return int64(p)
}

// truncated says whether err is a finding of missing bytes, as against one of bad values.
func truncated(err error) bool { return errors.Is(err, ErrTruncated) }
