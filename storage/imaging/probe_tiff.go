package imaging

import "fmt"

// TIFF tags read here (TIFF 6.0; ICC profile from ICC.1; 700, 33723 and 34377 from memory of their specifications).
const (
	tagSubfile      = 254
	tagWidth        = 256
	tagHeight       = 257
	tagBits         = 258
	tagCompression  = 259
	tagPhotometric  = 262
	tagFillOrder    = 266
	tagDescription  = 270
	tagStripOffsets = 273
	tagOrientation  = 274
	tagSamples      = 277
	tagRowsPerStrip = 278
	tagStripCounts  = 279
	tagXResolution  = 282
	tagYResolution  = 283
	tagPlanar       = 284
	tagT4Options    = 292
	tagUnit         = 296
	tagSoftware     = 305
	tagArtist       = 315
	tagPredictor    = 317
	tagTileWidth    = 322
	tagTileHeight   = 323
	tagTileOffsets  = 324
	tagTileCounts   = 325
	tagExtraSamples = 338
	tagSampleFormat = 339
	tagXMP          = 700
	tagCopyright    = 33432
	tagIIM          = 33723
	tagPhotoshop    = 34377
	tagExif         = 34665
	tagICC          = 34675
	tagGPS          = 34853
)

// compressions names TIFF compression schemes (registered values, from memory).
var compressions = map[uint64]string{
	1: "none", 2: "CCITT RLE", 3: "CCITT G3", 4: "CCITT G4", 5: "LZW", 6: "JPEG (old style)", 7: "JPEG", 8: "Deflate", 32773: "PackBits",
	32946: "Deflate (old style)", 34712: "JPEG 2000", 34887: "LERC", 34925: "LZMA", 50000: "Zstandard", 50001: "WebP", 50002: "JPEG XL",
}

// Photometric interpretations of TIFF 6.0.
const (
	whiteIsZero = 0
	blackIsZero = 1
	inRGB       = 2
	inPalette   = 3
	inCMYK      = 5
	inYCbCr     = 6
	inLab       = 8
	inICCLab    = 9
	inITULab    = 10
)

func probeTIFF(w *window, h *Header) error {
	d, err := openDirectories(w)
	if err != nil {
		return err
	}
	h.BigTIFF = d.big
	dir, next, unsorted, err := d.read(d.first)
	if err != nil {
		return err
	}
	h.layout.unsorted = unsorted
	if err := tiffLayout(d, dir, h); err != nil {
		return err
	}
	if err := tiffResolution(d, dir, h); err != nil {
		return err
	}
	if f, ok := dir[tagICC]; ok {
		h.ICCProfile = profileName(d.where(f))
	}
	if err := tiffChunks(d, dir, h); err != nil {
		return err
	}
	return tiffPages(d, next, h)
}

// tiffLayout reads the fields that say how pixels are laid out, with the defaults of TIFF 6.0.
func tiffLayout(d *directories, dir directory, h *Header) error {
	var width, height, bits, samples, orientation, planar, fill uint64
	l := &h.layout
	for _, want := range []struct {
		tag     uint16
		into    *uint64
		missing uint64
	}{
		{tagWidth, &width, 0}, {tagHeight, &height, 0}, {tagBits, &bits, 1}, {tagSamples, &samples, 1}, {tagOrientation, &orientation, 1},
		{tagPlanar, &planar, 1}, {tagFillOrder, &fill, 1}, {tagCompression, &l.compression, 1}, {tagPhotometric, &l.photometric, blackIsZero},
		{tagExtraSamples, &l.extra, 0}, {tagT4Options, &l.t4options, 0}, {tagPredictor, &l.predictor, 1}, {tagSampleFormat, &l.format, 1},
	} {
		*want.into = want.missing
		f, ok := dir[want.tag]
		if !ok {
			continue
		}
		v, err := d.uint(f, 0)
		if err != nil {
			return err
		}
		*want.into = v
	}
	if width > 1<<31 || height > 1<<31 || bits > 64 || samples > 1<<16 {
		return fault(ErrMalformed, rightExport, "%d by %d pixels of %d samples of %d bits", width, height, samples, bits)
	}
	h.Width, h.Height, h.BitsPerSample, h.SamplesPerPixel = int64(width), int64(height), int(bits), int(samples)
	l.planar = planar == 2 && samples > 1
	l.fillReverse = fill == 2
	l.alpha = l.extra == 1 || l.extra == 2
	if orientation >= 1 && orientation <= 8 {
		h.Orientation = int(orientation)
	}
	for i := range min(dir[tagBits].count, 8) {
		v, err := d.uint(dir[tagBits], i)
		if err != nil {
			return err
		}
		l.mixedBits = l.mixedBits || v != bits
	}
	h.Compression = compressions[l.compression]
	if h.Compression == "" {
		h.Compression = fmt.Sprintf("scheme %d", l.compression)
	}
	h.Model = tiffModel(h)
	return h.checkSize()
}

