package imaging

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
)

// entry is one field of a TIFF directory made by tests.
type entry struct {
	tag, kind uint16
	values    []uint64
	ascii     string // instead of values
}

func short(tag uint16, v ...uint64) entry { return entry{tag: tag, kind: 3, values: v} }
func long(tag uint16, v ...uint64) entry  { return entry{tag: tag, kind: 4, values: v} }
func rational(tag uint16, num, den uint64) entry {
	return entry{tag: tag, kind: 5, values: []uint64{num, den}}
}
func ascii(tag uint16, s string) entry { return entry{tag: tag, kind: 2, ascii: s + "\x00"} }

// buildTIFF makes a classic TIFF: header, data at offset 8, then directories, each linked to the next; link overrides where the last one points.
func buildTIFF(order binary.AppendByteOrder, data []byte, link uint32, dirs ...[]entry) []byte {
	b := []byte("II*\x00")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		b = []byte("MM\x00*")
	}
	start := 8 + len(data) + len(data)&1
	b = order.AppendUint32(b, uint32(start))
	b = append(b, data...)
	b = append(b, make([]byte, len(data)&1)...)
	for i, dir := range dirs {
		slices.SortStableFunc(dir, func(a, b entry) int { return int(a.tag) - int(b.tag) })
		var far []byte
		farAt := len(b) + 2 + 12*len(dir) + 4
		b = order.AppendUint16(b, uint16(len(dir)))
		for _, e := range dir {
			v, n := e.bytes(order)
			b = order.AppendUint32(order.AppendUint16(order.AppendUint16(b, e.tag), e.kind), n)
			if len(v) <= 4 {
				b = append(b, append(v, make([]byte, 4-len(v))...)...)
				continue
			}
			b = order.AppendUint32(b, uint32(farAt+len(far)))
			far = append(far, v...)
			far = append(far, make([]byte, len(far)&1)...)
		}
		next := link
		if i < len(dirs)-1 {
			next = uint32(farAt + len(far))
		}
		b = append(order.AppendUint32(b, next), far...)
	}
	return b
}

func (e entry) bytes(order binary.AppendByteOrder) (b []byte, count uint32) {
	if e.ascii != "" {
		return []byte(e.ascii), uint32(len(e.ascii))
	}
	for _, v := range e.values {
		switch e.kind {
		case 3:
			b = order.AppendUint16(b, uint16(v))
		case 1, 7:
			b = append(b, byte(v))
		default:
			b = order.AppendUint32(b, uint32(v))
		}
	}
	count = uint32(len(e.values))
	if e.kind == 5 {
		count /= 2
	}
	return b, count
}

// grayTIFF is an uncompressed gray TIFF of 8 bits; more fields replace or follow its own.
func grayTIFF(m *image.Gray, more ...entry) []byte {
	w, h := uint64(m.Rect.Dx()), uint64(m.Rect.Dy())
	own := []entry{
		long(tagWidth, w), long(tagHeight, h), short(tagBits, 8), short(tagCompression, 1), short(tagPhotometric, blackIsZero),
		long(tagStripOffsets, 8), short(tagSamples, 1), long(tagRowsPerStrip, h), long(tagStripCounts, w*h),
	}
	own = slices.DeleteFunc(own, func(e entry) bool {
		return slices.ContainsFunc(more, func(m entry) bool { return m.tag == e.tag })
	})
	return buildTIFF(binary.LittleEndian, m.Pix, 0, append(own, more...))
}

func pngChunk(kind string, content []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(content)))
	b = append(append(b, kind...), content...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// withChunk puts a chunk behind IHDR.
func withChunk(png []byte, kind string, content []byte) []byte {
	const after = 8 + 25
	return slices.Concat(png[:after], pngChunk(kind, content), png[after:])
}

func segment(marker byte, content []byte) []byte {
	b := binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(content)+2))
	return append(b, content...)
}

// withSegment puts a segment behind the start of a JPEG.
func withSegment(jpeg []byte, marker byte, content []byte) []byte {
	return slices.Concat(jpeg[:2], segment(marker, content), jpeg[2:])
}

// drawing is a picture with broad tones, fine lines and no symmetry, the same for every call.
func drawing(width, height int) *image.NRGBA64 {
	m := image.NewNRGBA64(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			fx, fy := float64(x)/float64(width), float64(y)/float64(height)
			line := 1.0
			if int(fx*fx*200+fy*90)%5 == 0 {
				line = 0.35
			}
			v := func(a float64) uint16 { return uint16(65535 * line * (0.5 + 0.5*math.Sin(a))) }
			m.SetNRGBA64(x, y, color.NRGBA64{v(5*fx + fy), v(3 * fy), v(4*fx*fy + 1), 0xffff})
		}
	}
	return m
}

const hatchPeriod = 8 // pixels from line to line

// hatching is oblique black lines on white whose share of black grows downwards, as in line art.
func hatching(width, height int) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			if p := (x + y/2) % hatchPeriod; float64(p) >= hatchPeriod*(0.15+0.7*float64(y)/float64(height)) {
				m.Pix[y*m.Stride+x] = 255
			}
		}
	}
	return m
}

// tool runs an installed program in dir; its absence fails the test.
func tool(t testing.TB, dir, program string, args ...string) []byte {
	t.Helper()
	cmd := exec.Command(program, args...)
	cmd.Dir = dir
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s must be installed and work for this test (libvips-tools, libimage-exiftool-perl): %v\n%s", program, err, errs.String())
	}
	return out
}

// convert writes an original, runs a program on it in its folder, and reads the named result.
func convert(t testing.TB, original []byte, result, program string, args ...string) []byte {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "in"), original, 0o600); err != nil {
		t.Fatal(err)
	}
	tool(t, dir, program, args...)
	b, err := os.ReadFile(filepath.Join(dir, result))
	if err != nil {
		t.Fatal(err)
	}
	return b
}
