package imaging

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"runtime"
	"strings"
	"testing"
)

// pngBomb claims width by height pixels; its pixel data is a few kilobytes.
func pngBomb(width, height uint32, bits, colorType byte) []byte {
	ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, width), height)
	ihdr = append(ihdr, bits, colorType, 0, 0, 0)
	var z bytes.Buffer
	zw := zlib.NewWriter(&z)
	_, _ = zw.Write(make([]byte, 4<<20)) // into memory
	_ = zw.Close()
	return bytes.Join([][]byte{[]byte(pngMagic), pngChunk("IHDR", ihdr), pngChunk("IDAT", z.Bytes()), pngChunk("IEND", nil)}, nil)
}

// tiffBomb claims width by height pixels in one strip of the given compression.
func tiffBomb(width, height, bits, samples, compression uint64, data []byte) []byte {
	return buildTIFF(binary.LittleEndian, data, 0, []entry{
		long(tagWidth, width), long(tagHeight, height), short(tagBits, bits), short(tagCompression, compression), short(tagPhotometric, blackIsZero),
		long(tagStripOffsets, 8), short(tagSamples, samples), long(tagRowsPerStrip, height), long(tagStripCounts, uint64(len(data))),
	})
}

func jpegBomb(width, height uint16) []byte {
	sof := []byte{8, byte(height >> 8), byte(height), byte(width >> 8), byte(width), 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0}
	b := append([]byte{0xff, mSOI}, segment(0xc2, sof)...)
	b = append(b, segment(mSOS, []byte{1, 1, 0, 0, 63, 0})...)
	return append(b, 0xff, mEOI)
}

// Small files that claim enormous pictures are read without allocating for them, and refused with the bytes that they would need.
func TestBombs(t *testing.T) {
	ones := bytes.Repeat([]byte{0xff}, 13<<10) // in G4 each set bit is a row like the one above
	tests := map[string]struct {
		file []byte
		need int64
	}{
		"PNG gray":    {pngBomb(60000, 60000, 8, 0), 60000 * 60000},
		"PNG RGBA 16": {pngBomb(1<<31-1, 1<<31-1, 16, 6), 1 << 61},
		"TIFF G4":     {tiffBomb(60000, 60000, 1, 1, 4, ones), 60000 * 60000},
		"TIFF huge":   {tiffBomb(1<<31, 1<<31, 16, 1, 1, ones), 1 << 61},
		"JPEG":        {jpegBomb(65500, 65500), 3 * 65500 * 65500},
	}
	for name, tt := range tests {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		h, err := Probe(t.Context(), bytes.NewReader(tt.file), int64(len(tt.file)))
		runtime.ReadMemStats(&after)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if used := after.TotalAlloc - before.TotalAlloc; used > 1<<20 {
			t.Errorf("%s: Probe allocated %d bytes", name, used)
		}
		if got := h.DecodeBytes(); got < tt.need {
			t.Errorf("%s: needs %d bytes, want at least %d", name, got, tt.need)
		}
		for _, vips := range []bool{false, true} {
			_, f := choose(h, DefaultLimits(), vips)
			if !errors.Is(f, ErrTooBig) {
				t.Errorf("%s, libvips %v: %v, want ErrTooBig", name, vips, f)
				continue
			}
			if !vips && !strings.Contains(f.Wrong, "bytes to decode") {
				t.Errorf("%s: %q doesn't say how many bytes it needs", name, f.Wrong)
			}
		}
	}
}

// The same bombs through the whole of Runner, so that nothing else decodes them first.
func TestBombsEndInRunner(t *testing.T) {
	t.Parallel()
	for _, d := range []Decoders{OnlyGo, OnlyVips} {
		r := newRunner(t, d, Limits{})
		for name, b := range map[string][]byte{"PNG": pngBomb(60000, 60000, 8, 0), "TIFF": tiffBomb(60000, 60000, 1, 1, 4, make([]byte, 13<<10))} {
			if _, err := r.Derive(t.Context(), bytes.NewReader(b)); !errors.Is(err, ErrTooBig) {
				t.Errorf("%s: %v, want ErrTooBig", name, err)
			}
		}
	}
}

