package imaging

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"slices"
	"strings"
)

// Embed copies a JPEG, PNG or TIFF file of size bytes to w with the texts of e as its only metadata: XMP, and IPTC-IIM and Exif where the format has a
// place for them. The pixel data is copied as it is, byte for byte; size, resolution, orientation and color profile stay.
//
// Everything else that was embedded is left out, whether it is known here or not: coordinates and places, cameras and their serial
// numbers, thumbnails, editing histories, comments, bytes behind the end. So a delivered copy says what the archive says, and nothing by oversight. To
// keep a text of the original, take it over from Metadata. GPS, Place, Origins, Disagreements and Warnings of e are ignored.
//
// R is read once through, a TIFF in as many pieces as it has strips. Memory doesn't follow the file's size, but for the lists of a TIFF's strips. The
// error is a *Fault for a file that can't be followed or a variant that can't be rewritten; w may have received a part by then.
func Embed(ctx context.Context, w io.Writer, r io.ReaderAt, size int64, e Embedded) error {
	h, err := Probe(ctx, r, size)
	if err != nil {
		return err
	}
	e = writable(e)
	in := newWindow(ctx, r, size, most, metaReads*8)
	out := bufio.NewWriterSize(w, 64<<10)
	switch h.MediaType {
	case JPEG:
		err = embedJPEG(ctx, out, in, h, e)
	case PNG:
		err = embedPNG(ctx, out, in, h, e)
	case TIFF:
		err = embedTIFF(ctx, out, in, e)
	default:
		return fault(ErrUnsupported, "deliver a JPEG, PNG or TIFF", "texts can't be embedded in %s files here", shortName(h.MediaType))
	}
	if err != nil {
		return fmt.Errorf("embed texts: %w", err)
	}
	return out.Flush()
}

// writable drops from the texts what XML or Exif can't hold, so that all places say the same.
func writable(e Embedded) Embedded {
	for _, s := range []*string{
		&e.Title, &e.Description, &e.Credit, &e.CopyrightNotice, &e.UsageTerms, &e.WebStatement, &e.DateCreated, &e.Software, &e.Identifier, &e.SourceType,
	} {
		*s = writableText(*s)
	}
	texts := func(in []string) (out []string) {
		for _, s := range in {
			out = append(out, writableText(s))
		}
		return out
	}
	e.Creators, e.Keywords = texts(e.Creators), texts(e.Keywords)
	e.Licensors = slices.Clone(e.Licensors)
	for i, l := range e.Licensors {
		e.Licensors[i] = Licensor{writableText(l.Name), writableText(l.ID), writableText(l.URL), writableText(l.Email)}
	}
	return e
}

func writableText(s string) string {
	return tidy(strings.Map(func(r rune) rune {
		switch {
		case r == '\t', r == '\n':
			return r
		case r == '\r':
			return '\n' // as XML readers take it
		case r < ' ', r == 0x7f, r == 0xfffd, r == 0xfffe, r == 0xffff:
			return -1
		default:
			return r
		}
	}, s))
}

// copyPart copies a window to w.
func copyPart(ctx context.Context, w io.Writer, part *window) error {
	n, err := io.Copy(w, contextReader{ctx.Err, io.NewSectionReader(part.budget.r, part.base, part.size)})
	if err == nil && n < part.size {
		err = fault(ErrTruncated, rightCopy, "the file ends %d bytes into the %d wanted at offset %d", n, part.size, part.base)
	}
	return err
}

func embedJPEG(ctx context.Context, w *bufio.Writer, in *window, h Header, e Embedded) error {
	if _, err := w.Write([]byte{0xff, mSOI}); err != nil {
		return err
	}
	at, texts := int64(2), false
	err := walkJPEG(in, func(marker byte, content *window) error {
		at = content.base + content.size
		keep, err := keepSegment(marker, content)
		if err != nil || !keep {
			return err
		}
		if marker == mAPP0 {
			return writeJFIF(w, content)
		}
		if !texts { // behind JFIF, which must come first
			texts = true
			if err := writeTexts(w, h, e); err != nil {
				return err
			}
		}
		if _, err := w.Write([]byte{0xff, marker, byte((content.size + 2) >> 8), byte(content.size + 2)}); err != nil {
			return err
		}
		return copyPart(ctx, w, content)
	})
	if err != nil {
		return err
	}
	return copyScans(w, bufio.NewReaderSize(contextReader{ctx.Err, io.NewSectionReader(in.budget.r, at, in.size-at)}, 64<<10))
}

// writeJFIF copies density and version, not the thumbnail that may follow.
func writeJFIF(w io.Writer, content *window) error {
	b, err := content.at(0, 12)
	if err != nil {
		return err
	}
	return writeSegment(w, mAPP0, append(b, 0, 0))
}

