package imaging

import (
	"context"
	"fmt"
	"io"
	"slices"
)

// tiffKept are the fields that decoding, color, size and print need: all of TIFF 6.0 that describe pixels, and JPEG tables, transfer and color
// profile. Texts, private fields and directories below are left out.
var tiffKept = []uint16{
	tagSubfile, tagWidth, tagHeight, tagBits, tagCompression, tagPhotometric, 263, 264, 265, tagFillOrder, tagStripOffsets, tagOrientation, tagSamples,
	tagRowsPerStrip, tagStripCounts, 280, 281, tagXResolution, tagYResolution, tagPlanar, 286, 287, 290, 291, tagT4Options, 293, tagUnit, 297, 301,
	tagPredictor, 318, 319, 320, 321, tagTileWidth, tagTileHeight, tagTileOffsets, tagTileCounts, 332, 334, 336, tagExtraSamples, tagSampleFormat,
	340, 341, 342, 347, 529, 530, 531, 532, tagICC,
}

const (
	maxKept  = 64 << 20        // bytes of one kept field; a color profile or a list of strips
	mostTIFF = 1<<32 - 256<<20 // bytes of pixel data in a TIFF of 32 bits, the rest left for fields
	oldStyle = 6               // JPEG as TIFF 6.0 first had it, whose data isn't in strips alone
)

// page is one directory with the stretches of pixel data that it names.
type page struct {
	fields []outField
	parts  []*window
	place  int // of the offsets among fields
}

// embedTIFF writes a new file: header, the pixel data of all pages in order, then the directories. Data that no kept field names isn't copied, so that
// nothing left out stays readable in the bytes.
func embedTIFF(ctx context.Context, w io.Writer, in *window, e Embedded) error {
	d, err := openDirectories(in)
	if err != nil {
		return err
	}
	pages, err := readPages(d)
	if err != nil {
		return err
	}
	at := uint64(8)
	if d.big {
		at = 16
	}
	for _, p := range pages {
		at = p.moveTo(d, at)
	}
	if !d.big && at > mostTIFF {
		return fault(ErrTooBig, "deliver a BigTIFF or a smaller copy", "pixel data of %d bytes comes too near to 4 GiB, all that TIFF can hold", at)
	}
	if err := writeTIFFHead(w, d, at); err != nil {
		return err
	}
	for _, p := range pages {
		for _, part := range p.parts {
			if err := copyPart(ctx, w, part); err != nil {
				return err
			}
			if _, err := w.Write(make([]byte, part.size&1)); err != nil {
				return err
			}
		}
	}
	return writePages(w, d, pages, at, e)
}

func writeTIFFHead(w io.Writer, d *directories, first uint64) error {
	mark, err := d.w.at(0, 2)
	if err != nil {
		return err
	}
	if d.big {
		mark = append(append(append(mark, d.number(2, 43)...), d.number(2, 8)...), d.number(2, 0)...)
	} else {
		mark = append(mark, d.number(2, 42)...)
	}
	_, err = w.Write(append(mark, d.number(d.slot(), first)...))
	return err
}

func writePages(w io.Writer, d *directories, pages []*page, at uint64, e Embedded) error {
	for i, p := range pages {
		fields := p.fields
		if i == 0 {
			xmp, iim := xmpPacket(e), iimPacket(e)
			fields = append(append(fields, textFields(e)...),
				outField{tagXMP, 1, uint64(len(xmp)), xmp}, outField{tagIIM, 1, uint64(len(iim)), iim})
		}
		next := uint64(1)
		if i == len(pages)-1 {
			next = 0
		}
		b := d.encode(fields, at, next)
		at += uint64(len(b))
		if _, err := w.Write(b); err != nil {
			return err
		}
	}
	return nil
}

// readPages reads the whole chain, which Probe has found to be free of loops.
func readPages(d *directories) ([]*page, error) {
	var pages []*page
	for off := d.first; off != 0; {
		dir, next, _, err := d.read(off)
		if err != nil {
			return nil, err
		}
		p, err := readPage(d, dir)
		if err != nil {
			return nil, fmt.Errorf("page %d: %w", len(pages)+1, err)
		}
		pages = append(pages, p)
		off = next
	}
	return pages, nil
}

func readPage(d *directories, dir directory) (*page, error) {
	if c, err := d.uint(dir[tagCompression], 0); err != nil || c == oldStyle {
		if err == nil {
			err = fault(ErrUnsupported, rightExport, "JPEG in the old style of TIFF 6.0")
		}
		return nil, err
	}
	offsets, counts := uint16(tagStripOffsets), uint16(tagStripCounts)
	if dir[tagTileOffsets].count > 0 {
		offsets, counts = tagTileOffsets, tagTileCounts
	}
	p := &page{}
	if err := p.readParts(d, dir[offsets], dir[counts]); err != nil {
		return nil, err
	}
	for _, tag := range tiffKept {
		f, ok := dir[tag]
		size, known := f.bytes()
		if !ok || !known || tag == offsets {
			continue
		}
		if size > maxKept {
			return nil, fault(ErrTooBig, rightExport, "field %d of %d bytes", tag, size)
		}
		v, err := d.raw(f, maxKept)
		if err != nil {
			return nil, err
		}
		p.fields = append(p.fields, outField{tag, f.kind, f.count, v})
	}
	p.place = len(p.fields)
	p.fields = append(p.fields, outField{tag: offsets, kind: map[int]uint16{4: 4, 8: 16}[d.slot()], count: uint64(len(p.parts))})
	return p, nil
}

func (p *page) readParts(d *directories, offsets, counts field) error {
	at, err := d.uints(offsets)
	if err != nil {
		return err
	}
	sizes, err := d.uints(counts)
	if err != nil {
		return err
	}
	if len(at) == 0 || len(at) != len(sizes) {
		return fault(ErrMalformed, rightExport, "%d offsets and %d sizes of pixel data", len(at), len(sizes))
	}
	total := int64(0)
	for i := range at {
		size := uint64(d.w.size)
		if at[i] > size || sizes[i] > size-at[i] {
			return fault(ErrTruncated, rightCopy, "pixel data of %d bytes is said to be at offset %d of %d bytes", sizes[i], at[i], size)
		}
		if total += int64(sizes[i]); total > d.w.size {
			return fault(ErrMalformed, rightExport, "the parts of the pixel data overlap")
		}
		p.parts = append(p.parts, d.w.part(int64(at[i]), int64(sizes[i])))
	}
	return nil
}

// uints reads all values of an integer field.
func (d *directories) uints(f field) ([]uint64, error) {
	if !slices.Contains([]uint16{3, 4, 13, 16, 18}, f.kind) {
		return nil, nil
	}
	if size, ok := f.bytes(); !ok || size > maxKept {
		return nil, fault(ErrTooBig, rightExport, "a list of %d values", f.count)
	}
	b, err := d.raw(f, maxKept)
	if err != nil {
		return nil, err
	}
	out := make([]uint64, f.count)
	for i := range out {
		out[i] = d.word(b[uint64(i)*f.width():][:f.width()])
	}
	return out, nil
}

// moveTo places the page's pixel data from at on, and gives where it ends.
func (p *page) moveTo(d *directories, at uint64) uint64 {
	var v []byte
	for _, part := range p.parts {
		v = append(v, d.number(d.slot(), at)...)
		at += uint64(part.size + part.size&1)
	}
	p.fields[p.place].value = v
	return at
}
