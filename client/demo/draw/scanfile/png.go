package scanfile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"platarium/client/demo/draw"
)

// PNG writes a PNG of 1, 8 or 16 bits a sample with its resolution (pHYs), an
// XMP packet (iTXt) and plain text chunks.
func PNG(w io.Writer, r *draw.Raster, m Meta, bits int) error {
	if err := check(r, bits); err != nil {
		return err
	}
	var img image.Image = r
	switch bits {
	case 1:
		img = bilevel(r)
	case 8:
		img = r.Eight()
	}
	var b bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := enc.Encode(&b, img); err != nil {
		return fmt.Errorf("encode PNG: %w", err)
	}
	// Signature and IHDR come first; everything of ours fits behind them.
	const afterHeader = 8 + 25
	all := b.Bytes()
	out := append([]byte{}, all[:afterHeader]...)
	perMetre := uint32(math.Round(r.PPI / 0.0254))
	phys := binary.BigEndian.AppendUint32(nil, perMetre)
	phys = append(binary.BigEndian.AppendUint32(phys, perMetre), 1)
	out = chunk(out, "pHYs", phys)
	for _, t := range [][2]string{{"Title", m.Title}, {"Author", m.Creator}, {"Copyright", m.Copyright}, {"Software", m.Software}} {
		if t[1] != "" {
			// iTXt: keyword, not compressed, no language, no translation.
			out = chunk(out, "iTXt", []byte(t[0]+"\x00\x00\x00\x00\x00"+t[1]))
		}
	}
	out = chunk(out, "iTXt", append([]byte("XML:com.adobe.xmp\x00\x00\x00\x00\x00"), xmp(m)...))
	for _, part := range [][]byte{out, all[afterHeader:]} {
		if _, err := w.Write(part); err != nil {
			return fmt.Errorf("write PNG: %w", err)
		}
	}
	return nil
}

func chunk(b []byte, kind string, data []byte) []byte {
	b = binary.BigEndian.AppendUint32(b, uint32(len(data)))
	body := append([]byte(kind), data...)
	b = append(b, body...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(body))
}

// bilevel parts ink from paper.
func bilevel(r *draw.Raster) *image.Paletted {
	m := image.NewPaletted(r.Bounds(), color.Palette{color.Gray{}, color.Gray{Y: 255}})
	for i, v := range r.Pix {
		if v >= threshold {
			m.Pix[i] = 1
		}
	}
	return m
}