func tiffModel(h *Header) ColorModel {
	switch l := h.layout; l.photometric {
	case whiteIsZero, blackIsZero:
		switch {
		case h.SamplesPerPixel > 1:
			return GrayAlpha
		case h.BitsPerSample == 1:
			return Bilevel
		default:
			return Gray
		}
	case inRGB:
		if h.SamplesPerPixel > 3 && l.alpha {
			return RGBA
		}
		return RGB
	case inYCbCr:
		return RGB
	case inPalette:
		return Palette
	case inCMYK:
		return CMYK
	case inLab, inICCLab, inITULab:
		return Lab
	default:
		return OtherCM
	}
}

func tiffResolution(d *directories, dir directory, h *Header) error {
	fx, ok := dir[tagXResolution]
	fy, ok2 := dir[tagYResolution]
	if !ok || !ok2 {
		return nil
	}
	x, err := d.rational(fx)
	if err != nil {
		return err
	}
	y, err := d.rational(fy)
	if err != nil {
		return err
	}
	unit := uint64(2) // inch unless said otherwise
	if f, ok := dir[tagUnit]; ok {
		if unit, err = d.uint(f, 0); err != nil {
			return err
		}
	}
	h.setPPI(x, y, map[uint64]string{1: "none", 2: "inch", 3: "cm"}[unit])
	return nil
}

// tiffChunks works out the largest strip or tile, and looks whether the first and the last of them lie within the file: a file cut short
// nearly always lacks its last one.
func tiffChunks(d *directories, dir directory, h *Header) error {
	l := &h.layout
	samples := int64(h.SamplesPerPixel)
	if l.planar {
		samples = 1
	}
	width, rows := h.Width, h.Height
	offsets, counts := dir[tagStripOffsets], dir[tagStripCounts]
	for tag, into := range map[uint16]*int64{tagTileWidth: &width, tagTileHeight: &rows, tagRowsPerStrip: &rows} {
		f, ok := dir[tag]
		if !ok {
			continue
		}
		v, err := d.uint(f, 0)
		if err != nil {
			return err
		}
		switch {
		case tag == tagRowsPerStrip && dir[tagTileWidth].count > 0:
		case tag == tagRowsPerStrip && v > 0:
			*into = min(rows, int64(min(v, 1<<31)))
		case tag != tagRowsPerStrip:
			*into = int64(min(v, 1<<31))
		}
	}
	if _, ok := dir[tagTileWidth]; ok {
		offsets, counts = dir[tagTileOffsets], dir[tagTileCounts]
	}
	l.streams = true
	l.chunk = mul(mul(width, samples, int64(h.BitsPerSample))/8+1, rows)
	if offsets.count == 0 {
		return fault(ErrMalformed, rightExport, "no strips or tiles are listed")
	}
	for _, i := range []uint64{0, offsets.count - 1} {
		off, err := d.uint(offsets, i)
		if err != nil {
			return err
		}
		n, err := d.uint(counts, i)
		if err != nil {
			return err
		}
		if size := uint64(d.w.size); off > size || n > size-off {
			return fault(ErrTruncated, rightCopy, "pixel data of %d bytes is said to be at offset %d of %d bytes", n, off, size)
		}
	}
	return nil
}

// tiffPages counts the full pictures of the file, and refuses a chain of directories that loops.
func tiffPages(d *directories, next uint64, h *Header) error {
	h.Pages = 1
	seen := map[uint64]bool{d.first: true}
	for next != 0 {
		if seen[next] {
			return fault(ErrMalformed, rightExport, "the chain of pages loops at offset %d", next)
		}
		if len(seen) >= maxPages {
			return fault(ErrMalformed, rightExport, "more than %d pages", maxPages)
		}
		seen[next] = true
		dir, after, _, err := d.read(next)
		if err != nil {
			return fmt.Errorf("page %d: %w", len(seen), err)
		}
		kind, err := d.uint(dir[tagSubfile], 0)
		if err != nil {
			return err
		}
		if kind&1 == 0 { // bit 0: a smaller version of another page
			h.Pages++
		}
		next = after
	}
	return nil
}
