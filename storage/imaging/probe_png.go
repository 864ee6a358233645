package imaging

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"io"
)

const pngMagic = "\x89PNG\r\n\x1a\n"

// walkPNG calls visit for each chunk with the window of its content, up to the end of the picture. A chunk that runs past the end is
// ErrTruncated, and so is a file without the closing chunk.
func walkPNG(w *window, visit func(kind string, content *window) error) error {
	for off := int64(len(pngMagic)); ; {
		b, err := w.at(off, 8)
		if err != nil {
			return err
		}
		n, kind := int64(binary.BigEndian.Uint32(b)), string(b[4:])
		if n > 1<<31-1 {
			return fault(ErrMalformed, rightExport, "a PNG chunk of %d bytes", n)
		}
		if off+12+n > w.size {
			return fault(ErrTruncated, rightCopy, "PNG chunk %q runs to offset %d of %d bytes", kind, off+12+n, w.size)
		}
		if kind == "IEND" {
			return nil
		}
		if err := visit(kind, w.part(off+8, n)); err != nil {
			return err
		}
		off += 12 + n
	}
}

func probePNG(w *window, h *Header) error {
	var exif, phys Header
	seen := false
	err := walkPNG(w, func(kind string, content *window) error {
		if !seen && kind != "IHDR" {
			return fault(ErrMalformed, rightExport, "PNG begins with chunk %q, want IHDR", kind)
		}
		switch kind {
		case "IHDR":
			seen = true
			return readIHDR(content, h)
		case "pHYs":
			return readPHYs(content, &phys)
		case "tRNS":
			h.layout.alpha = true
		case "eXIf":
			return readExifHeader(content, "", &exif)
		case "iCCP":
			return readICCP(content, h)
		case "acTL":
			h.layout.animated = true
		}
		return nil
	})
	h.adopt(exif, phys)
	h.Pages = 1
	return err
}

func readIHDR(content *window, h *Header) error {
	b, err := content.at(0, 13)
	if err != nil {
		return err
	}
	h.Width, h.Height = int64(binary.BigEndian.Uint32(b)), int64(binary.BigEndian.Uint32(b[4:]))
	h.BitsPerSample = int(b[8])
	h.Compression = "Deflate"
	h.layout.streams = b[12] == 0
	switch b[9] {
	case 0:
		h.Model, h.SamplesPerPixel = Gray, 1
		if h.BitsPerSample == 1 {
			h.Model = Bilevel
		}
	case 2:
		h.Model, h.SamplesPerPixel = RGB, 3
	case 3:
		h.Model, h.SamplesPerPixel = Palette, 1
	case 4:
		h.Model, h.SamplesPerPixel, h.layout.alpha = GrayAlpha, 2, true
	case 6:
		h.Model, h.SamplesPerPixel, h.layout.alpha = RGBA, 4, true
	default:
		return fault(ErrMalformed, rightExport, "PNG color type %d", b[9])
	}
	switch h.BitsPerSample {
	case 1, 2, 4, 8, 16:
		return h.checkSize()
	default:
		return fault(ErrMalformed, rightExport, "PNG of %d bits a sample", h.BitsPerSample)
	}
}

func readPHYs(content *window, into *Header) error {
	b, err := content.at(0, 9)
	if err != nil {
		return err
	}
	unit := map[byte]string{0: "none", 1: "metre"}[b[8]]
	into.setPPI(float64(binary.BigEndian.Uint32(b)), float64(binary.BigEndian.Uint32(b[4:])), unit)
	return nil
}

// readICCP takes the profile's own description, or the name that the chunk gives it.
func readICCP(content *window, h *Header) error {
	b, err := content.head(256 << 10)
	if err != nil {
		return err
	}
	name, rest, ok := bytes.Cut(b, []byte{0})
	if !ok || len(name) > 79 || len(rest) < 1 {
		h.warn("color profile can't be read")
		return nil
	}
	h.ICCProfile = unnamedProfile
	if data, err := inflate(rest[1:], 64<<10); err == nil || len(data) > 0 {
		part := &window{r: bytes.NewReader(data), size: int64(len(data)), budget: content.budget}
		h.ICCProfile = profileName(part)
	}
	if h.ICCProfile == unnamedProfile {
		if s := cleanText(latin1(name)); s != "" {
			h.ICCProfile = s
		}
	}
	return nil
}

// inflate expands a zlib stream up to limit bytes and drops the rest; what was read before an error is given with it.
func inflate(b []byte, limit int64) ([]byte, error) {
	z, err := zlib.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	defer z.Close() //nolint:errcheck // reading from memory: nothing to release
	return io.ReadAll(io.LimitReader(z, limit))
}

func latin1(b []byte) string {
	r := make([]rune, len(b))
	for i, c := range b {
		r[i] = rune(c)
	}
	return string(r)
}
