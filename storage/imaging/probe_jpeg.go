package imaging

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// JPEG markers (ITU-T T.81, table B.1).
const (
	mSOI   = 0xd8
	mEOI   = 0xd9
	mSOS   = 0xda
	mAPP0  = 0xe0
	mAPP1  = 0xe1
	mAPP2  = 0xe2
	mAPP13 = 0xed
)

const (
	exifPrefix  = "Exif\x00\x00"
	iccPrefix   = "ICC_PROFILE\x00"
	xmpPrefix   = "http://ns.adobe.com/xap/1.0/\x00"
	xmpExtended = "http://ns.adobe.com/xmp/extension/\x00"
	bimPrefix   = "Photoshop 3.0\x00"
)

// walkJPEG calls visit for each segment before the pixels, with the window of its content. It ends well at the start of scan.
func walkJPEG(w *window, visit func(marker byte, content *window) error) error {
	for off := int64(2); ; {
		b, err := w.at(off, 2)
		if err != nil {
			return err
		}
		if b[0] != 0xff {
			return fault(ErrMalformed, rightExport, "byte %#02x at offset %d, want a JPEG marker", b[0], off)
		}
		marker := b[1]
		switch {
		case marker == 0xff: // fill byte
			off++
			continue
		case marker == 0x01 || marker >= 0xd0 && marker <= 0xd8: // stand alone
			off += 2
			continue
		case marker == mEOI:
			return fault(ErrTruncated, rightCopy, "the picture ends before its pixels")
		}
		if b, err = w.at(off+2, 2); err != nil {
			return err
		}
		n := int64(binary.BigEndian.Uint16(b))
		if n < 2 {
			return fault(ErrMalformed, rightExport, "a JPEG segment of length %d at offset %d", n, off)
		}
		if off+2+n > w.size {
			return fault(ErrTruncated, rightCopy, "a JPEG segment runs to offset %d of %d bytes", off+2+n, w.size)
		}
		if marker == mSOS {
			return nil
		}
		if err := visit(marker, w.part(off+4, n-2)); err != nil {
			return err
		}
		off += 2 + n
	}
}

