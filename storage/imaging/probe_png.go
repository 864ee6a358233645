package imaging

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"io"
)

const pngMagic = "\x89PNG\r\n\x1a\n"

// Past this many chunks of pixels walkPNG looks for the end of them from behind.
const pngRun = 16

// walkPNG calls visit for each chunk with the window of its content, up to the end of the picture. Chunks of pixels in the midst of many may be
// left out. A chunk that runs past the end is ErrTruncated, and so is a file without the closing chunk.
func walkPNG(w *window, visit func(kind string, content *window) error) error {
	pixels := 0
	for off := int64(len(pngMagic)); ; {
		n, kind, err := pngChunkAt(w, off)
		if err != nil {
			return err
		}
		if kind == "IEND" {
			return nil
		}
		if err := visit(kind, w.part(off+8, n)); err != nil {
			return err
		}
		off += 12 + n
		if kind != "IDAT" {
			continue
		}
		if pixels++; pixels == pngRun {
			if off, err = pngTail(w, off); err != nil {
				return err
			}
		}
	}
}

func pngChunkAt(w *window, off int64) (n int64, kind string, err error) {
	b, err := w.at(off, 8)
	if err != nil {
		return 0, "", err
	}
	n, kind = int64(binary.BigEndian.Uint32(b)), string(b[4:])
	switch {
	case n > 1<<31-1:
		return 0, "", fault(ErrMalformed, rightExport, "a PNG chunk of %d bytes", n)
	case off+12+n > w.size:
		return 0, "", fault(ErrTruncated, rightCopy, "PNG chunk %q runs to offset %d of %d bytes", kind, off+12+n, w.size)
	}
	return n, kind, nil
}

// pngTail finds the last chunk of pixels from which the chunks lead exactly to the end of the file, so that metadata behind the pixels is found
// without following thousands of chunks through a large file. Where none is near the end, it gives off: the chunks are followed one by one.
func pngTail(w *window, off int64) (int64, error) {
	const reach = 1 << 20
	from := max(off, w.size-reach)
	tail, err := w.at(from, w.size-from)
	if err != nil {
		return 0, err
	}
	for i := len(tail) - 4; i >= 4; i-- {
		if string(tail[i:i+4]) == "IDAT" && leadsToEnd(tail[i-4:]) {
			return from + int64(i) - 4, nil
		}
	}
	return off, nil
}

// leadsToEnd says whether b is a row of chunks of which the last, IEND, ends it.
func leadsToEnd(b []byte) bool {
	for len(b) >= 12 {
		n := int64(binary.BigEndian.Uint32(b))
		if string(b[4:8]) == "IEND" {
			return n == 0 && len(b) == 12
		}
		if n > int64(len(b))-12 {
			return false
		}
		b = b[12+n:]
	}
	return false
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
