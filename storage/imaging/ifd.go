package imaging

import (
	"encoding/binary"
	"math"
)

// directories reads TIFF structures: whole TIFF files, and the Exif blocks that JPEG, PNG and WebP carry. Offsets count from the window's start.
type directories struct {
	w     *window
	order binary.ByteOrder
	big   bool
	first uint64 // offset of the first directory
}

// field is one entry of a directory; its values are read on demand.
type field struct {
	kind  uint16
	count uint64
	inl   []byte // the value itself when it fits the entry
	off   uint64 // where the value is when it doesn't
}

type directory map[uint16]field

const (
	maxFields = 4096      // entries a directory may have; real ones have under 100
	maxPages  = 10_000    // directories followed in one file
	maxValue  = 16 << 20  // bytes of one value
	bigEntry  = 8 + 8 + 4 // bytes of a BigTIFF entry
)

// kindSize is the bytes of each TIFF value type (TIFF 6.0, section 2, and BigTIFF).
var kindSize = [...]uint64{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4, 0, 0, 8, 8, 8}

func openDirectories(w *window) (*directories, error) {
	b, err := w.head(16)
	if err != nil {
		return nil, err
	}
	if len(b) < 8 {
		return nil, fault(ErrTruncated, rightCopy, "a TIFF header of %d bytes", len(b))
	}
	d := &directories{w: w}
	switch string(b[:2]) {
	case "II":
		d.order = binary.LittleEndian
	case "MM":
		d.order = binary.BigEndian
	default:
		return nil, fault(ErrMalformed, rightExport, "byte order mark %q, want II or MM", b[:2])
	}
	switch v := d.order.Uint16(b[2:]); v {
	case 42:
		d.first = uint64(d.order.Uint32(b[4:]))
	case 43:
		if len(b) < 16 {
			return nil, fault(ErrTruncated, rightCopy, "a BigTIFF header of %d bytes", len(b))
		}
		if d.order.Uint16(b[4:]) != 8 {
			return nil, fault(ErrMalformed, rightExport, "BigTIFF offsets of %d bytes, want 8", d.order.Uint16(b[4:]))
		}
		d.big, d.first = true, d.order.Uint64(b[8:])
	default:
		return nil, fault(ErrMalformed, rightExport, "TIFF version %d, want 42 or 43", v)
	}
	return d, nil
}

// read gives the directory at off and the offset of the next one, 0 at the end. Of entries with the same tag the first counts. Unsorted says that
// the entries aren't in ascending order, which some readers refuse.
func (d *directories) read(off uint64) (dir directory, next uint64, unsorted bool, err error) {
	if off == 0 || off >= uint64(d.w.size) {
		return nil, 0, false, fault(ErrTruncated, rightCopy, "a directory is said to be at offset %d of %d bytes", off, d.w.size)
	}
	head, entry, slot := int64(2), int64(12), int64(4)
	if d.big {
		head, entry, slot = 8, bigEntry, 8
	}
	b, err := d.w.at(int64(off), head)
	if err != nil {
		return nil, 0, false, err
	}
	n := d.word(b)
	if n == 0 || n > maxFields {
		return nil, 0, false, fault(ErrMalformed, rightExport, "a directory of %d entries, want 1 to %d", n, maxFields)
	}
	b, err = d.w.at(int64(off)+head, int64(n)*entry)
	if err != nil {
		return nil, 0, false, err
	}
	dir = make(directory, n)
	last := -1
	for ; len(b) > 0; b = b[entry:] {
		tag, f := d.field(b[:entry], slot)
		if _, ok := dir[tag]; !ok {
			dir[tag] = f
		}
		unsorted = unsorted || int(tag) <= last
		last = int(tag)
	}
	// A missing link to the next directory is common in Exif blocks and harmless.
	if b, err = d.w.at(int64(off)+head+int64(n)*entry, slot); err == nil {
		next = d.word(b)
	} else if !truncated(err) {
		return nil, 0, false, err
	}
	return dir, next, unsorted, nil
}

func (d *directories) field(b []byte, slot int64) (tag uint16, f field) {
	tag = d.order.Uint16(b)
	f.kind = d.order.Uint16(b[2:])
	f.count = d.word(b[4 : 4+slot])
	value := b[4+slot:]
	if size, ok := f.bytes(); ok && size <= int64(slot) {
		f.inl = value[:size]
	} else {
		f.off = d.word(value)
	}
	return tag, f
}

// word reads an unsigned integer as wide as b.
func (d *directories) word(b []byte) uint64 {
	switch len(b) {
	case 1:
		return uint64(b[0])
	case 2:
		return uint64(d.order.Uint16(b))
	case 4:
		return uint64(d.order.Uint32(b))
	default:
		return d.order.Uint64(b)
	}
}

func (f field) width() uint64 {
	if int(f.kind) < len(kindSize) {
		return kindSize[f.kind]
	}
	return 0
}

// bytes is the size of the whole value; false for an unknown type or a size past all sense.
func (f field) bytes() (int64, bool) {
	w := f.width()
	if w == 0 || f.count > math.MaxInt64/16 {
		return 0, false
	}
	return int64(f.count * w), true
}

// raw reads at most limit bytes of a value.
func (d *directories) raw(f field, limit int64) ([]byte, error) {
	size, ok := f.bytes()
	if !ok {
		return nil, fault(ErrMalformed, rightExport, "a field of type %d with %d values", f.kind, f.count)
	}
	if f.inl != nil {
		return f.inl, nil
	}
	if f.off > uint64(d.w.size) {
		return nil, fault(ErrTruncated, rightCopy, "a value is said to be at offset %d of %d bytes", f.off, d.w.size)
	}
	return d.w.at(int64(f.off), min(size, limit))
}

// where gives the window of a value, for one too large to hold.
func (d *directories) where(f field) *window {
	size, ok := f.bytes()
	if !ok || f.inl != nil || f.off > uint64(d.w.size) {
		return d.w.part(0, 0)
	}
	return d.w.part(int64(f.off), size)
}

// uint reads value number i of an integer field; 0 when the field isn't there or isn't one.
func (d *directories) uint(f field, i uint64) (uint64, error) {
	w := f.width()
	if i >= f.count || w == 0 {
		return 0, nil
	}
	switch f.kind {
	case 1, 3, 4, 13, 16, 18:
	default:
		return 0, nil
	}
	if f.inl != nil {
		return d.word(f.inl[i*w : (i+1)*w]), nil
	}
	if f.off > uint64(d.w.size) || i > uint64(d.w.size) {
		return 0, fault(ErrTruncated, rightCopy, "a value is said to be at offset %d of %d bytes", f.off, d.w.size)
	}
	b, err := d.w.at(int64(f.off+i*w), int64(w))
	if err != nil {
		return 0, err
	}
	return d.word(b), nil
}

// rational reads the first value of a RATIONAL field; 0 when there is none.
func (d *directories) rational(f field) (float64, error) {
	if f.kind != 5 || f.count == 0 {
		return 0, nil
	}
	b, err := d.raw(f, 8)
	if err != nil || len(b) < 8 {
		return 0, err
	}
	num, den := d.order.Uint32(b), d.order.Uint32(b[4:])
	if den == 0 {
		return 0, nil
	}
	return float64(num) / float64(den), nil
}
