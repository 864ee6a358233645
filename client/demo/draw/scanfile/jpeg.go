package scanfile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image/jpeg"
	"io"
	"math"

	"platarium/client/demo/draw"
)

// JPEG writes a JFIF file with its density, Exif, XMP and IPTC blocks.
func JPEG(w io.Writer, r *draw.Raster, m Meta, quality int) error {
	if err := check(r, 8); err != nil {
		return err
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, r.Eight(), &jpeg.Options{Quality: quality}); err != nil {
		return fmt.Errorf("encode JPEG: %w", err)
	}
	// Our segments go right behind the start marker.
	const afterStart = 2
	all := b.Bytes()
	out := append([]byte{}, all[:afterStart]...)
	density := uint16(math.Round(r.PPI))
	jfif := append([]byte("JFIF\x00\x01\x02\x01"), byte(density>>8), byte(density), byte(density>>8), byte(density), 0, 0)
	exif := append([]byte("Exif\x00\x00II\x2a\x00\x08\x00\x00\x00"), directory(describe(m, r.PPI), 8)...)
	packet := append([]byte("http://ns.adobe.com/xap/1.0/\x00"), xmp(m)...)
	for _, s := range []struct {
		marker byte
		data   []byte
	}{{0xE0, jfif}, {0xE1, exif}, {0xE1, packet}, {0xED, resource(iim(m))}} {
		if len(s.data) > 65533 {
			return fmt.Errorf("%w: metadata of %d bytes in one JPEG segment", ErrFormat, len(s.data))
		}
		out = append(out, 0xFF, s.marker)
		out = binary.BigEndian.AppendUint16(out, uint16(len(s.data)+2))
		out = append(out, s.data...)
	}
	for _, part := range [][]byte{out, all[afterStart:]} {
		if _, err := w.Write(part); err != nil {
			return fmt.Errorf("write JPEG: %w", err)
		}
	}
	return nil
}

// resource wraps an IIM block as image resource 0x0404 of an APP13 segment.
func resource(data []byte) []byte {
	b := []byte("Photoshop 3.0\x008BIM\x04\x04\x00\x00")
	b = binary.BigEndian.AppendUint32(b, uint32(len(data)))
	b = append(b, data...)
	if len(data)%2 == 1 {
		b = append(b, 0)
	}
	return b
}
