package imaging

import (
	"bufio"
	"context"
	"errors"
	"image"
	"image/gif"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"runtime"
	"runtime/debug"
	"strings"

	"golang.org/x/image/tiff"
	"golang.org/x/image/webp"
)

// goReduce decodes in pure Go and reduces to width by height. Color profiles aren't applied; the warning says so.
func goReduce(ctx context.Context, f *os.File, h Header, width, height int, d *Derived) (image.Image, error) {
	m, err := goPicture(f, h)
	if err != nil {
		return nil, err
	}
	if b := m.Bounds(); h.MediaType == GIF && (int64(b.Dx()) != h.Width || int64(b.Dy()) != h.Height) { // a first frame smaller than the canvas
		width, height = fit(b.Dx(), b.Dy(), previewEdges[0])
	}
	d.Decoder = goDecoderName(h.MediaType)
	switch {
	case h.Model == CMYK:
		d.Warnings = append(d.Warnings, "colors are approximate: CMYK was converted without its color profile")
	case h.ICCProfile != "" && !strings.Contains(h.ICCProfile, "sRGB"):
		d.Warnings = append(d.Warnings, warnProfile(h))
	}
	small, err := reduce(ctx, rasterOf(m, !h.layout.alpha && h.MediaType != GIF), width, height)
	if err != nil {
		return nil, err
	}
	return grayIfGray(small), nil
}

func warnProfile(h Header) string {
	return "colors are approximate: the color profile " + h.ICCProfile + " was not applied; libvips would apply it"
}

// goPicture decodes and checks that the picture is the one announced; a GIF's first frame may be smaller.
func goPicture(f *os.File, h Header) (image.Image, error) {
	m, err := goDecode(f, h)
	if err != nil {
		return nil, goFault(err)
	}
	if b := m.Bounds(); h.MediaType != GIF && (int64(b.Dx()) != h.Width || int64(b.Dy()) != h.Height) {
		return nil, fault(ErrMalformed, rightExport, "decoded to %d by %d pixels, announced as %d by %d", b.Dx(), b.Dy(), h.Width, h.Height)
	}
	if g, ok := m.(*image.Gray); ok && (h.layout.compression == 3 || h.layout.compression == 4) && h.layout.photometric == blackIsZero {
		invert(g)
	}
	return m, nil
}

// invert mends golang.org/x/image v0.47.0, which shows CCITT white as white whatever the file says. TIFF 6.0, section 10: with BlackIsZero the
// two designations are reversed. The comparison with libvips in the tests fails as soon as the decoder does this itself.
func invert(g *image.Gray) {
	for i, v := range g.Pix {
		g.Pix[i] = 255 - v
	}
}

func goDecode(f *os.File, h Header) (image.Image, error) {
	switch h.MediaType {
	case JPEG:
		return jpeg.Decode(bufio.NewReaderSize(f, 1<<16))
	case PNG:
		return png.Decode(bufio.NewReaderSize(f, 1<<16))
	case TIFF:
		return tiff.Decode(f) // reads at offsets
	case WebP:
		return webp.Decode(bufio.NewReaderSize(f, 1<<16))
	default:
		return gif.Decode(bufio.NewReaderSize(f, 1<<16))
	}
}

func goDecoderName(mediaType string) string {
	switch mediaType {
	case TIFF, WebP:
		return "golang.org/x/image/" + strings.TrimPrefix(mediaType, "image/") + " " + moduleVersion("golang.org/x/image")
	default:
		return "image/" + strings.TrimPrefix(mediaType, "image/") + " of " + runtime.Version()
	}
}

func moduleVersion(path string) string {
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, m := range info.Deps {
			if m.Path == path {
				return m.Version
			}
		}
	}
	return "of unknown version"
}

// goFault sorts the decoders' errors: missing bytes, variants they don't know, and contradictions.
func goFault(err error) error {
	var unsupportedTIFF tiff.UnsupportedError
	var unsupportedJPEG jpeg.UnsupportedError
	var unsupportedPNG png.UnsupportedError
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF), strings.Contains(err.Error(), "not enough pixel data"),
		strings.Contains(err.Error(), "short Huffman data"), strings.Contains(err.Error(), "not enough image data"):
		return fault(ErrTruncated, rightCopy, "the pixels end early (%v)", err)
	case errors.As(err, &unsupportedTIFF), errors.As(err, &unsupportedJPEG), errors.As(err, &unsupportedPNG):
		return fault(ErrUnsupported, rightVips, "%v", err)
	default:
		return fault(ErrMalformed, rightExport, "%v", err)
	}
}
