package imaging

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"image"
	"io"
	"math"
	"slices"
)

// samples gives the bytes of one row without padding: gray or RGB, 16 bits big endian.
func samples(m image.Image) (channels, depth int, row func(y int, dst []byte) []byte) {
	switch m := m.(type) {
	case *image.Gray:
		return 1, 8, func(y int, dst []byte) []byte { return append(dst, m.Pix[y*m.Stride:][:m.Rect.Dx()]...) }
	case *image.Gray16:
		return 1, 16, func(y int, dst []byte) []byte { return append(dst, m.Pix[y*m.Stride:][:2*m.Rect.Dx()]...) }
	case *image.NRGBA64:
		return 3, 16, func(y int, dst []byte) []byte { return withoutFourth(dst, m.Pix[y*m.Stride:][:8*m.Rect.Dx()], 2) }
	case *image.RGBA:
		return 3, 8, func(y int, dst []byte) []byte { return withoutFourth(dst, m.Pix[y*m.Stride:][:4*m.Rect.Dx()], 1) }
	default:
		return 0, 0, nil
	}
}

func withoutFourth(dst, pix []byte, n int) []byte {
	for ; len(pix) >= 4*n; pix = pix[4*n:] {
		dst = append(dst, pix[:3*n]...)
	}
	return dst
}

// predict replaces samples by their differences from the one to the left (TIFF 6.0, section 14), from the right so that none is needed twice.
func predict(row []byte, channels, depth int) {
	if depth == 8 {
		for i := len(row) - 1; i >= channels; i-- {
			row[i] -= row[i-channels]
		}
		return
	}
	for i := len(row) - 2; i >= 2*channels; i -= 2 {
		d := binary.BigEndian.Uint16(row[i:]) - binary.BigEndian.Uint16(row[i-2*channels:])
		binary.BigEndian.PutUint16(row[i:], d)
	}
}

const stripBytes = 256 << 10 // of pixels before compression; readers hold one strip

// writeTIFF writes a baseline TIFF compressed by Deflate: strips as they come, then the directory, to which the head is pointed last.
func writeTIFF(f io.WriteSeeker, m image.Image, ppi float64, profile []byte) error {
	channels, depth, row := samples(m)
	if row == nil {
		return errors.New("write TIFF: a picture of another kind than is made here")
	}
	width, height := m.Bounds().Dx(), m.Bounds().Dy()
	rows := max(1, stripBytes/(width*channels*depth/8))
	out := &counter{w: bufio.NewWriterSize(f, 64<<10)}
	if _, err := out.Write([]byte("MM\x00*\x00\x00\x00\x00")); err != nil {
		return err
	}
	var offsets, counts []byte
	var strip bytes.Buffer
	z := zlib.NewWriter(&strip)
	buf := make([]byte, 0, width*channels*depth/8)
	for y := 0; y < height; y += rows {
		strip.Reset()
		z.Reset(&strip)
		for r := y; r < min(y+rows, height); r++ {
			buf = row(r, buf[:0])
			predict(buf, channels, depth)
			if _, err := z.Write(buf); err != nil {
				return err
			}
		}
		if err := z.Close(); err != nil {
			return err
		}
		offsets = binary.BigEndian.AppendUint32(offsets, uint32(out.n))
		counts = binary.BigEndian.AppendUint32(counts, uint32(strip.Len()))
		if strip.Len()%2 == 1 {
			strip.WriteByte(0)
		}
		if _, err := out.Write(strip.Bytes()); err != nil {
			return err
		}
		if out.n > mostTIFF {
			return fault(ErrTooBig, rightVips, "a TIFF of more than %d bytes", int64(mostTIFF))
		}
	}
	dir := tiffDirectory{at: uint32(out.n)}
	dir.describe(width, height, channels, depth, rows, ppi)
	dir.add(tagStripOffsets, 4, offsets)
	dir.add(tagStripCounts, 4, counts)
	dir.add(tagICC, 7, profile)
	if _, err := out.Write(dir.bytes()); err != nil {
		return err
	}
	return errors.Join(out.w.Flush(), pointTo(f, dir.at))
}

func pointTo(f io.WriteSeeker, at uint32) error {
	if _, err := f.Seek(4, io.SeekStart); err != nil {
		return err
	}
	_, err := f.Write(binary.BigEndian.AppendUint32(nil, at))
	return err
}

// tiffDirectory collects fields, big endian, for a directory that stands at an offset.
type tiffDirectory struct {
	at     uint32
	fields []tiffField
}

type tiffField struct {
	tag, kind uint16
	value     []byte
}

func (d *tiffDirectory) add(tag, kind uint16, value []byte) {
	if len(value) > 0 {
		d.fields = append(d.fields, tiffField{tag, kind, value})
	}
}

func (d *tiffDirectory) describe(width, height, channels, depth, rows int, ppi float64) {
	long := func(v int) []byte { return binary.BigEndian.AppendUint32(nil, uint32(v)) }
	short := func(v int) []byte { return binary.BigEndian.AppendUint16(nil, uint16(v)) }
	photometric := blackIsZero
	if channels == 3 {
		photometric = inRGB
	}
	resolution := append(long(int(math.Round(ppi*1000))), long(1000)...)
	d.add(tagWidth, 4, long(width))
	d.add(tagHeight, 4, long(height))
	d.add(tagBits, 3, bytes.Repeat(short(depth), channels))
	d.add(tagCompression, 3, short(8))
	d.add(tagPhotometric, 3, short(photometric))
	d.add(tagSamples, 3, short(channels))
	d.add(tagRowsPerStrip, 4, long(rows))
	d.add(tagXResolution, 5, resolution)
	d.add(tagYResolution, 5, resolution)
	d.add(tagUnit, 3, short(2))
	d.add(tagPredictor, 3, short(2))
}

// bytes is the directory with its longer values behind it.
func (d *tiffDirectory) bytes() []byte {
	slices.SortFunc(d.fields, func(a, b tiffField) int { return int(a.tag) - int(b.tag) })
	b := binary.BigEndian.AppendUint16(nil, uint16(len(d.fields)))
	farAt := d.at + uint32(2+12*len(d.fields)+4)
	var far []byte
	for _, f := range d.fields {
		b = binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(b, f.tag), f.kind)
		b = binary.BigEndian.AppendUint32(b, uint32(uint64(len(f.value))/kindSize[f.kind]))
		if len(f.value) <= 4 {
			b = append(append(b, f.value...), make([]byte, 4-len(f.value))...)
			continue
		}
		b = binary.BigEndian.AppendUint32(b, farAt+uint32(len(far)))
		far = append(far, f.value...)
		far = append(far, make([]byte, len(f.value)%2)...)
	}
	return append(append(b, 0, 0, 0, 0), far...)
}

// counter counts what goes through it.
type counter struct {
	w *bufio.Writer
	n int64
}

// Write implements io.Writer.
func (c *counter) Write(b []byte) (int, error) {
	n, err := c.w.Write(b)
	c.n += int64(n)
	return n, err
}