func TestHostileStructures(t *testing.T) {
	tile := []entry{long(tagWidth, 9), long(tagHeight, 9), long(tagStripOffsets, 8), long(tagStripCounts, 1)}
	loop := buildTIFF(binary.LittleEndian, []byte{0}, 10, tile)
	two := buildTIFF(binary.LittleEndian, []byte{0}, 10, tile, tile)
	self := append([]byte("II*\x00\x08\x00\x00\x00"), 0, 0, 0, 0, 0, 0, 0, 0)
	big := []byte("II+\x00\x08\x00\x00\x00\x10\x00\x00\x00\x00\x00\x00\x00\xff\xff\xff\xff\xff\xff\xff\xff")
	far := buildTIFF(binary.LittleEndian, []byte{0}, 0, []entry{long(tagWidth, 9), long(tagHeight, 9), long(tagStripOffsets, 1<<32-1), long(tagStripCounts, 1<<32-1)})
	many := append([]byte("MM\x00*\x00\x00\x00\x08"), 0xff, 0xff)
	tests := map[string]struct {
		file []byte
		kind error
	}{
		"directory loops":         {loop, ErrMalformed},
		"second directory loops":  {two, ErrMalformed},
		"no entries":              {self, ErrMalformed},
		"2^64-1 entries":          {big, ErrMalformed},
		"pixels outside":          {far, ErrTruncated},
		"65535 entries":           {many, ErrMalformed},
		"two JPEG frames":         {append(jpegBomb(9, 9)[:21], jpegBomb(9, 9)[2:]...), ErrMalformed},
		"JPEG segment of nothing": {[]byte("\xff\xd8\xff\xe0\x00\x01"), ErrMalformed},
		"PNG without IHDR":        {append([]byte(pngMagic), pngChunk("tEXt", []byte("Title\x00x"))...), ErrMalformed},
		"PNG of 9 bits":           {pngBomb(9, 9, 9, 0), ErrMalformed},
		"PNG of no width":         {pngBomb(0, 9, 8, 0), ErrMalformed},
	}
	for name, tt := range tests {
		if _, err := Probe(t.Context(), bytes.NewReader(tt.file), int64(len(tt.file))); !errors.Is(err, tt.kind) {
			t.Errorf("%s: %v, want %v", name, err, tt.kind)
		}
		if _, err := Metadata(t.Context(), bytes.NewReader(tt.file), int64(len(tt.file))); err != nil && Reason(err) == "" {
			t.Errorf("%s: metadata fails with %v, want a *Fault", name, err)
		}
	}
}

// A color profile of 16 MiB costs a few kilobytes of reading.
func TestHugeProfile(t *testing.T) {
	profile := make([]byte, 65519)
	copy(profile[128:], "\x00\x00\x00\x01desc\x00\x00\x00\x90\x00\x00\x00\x40")
	copy(profile[144:], "desc\x00\x00\x00\x00\x00\x00\x00\x09Studio 1\x00")
	b := []byte{0xff, mSOI}
	for i := range 255 {
		b = append(b, segment(mAPP2, append([]byte(iccPrefix), append([]byte{byte(i + 1), 255}, profile...)...))...)
	}
	b = append(b, fixture(t, "baseline.jpg")[2:]...)
	r := &counting{ReaderAt: bytes.NewReader(b)}
	h, err := Probe(t.Context(), r, int64(len(b)))
	if err != nil || h.ICCProfile != "Studio 1" {
		t.Errorf("profile %q, %v", h.ICCProfile, err)
	}
	if r.bytes > len(b)/8 || r.reads > 2*255+20 {
		t.Errorf("%d of %d bytes read in %d reads", r.bytes, len(b), r.reads)
	}
}

// A scan whose pixels are cut into thousands of chunks is not walked through, and what stands behind the pixels is found all the same.
func TestLongPNG(t *testing.T) {
	b := []byte(pngMagic)
	b = append(b, pngBomb(20000, 20000, 8, 0)[8:8+25]...)
	for range 3000 {
		b = append(b, pngChunk("IDAT", make([]byte, 8192))...)
	}
	b = append(b, pngChunk("eXIf", buildTIFF(binary.LittleEndian, nil, 0, []entry{short(tagOrientation, 6)}))...)
	b = append(b, pngChunk("IEND", nil)...)
	r := &counting{ReaderAt: bytes.NewReader(b)}
	h, err := Probe(t.Context(), r, int64(len(b)))
	if err != nil || h.Orientation != 6 {
		t.Errorf("orientation %d, %v", h.Orientation, err)
	}
	if r.reads > 60 {
		t.Errorf("%d reads", r.reads)
	}
	// Bytes behind the end hide the end: then every chunk is followed.
	b = append(b, "more"...)
	if h, err := Probe(t.Context(), bytes.NewReader(b), int64(len(b))); err != nil || h.Orientation != 6 {
		t.Errorf("with bytes behind the end: orientation %d, %v", h.Orientation, err)
	}
	if _, err := Probe(t.Context(), bytes.NewReader(b), int64(len(b)/2)); !errors.Is(err, ErrTruncated) {
		t.Errorf("cut in half: %v, want ErrTruncated", err)
	}
}

type counting struct {
	io.ReaderAt
	bytes, reads int
}

func (c *counting) ReadAt(p []byte, off int64) (int, error) {
	c.bytes += len(p)
	c.reads++
	return c.ReaderAt.ReadAt(p, off)
}

func TestProbeStopsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	b := fixture(t, "rgb-lzw.tif")
	if _, err := Probe(ctx, bytes.NewReader(b), int64(len(b))); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want the context's error", err)
	}
}

// A reader that fails is not taken for a broken picture.
func TestProbeKeepsReadErrors(t *testing.T) {
	broken := errors.New("disk on fire")
	if _, err := Probe(t.Context(), failing{broken}, 1000); !errors.Is(err, broken) || Reason(err) != "" {
		t.Errorf("got %v (reason %q), want the reader's error and no reason", err, Reason(err))
	}
}

type failing struct{ err error }

func (f failing) ReadAt([]byte, int64) (int, error) { return 0, f.err }