func probeJPEG(w *window, h *Header) error {
	var jfif, exif Header // each source's resolution and orientation
	var profile pieces
	err := walkJPEG(w, func(marker byte, content *window) error {
		switch {
		case marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc:
			return readSOF(marker, content, h)
		case marker == mAPP0:
			return readJFIF(content, &jfif)
		case marker == mAPP1:
			return readExifHeader(content, exifPrefix, &exif)
		case marker == mAPP2:
			return profile.add(content)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if h.layout.jpegSOF == 0 {
		return fault(ErrMalformed, rightExport, "the pixels begin before the size is given")
	}
	h.Pages = 1
	h.adopt(exif, jfif)
	if len(profile.parts) > 0 {
		h.ICCProfile = profileName(profile.window(w))
	}
	return checkEnd(w, h, []byte{0xff, mEOI}, "end-of-image marker")
}

// adopt takes orientation and resolution from Exif, resolution from the container where Exif has none, and says when they differ.
func (h *Header) adopt(exif, container Header) {
	if exif.Orientation >= 1 && exif.Orientation <= 8 {
		h.Orientation = exif.Orientation
	}
	h.Warnings = append(append(h.Warnings, exif.Warnings...), container.Warnings...)
	best := exif
	if exif.PPIX == 0 {
		best = container
	} else if container.PPIX != 0 && math.Abs(container.PPIX-exif.PPIX) > exif.PPIX/1000 { // PNG counts whole pixels a metre
		h.warn("resolution is given twice: %g ppi in Exif, %g ppi in the container; Exif's is used", exif.PPIX, container.PPIX)
	}
	h.PPIX, h.PPIY, h.ResolutionUnit = best.PPIX, best.PPIY, best.ResolutionUnit
}

func readSOF(marker byte, content *window, h *Header) error {
	if h.layout.jpegSOF != 0 {
		return fault(ErrMalformed, rightExport, "two JPEG frames")
	}
	b, err := content.at(0, 6)
	if err != nil {
		return err
	}
	h.layout.jpegSOF = marker
	h.BitsPerSample = int(b[0])
	h.Height, h.Width = int64(binary.BigEndian.Uint16(b[1:])), int64(binary.BigEndian.Uint16(b[3:]))
	h.SamplesPerPixel = int(b[5])
	switch h.SamplesPerPixel {
	case 1:
		h.Model = Gray
	case 3:
		h.Model = RGB
	case 4:
		h.Model = CMYK
	default:
		h.Model = OtherCM
	}
	switch marker {
	case 0xc0, 0xc1:
		h.Compression = "JPEG"
		h.layout.streams = true
	case 0xc2:
		h.Compression = "JPEG progressive"
		h.layout.progressive = true
	default:
		h.Compression = fmt.Sprintf("JPEG of kind SOF%d", marker-0xc0)
	}
	return h.checkSize()
}

func readJFIF(content *window, into *Header) error {
	b, err := content.head(14)
	if err != nil || len(b) < 12 || !bytes.HasPrefix(b, []byte("JFIF\x00")) {
		return err
	}
	unit := map[byte]string{0: "none", 1: "inch", 2: "cm"}[b[7]]
	into.setPPI(float64(binary.BigEndian.Uint16(b[8:])), float64(binary.BigEndian.Uint16(b[10:])), unit)
	return nil
}

// readExifHeader takes orientation and resolution from an Exif block after prefix. A broken block is a warning, since the pixels don't need it.
func readExifHeader(content *window, prefix string, into *Header) error {
	b, err := content.head(int64(len(prefix)))
	if err != nil || string(b) != prefix || into.Orientation != 0 {
		return err
	}
	err = func() error {
		d, err := openDirectories(content.part(int64(len(prefix)), content.size))
		if err != nil {
			return err
		}
		dir, _, _, err := d.read(d.first)
		if err != nil {
			return err
		}
		o, err := d.uint(dir[tagOrientation], 0)
		if err != nil {
			return err
		}
		into.Orientation = int(min(o, 9))
		return tiffResolution(d, dir, into)
	}()
	var f *Fault
	if errors.As(err, &f) {
		into.warn("Exif block can't be read: %v", f)
		return nil
	}
	return err
}

// pieces joins the segments over which a JPEG spreads its color profile.
type pieces struct{ parts []*window }

func (p *pieces) add(content *window) error {
	n := int64(len(iccPrefix) + 2) // and piece number, number of pieces
	b, err := content.head(n)
	if err != nil || int64(len(b)) < n || string(b[:len(iccPrefix)]) != iccPrefix {
		return err
	}
	p.parts = append(p.parts, content.part(n, content.size)) // at most 255, in order in every file met
	return nil
}

func (p *pieces) window(w *window) *window {
	total := int64(0)
	for _, part := range p.parts {
		total += part.size
	}
	return &window{r: p, size: total, budget: w.budget}
}

// ReadAt reads from the joined pieces.
func (p *pieces) ReadAt(b []byte, off int64) (n int, err error) {
	for _, part := range p.parts {
		if off >= part.size {
			off -= part.size
			continue
		}
		got, err := part.ReadAt(b[n:], off)
		n += got
		if err != nil && !errors.Is(err, io.EOF) {
			return n, err
		}
		if n == len(b) {
			return n, nil
		}
		off = 0
	}
	return n, io.EOF
}

// checkEnd warns when the closing mark isn't among the last bytes. No error, since programs append data after it.
func checkEnd(w *window, h *Header, mark []byte, name string) error {
	n := min(w.size, 4096)
	tail, err := w.at(w.size-n, n)
	if err != nil {
		return err
	}
	if !bytes.Contains(tail, mark) {
		h.warn("no %s near the end: the file may be cut short", name)
	}
	return nil
}
