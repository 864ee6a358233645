package imaging

import (
	"encoding/binary"
)

// walkRIFF calls visit for each chunk of a WebP file with the window of its content.
func walkRIFF(w *window, visit func(kind string, content *window) error) error {
	b, err := w.at(0, 12)
	if err != nil {
		return err
	}
	end := int64(binary.LittleEndian.Uint32(b[4:])) + 8
	if end > w.size {
		return fault(ErrTruncated, rightCopy, "WebP announces %d bytes and has %d", end, w.size)
	}
	for off := int64(12); off+8 <= end; {
		if b, err = w.at(off, 8); err != nil {
			return err
		}
		n := int64(binary.LittleEndian.Uint32(b[4:]))
		if off+8+n > end {
			return fault(ErrTruncated, rightCopy, "WebP chunk %q runs to offset %d of %d bytes", b[:4], off+8+n, end)
		}
		if err := visit(string(b[:4]), w.part(off+8, n)); err != nil {
			return err
		}
		off += 8 + n + n&1
	}
	return nil
}

func probeWebP(w *window, h *Header) error {
	var exif Header
	h.Model, h.BitsPerSample, h.SamplesPerPixel, h.Pages = RGB, 8, 3, 1
	alpha := func(has bool) {
		if has {
			h.Model, h.SamplesPerPixel, h.layout.alpha = RGBA, 4, true
		}
	}
	err := walkRIFF(w, func(kind string, content *window) error {
		b, err := content.head(10)
		if err != nil {
			return err
		}
		switch {
		case kind == "VP8X" && len(b) == 10:
			alpha(b[0]&0x10 != 0)
			h.layout.animated = b[0]&0x02 != 0
			h.Width, h.Height = int64(uint24(b[4:]))+1, int64(uint24(b[7:]))+1
		case kind == "VP8L" && len(b) >= 5:
			v := binary.LittleEndian.Uint32(b[1:])
			h.Compression = "WebP lossless"
			alpha(v>>28&1 != 0)
			h.Width, h.Height = max(h.Width, int64(v&0x3fff)+1), max(h.Height, int64(v>>14&0x3fff)+1)
		case kind == "VP8 " && len(b) == 10:
			h.Compression = "WebP lossy"
			h.Width = max(h.Width, int64(binary.LittleEndian.Uint16(b[6:])&0x3fff))
			h.Height = max(h.Height, int64(binary.LittleEndian.Uint16(b[8:])&0x3fff))
		case kind == "ICCP":
			h.ICCProfile = profileName(content)
		case kind == "EXIF":
			prefix := ""
			if string(b[:min(len(b), 6)]) == exifPrefix { // some writers keep JPEG's prefix
				prefix = exifPrefix
			}
			return readExifHeader(content, prefix, &exif)
		}
		return nil
	})
	h.adopt(exif, Header{})
	if err != nil {
		return err
	}
	return h.checkSize()
}

func uint24(b []byte) uint32 { return uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2])<<16 }

func probeGIF(w *window, h *Header) error {
	b, err := w.at(0, 10)
	if err != nil {
		return err
	}
	h.Width, h.Height = int64(binary.LittleEndian.Uint16(b[6:])), int64(binary.LittleEndian.Uint16(b[8:]))
	h.Model, h.BitsPerSample, h.SamplesPerPixel, h.Compression = Palette, 8, 1, "LZW"
	if err := h.checkSize(); err != nil {
		return err
	}
	return checkEnd(w, h, []byte{0x3b}, "trailer")
}

// probePSD reads the fixed header of Photoshop files (from memory of the published specification).
func probePSD(w *window, h *Header) error {
	b, err := w.at(0, 26)
	if err != nil {
		return err
	}
	h.SamplesPerPixel = int(binary.BigEndian.Uint16(b[12:]))
	h.Height, h.Width = int64(binary.BigEndian.Uint32(b[14:])), int64(binary.BigEndian.Uint32(b[18:]))
	h.BitsPerSample = int(binary.BigEndian.Uint16(b[22:]))
	h.Compression = "as in the file"
	h.Model = map[uint16]ColorModel{0: Bilevel, 1: Gray, 2: Palette, 3: RGB, 4: CMYK, 9: Lab}[binary.BigEndian.Uint16(b[24:])]
	if h.Model == "" {
		h.Model = OtherCM
	}
	return nil
}
