package imaging

import (
	"fmt"
	"time"
)

// Limits bounds one decoding. The header's own estimate is checked against them before anything is decoded; the operating system's limits
// behind that are a second line, and not the same everywhere.
type Limits struct {
	// StreamedPixels bounds pictures that libvips decodes row by row, WholePixels those that must be held whole. Pixels.
	StreamedPixels int64 `json:"streamed_pixels"`
	WholePixels    int64 `json:"whole_pixels"`
	// Memory is what decoding may need, in bytes.
	Memory int64 `json:"memory"`
	// FileBytes bounds the temporary copy of an original.
	FileBytes int64 `json:"file_bytes"`
	// Timeout bounds one picture, from the start of the child process to its answer.
	Timeout time.Duration `json:"timeout"`
}

// DefaultLimits suit a machine with 4 GiB and more: 2 gigapixels streamed, 200 megapixels whole, 2 GiB of memory, files to 16 GiB, two minutes.
func DefaultLimits() Limits {
	return Limits{StreamedPixels: 2e9, WholePixels: 200e6, Memory: 2 << 30, FileBytes: 16 << 30, Timeout: 2 * time.Minute}
}

// Validate says which limit makes no sense.
func (l Limits) Validate() error {
	switch {
	case l.StreamedPixels <= 0 || l.WholePixels <= 0:
		return fmt.Errorf("limits of %d streamed and %d whole pixels: want more than 0", l.StreamedPixels, l.WholePixels)
	case l.Memory < 128<<20:
		return fmt.Errorf("memory limit of %d bytes: want at least 128 MiB", l.Memory)
	case l.FileBytes <= 0:
		return fmt.Errorf("file limit of %d bytes: want more than 0", l.FileBytes)
	case l.Timeout < time.Second:
		return fmt.Errorf("timeout of %v: want at least a second", l.Timeout)
	default:
		return nil
	}
}

// baseBytes is what a decoding process needs whatever the picture: the program itself and the preview being made.
const baseBytes = 64 << 20

// DecodeBytes estimates the memory that decoding in pure Go needs, in bytes, from the header alone: the picture as the decoders hold it, and
// the buffers they grow beside it. It is meant to be somewhat high.
func (h Header) DecodeBytes() int64 {
	perPixel, extra := h.goPixelBytes(), int64(0)
	switch h.MediaType {
	case JPEG:
		if h.layout.progressive {
			perPixel += 4 * int64(h.SamplesPerPixel) // all coefficients as int32
		}
	case PNG:
		if !h.layout.streams {
			perPixel *= 2 // a pass beside the picture
		}
	case TIFF:
		extra = mul(h.layout.chunk, 4) // a strip is read into a buffer that doubles, old and new held at once
	default:
		// WebP and GIF hold a working copy, which goPixelBytes counts.
	}
	return add(mul(h.Pixels(), perPixel), extra, baseBytes)
}

// goPixelBytes is the bytes of one pixel in the image types of the Go decoders.
func (h Header) goPixelBytes() int64 {
	wide := int64(1)
	if h.BitsPerSample > 8 {
		wide = 2
	}
	switch {
	case h.MediaType == WebP:
		return 8
	case h.MediaType == JPEG && h.SamplesPerPixel > 1:
		return int64(h.SamplesPerPixel) + 4 // planes, and a converted copy when the file isn't YCbCr
	case h.Model == Palette:
		return 2
	case h.layout.alpha || h.Color():
		return 4 * wide
	default:
		return wide
	}
}

// streamBytes estimates what libvips needs: a band of rows and the largest strip when it can go row by row, everything otherwise.
func (h Header) streamBytes() int64 {
	const band = 512 // rows in flight: libvips' tiles times its threads, with reserve
	row := mul(h.Width, int64(h.SamplesPerPixel), int64(h.BitsPerSample+7)/8)
	rows := h.Height
	if h.layout.streams {
		rows = min(rows, band)
	}
	factor := int64(1)
	if h.layout.progressive {
		factor = 3 // coefficients of two bytes beside the samples
	}
	return add(mul(row, rows, factor), mul(h.layout.chunk, 2), baseBytes)
}

func mib(n int64) string { return fmt.Sprintf("%d MiB", (n+1<<20-1)>>20) }
