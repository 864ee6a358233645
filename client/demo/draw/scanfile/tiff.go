package scanfile

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"

	"platarium/client/demo/draw"
)

// TIFF field types.
const (
	typeByte     = 1
	typeASCII    = 2
	typeShort    = 3
	typeLong     = 4
	typeRational = 5
)

// field is one entry of an image file directory.
type field struct {
	tag, kind uint16
	count     uint32
	data      []byte // little-endian
}

func shorts(tag uint16, vs ...uint16) field {
	var b []byte
	for _, v := range vs {
		b = binary.LittleEndian.AppendUint16(b, v)
	}
	return field{tag, typeShort, uint32(len(vs)), b}
}

func longs(tag uint16, vs ...uint32) field {
	var b []byte
	for _, v := range vs {
		b = binary.LittleEndian.AppendUint32(b, v)
	}
	return field{tag, typeLong, uint32(len(vs)), b}
}

func ascii(tag uint16, s string) field {
	b := append([]byte(s), 0)
	return field{tag, typeASCII, uint32(len(b)), b}
}

func blob(tag uint16, b []byte) field { return field{tag, typeByte, uint32(len(b)), b} }

func rational(tag uint16, v float64) field {
	b := binary.LittleEndian.AppendUint32(nil, uint32(math.Round(v*1000)))
	return field{tag, typeRational, 1, binary.LittleEndian.AppendUint32(b, 1000)}
}

// directory lays out an IFD that starts at offset at; values longer than four
// bytes follow it. The result is padded to an even length.
func directory(fields []field, at int) []byte {
	slices.SortFunc(fields, func(a, b field) int { return int(a.tag) - int(b.tag) })
	head := binary.LittleEndian.AppendUint16(nil, uint16(len(fields)))
	var tail []byte
	tailAt := at + 2 + 12*len(fields) + 4
	for _, f := range fields {
		head = binary.LittleEndian.AppendUint16(head, f.tag)
		head = binary.LittleEndian.AppendUint16(head, f.kind)
		head = binary.LittleEndian.AppendUint32(head, f.count)
		if len(f.data) <= 4 {
			var v [4]byte
			copy(v[:], f.data)
			head = append(head, v[:]...)
			continue
		}
		head = binary.LittleEndian.AppendUint32(head, uint32(tailAt+len(tail)))
		tail = append(tail, f.data...)
		if len(tail)%2 == 1 {
			tail = append(tail, 0)
		}
	}
	head = append(head, 0, 0, 0, 0) // no further directory
	return append(head, tail...)
}

// describe is the part of a directory that TIFF and Exif share.
func describe(m Meta, ppi float64) []field {
	fs := []field{rational(282, ppi), rational(283, ppi), shorts(296, 2)}
	text := func(tag uint16, s string) {
		if s != "" {
			fs = append(fs, ascii(tag, s))
		}
	}
	text(270, or(m.Description, m.Title))
	text(305, m.Software)
	text(315, m.Creator)
	text(33432, m.Copyright)
	if !m.Created.IsZero() {
		text(306, m.Created.UTC().Format("2006:01:02 15:04:05"))
	}
	return fs
}

func or(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

// TIFF writes a little-endian baseline TIFF in strips, directory first.
func TIFF(w io.Writer, r *draw.Raster, m Meta, o TIFFOptions) error {
	if err := check(r, o.Bits); err != nil {
		return err
	}
	strips, rows, err := strips(r, o)
	if err != nil {
		return err
	}
	bits := make([]uint16, r.Channels)
	for i := range bits {
		bits[i] = uint16(o.Bits)
	}
	compression, photometric := uint16(1), uint16(1)
	if o.Deflate {
		compression = 8
	}
	if r.Channels == 3 {
		photometric = 2
	}
	fields := append(describe(m, r.PPI),
		longs(256, uint32(r.W)), longs(257, uint32(r.H)), shorts(258, bits...), shorts(259, compression),
		shorts(262, photometric), shorts(277, uint16(r.Channels)), longs(278, uint32(rows)),
		blob(700, xmp(m)), blob(33723, iim(m)))
	if o.Deflate && o.Bits > 1 {
		fields = append(fields, shorts(317, 2))
	}
	sizes, offsets := make([]uint32, len(strips)), make([]uint32, len(strips))
	for i, s := range strips {
		sizes[i] = uint32(len(s))
	}
	const headerSize = 8
	// The directory's length doesn't depend on the offsets' values.
	dir := directory(append(slices.Clone(fields), longs(273, offsets...), longs(279, sizes...)), headerSize)
	at := uint32(headerSize + len(dir))
	for i, s := range sizes {
		offsets[i] = at
		at += s
	}
	dir = directory(append(fields, longs(273, offsets...), longs(279, sizes...)), headerSize)
	out := append([]byte{'I', 'I', 42, 0, headerSize, 0, 0, 0}, dir...)
	for _, part := range append([][]byte{out}, strips...) {
		if _, err := w.Write(part); err != nil {
			return fmt.Errorf("write TIFF: %w", err)
		}
	}
	return nil
}

// stripBytes is the uncompressed size of a strip: enough for Deflate to work
// with, small for a reader that wants a few rows.
const stripBytes = 256 << 10

func strips(r *draw.Raster, o TIFFOptions) ([][]byte, int, error) {
	rowBytes := (r.W*r.Channels*o.Bits + 7) / 8
	rows := max(stripBytes/rowBytes, 1)
	var out [][]byte
	for y := 0; y < r.H; y += rows {
		n := min(rows, r.H-y)
		raw := make([]byte, 0, n*rowBytes)
		for i := range n {
			raw = packRow(raw, r.Pix[(y+i)*r.W*r.Channels:(y+i+1)*r.W*r.Channels], r.Channels, o)
		}
		if !o.Deflate {
			out = append(out, raw)
			continue
		}
		var b bytes.Buffer
		z, err := zlib.NewWriterLevel(&b, zlib.BestSpeed)
		if err != nil {
			return nil, 0, fmt.Errorf("deflate: %w", err)
		}
		if _, err := z.Write(raw); err != nil {
			return nil, 0, fmt.Errorf("deflate: %w", err)
		}
		if err := z.Close(); err != nil {
			return nil, 0, fmt.Errorf("deflate: %w", err)
		}
		out = append(out, b.Bytes())
	}
	return out, rows, nil
}

// packRow appends one row of samples. Deflated rows of 8 or 16 bits hold
// differences between neighbours (predictor 2).
func packRow(b []byte, row []uint16, channels int, o TIFFOptions) []byte {
	switch o.Bits {
	case 1:
		var acc byte
		for i, v := range row {
			if v >= threshold {
				acc |= 0x80 >> (i % 8)
			}
			if i%8 == 7 || i == len(row)-1 {
				b, acc = append(b, acc), 0
			}
		}
	case 8:
		for i, v := range row {
			s := uint8(v >> 8)
			if o.Deflate && i >= channels {
				s -= uint8(row[i-channels] >> 8)
			}
			b = append(b, s)
		}
	default:
		for i, v := range row {
			if o.Deflate && i >= channels {
				v -= row[i-channels]
			}
			b = binary.LittleEndian.AppendUint16(b, v)
		}
	}
	return b
}
