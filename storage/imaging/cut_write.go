package imaging

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"os"
)

// writePicture writes a picture of one of flat's types to a new file, with resolution and profile.
func writePicture(path string, m image.Image, p part, profile []byte) (err error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if p.mediaType == TIFF {
		return writeTIFF(f, m, p.ppi, profile)
	}
	w := bufio.NewWriterSize(f, 64<<10)
	if p.mediaType == JPEG {
		err = jpeg.Encode(&afterHead{w: w, head: 2, insert: jpegHead(p.ppi, profile)}, m, &jpeg.Options{Quality: p.quality})
	} else {
		const behindIHDR = 8 + 25
		err = png.Encode(&afterHead{w: w, head: behindIHDR, insert: pngHead(p.ppi, profile)}, m)
	}
	return errors.Join(err, w.Flush())
}

// afterHead passes bytes on and puts insert behind the first head of them.
type afterHead struct {
	w      io.Writer
	head   int
	insert []byte
}

// Write implements io.Writer.
func (a *afterHead) Write(b []byte) (int, error) {
	if a.insert == nil || len(b) < a.head {
		a.head -= min(len(b), a.head)
		return a.w.Write(b)
	}
	n := a.head
	for _, part := range [][]byte{b[:n], a.insert, b[n:]} {
		if _, err := a.w.Write(part); err != nil {
			return 0, err
		}
	}
	a.insert = nil
	return len(b), nil
}

// jpegHead is the JFIF segment with pixels per inch, and the profile in as many segments as it needs (ICC.1, annex B).
func jpegHead(ppi float64, profile []byte) []byte {
	density := uint16(math.Round(ppi))
	var out bytes.Buffer
	_ = writeSegment(&out, mAPP0, []byte{'J', 'F', 'I', 'F', 0, 1, 2, 1, byte(density >> 8), byte(density), byte(density >> 8), byte(density), 0, 0}) // into memory, and short
	const room = 65533 - len(iccPrefix) - 2
	pieces := (len(profile) + room - 1) / room
	for i := range pieces {
		piece := profile[i*room : min((i+1)*room, len(profile))]
		_ = writeSegment(&out, mAPP2, append(append([]byte(iccPrefix), byte(i+1), byte(pieces)), piece...)) // cut to fit
	}
	return out.Bytes()
}

// pngHead is the chunks of profile and resolution.
func pngHead(ppi float64, profile []byte) []byte {
	var out bytes.Buffer // writing to it doesn't fail
	if profile != nil {
		content := bytes.NewBufferString("icc\x00\x00")
		z := zlib.NewWriter(content)
		_, _ = z.Write(profile)
		_ = z.Close()
		_ = writeChunk(&out, "iCCP", content.Bytes())
	}
	metre := uint32(math.Round(ppi / 0.0254))
	phys := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, metre), metre)
	_ = writeChunk(&out, "pHYs", append(phys, 1))
	return out.Bytes()
}