func writeTexts(w io.Writer, h Header, e Embedded) error {
	return errors.Join(
		writeSegment(w, mAPP1, append([]byte(exifPrefix), exifPacket(h, e)...)),
		writeSegment(w, mAPP1, append([]byte(xmpPrefix), xmpPacket(e)...)),
		writeSegment(w, mAPP13, photoshopResources(iimPacket(e))))
}

func writeSegment(w io.Writer, marker byte, content []byte) error {
	n := len(content) + 2
	if n > 0xffff {
		return fault(ErrTooBig, "shorten the texts", "texts of %d bytes; a JPEG takes 65,533 of one kind", len(content))
	}
	_, err := w.Write(append([]byte{0xff, marker, byte(n >> 8), byte(n)}, content...))
	return err
}

// keepSegment keeps what decoding and color need: tables, frames, JFIF, color profile, and Adobe's note on the color transform.
func keepSegment(marker byte, content *window) (bool, error) {
	prefix := ""
	switch {
	case marker < 0xe0:
		return true, nil
	case marker == mAPP0:
		prefix = "JFIF\x00"
	case marker == mAPP2:
		prefix = iccPrefix
	case marker == 0xee:
		prefix = "Adobe"
	default:
		return false, nil
	}
	b, err := content.head(int64(len(prefix)))
	return string(b) == prefix, err
}

// copyScans copies from the first start of scan to the end of the picture, and stops there. Segments between scans are followed by their length,
// since their content may look like a marker.
func copyScans(w *bufio.Writer, r *bufio.Reader) error {
	segment := true // at a marker, as against within pixels
	for {
		b, err := r.ReadByte()
		if err != nil {
			return cutShort(err)
		}
		if err := w.WriteByte(b); err != nil {
			return err
		}
		if b != 0xff {
			if segment {
				return fault(ErrMalformed, rightExport, "byte %#02x, want a JPEG marker", b)
			}
			continue
		}
		marker, err := r.ReadByte()
		if err != nil {
			return cutShort(err)
		}
		if marker == 0xff { // fill byte: the next one may be the marker
			if err := r.UnreadByte(); err != nil {
				return err
			}
			continue
		}
		if err := w.WriteByte(marker); err != nil {
			return err
		}
		switch {
		case marker == mEOI:
			return nil
		case marker == 0 || marker >= 0xd0 && marker <= 0xd7: // a byte 0xff of pixels, or a restart
			continue
		}
		if err := copySegment(w, r); err != nil {
			return err
		}
		segment = marker != mSOS
	}
}

func copySegment(w io.Writer, r io.Reader) error {
	var size [2]byte
	if _, err := io.ReadFull(r, size[:]); err != nil {
		return cutShort(err)
	}
	if _, err := w.Write(size[:]); err != nil {
		return err
	}
	_, err := io.CopyN(w, r, max(int64(binary.BigEndian.Uint16(size[:]))-2, 0))
	return cutShort(err)
}

func cutShort(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return fault(ErrTruncated, rightCopy, "the pixels end early")
	}
	return err
}

// pngKept are the chunks that decoding, color, size and animation need (PNG specification, third edition).
const pngKept = "IHDR PLTE IDAT IEND tRNS cHRM gAMA iCCP sBIT sRGB cICP mDCV cLLI bKGD hIST pHYs sPLT acTL fcTL fdAT"

func embedPNG(ctx context.Context, w io.Writer, in *window, h Header, e Embedded) error {
	r := bufio.NewReaderSize(contextReader{ctx.Err, io.NewSectionReader(in.budget.r, int64(len(pngMagic)), in.size)}, 64<<10)
	if _, err := io.WriteString(w, pngMagic); err != nil {
		return err
	}
	kept := strings.Fields(pngKept)
	for {
		var head [8]byte
		if _, err := io.ReadFull(r, head[:]); err != nil {
			return cutShort(err)
		}
		kind, rest := string(head[4:]), int64(binary.BigEndian.Uint32(head[:]))+4 // content and checksum
		to := io.Discard
		if slices.Contains(kept, kind) {
			to = w
		}
		if _, err := to.Write(head[:]); err != nil {
			return err
		}
		if _, err := io.CopyN(to, r, rest); err != nil {
			return cutShort(err)
		}
		switch kind {
		case "IEND":
			return nil
		case "IHDR":
			text := append([]byte(xmpKeyword+"\x00\x00\x00\x00\x00"), xmpPacket(e)...)
			if err := errors.Join(writeChunk(w, "eXIf", exifPacket(h, e)), writeChunk(w, "iTXt", text)); err != nil {
				return err
			}
		}
	}
}

func writeChunk(w io.Writer, kind string, content []byte) error {
	b := append(binary.BigEndian.AppendUint32(nil, uint32(len(content))), kind...)
	b = append(b, content...)
	_, err := w.Write(binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:])))
	return err
}
