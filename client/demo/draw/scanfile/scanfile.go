// Package scanfile writes drawings as a scanner and its operator would leave
// them: TIFF, PNG and JPEG files that carry their resolution and the usual
// descriptive and rights fields (TIFF/Exif tags, XMP, IPTC IIM).
//
// Invariants: the same raster and Meta always give the same bytes, since no
// clock, map order or random number is involved; text that a field's length
// limit cuts is cut between characters.
//
// It leaves out: reading, color profiles, tiles, and every compression other
// than Deflate. Field numbers are those of TIFF 6.0, Exif 2.3, the XMP
// specification parts 1 and 3, and IPTC IIM 4.2 (from memory, checked in tests
// with readers that are not part of this module).
package scanfile

import (
	"errors"
	"fmt"
	"time"

	"platarium/client/demo/draw"
)

// Meta is what a file says about its picture. Empty fields are left out.
type Meta struct {
	Title        string
	Description  string
	Creator      string
	Copyright    string // notice, as in "© 2021 Name"
	Credit       string
	Usage        string // terms in words
	WebStatement string // URI of the rights statement
	Keywords     []string
	Software     string
	Created      time.Time // zero leaves all dates out
}

// TIFFOptions choose sample depth and compression.
type TIFFOptions struct {
	Bits    int // 1, 8 or 16
	Deflate bool
}

// ErrFormat is returned for a combination that a format can't hold: choose
// another depth or a gray drawing.
var ErrFormat = errors.New("format can't hold this raster")

// threshold parts ink from paper in bilevel files.
const threshold = 0x8000

// check refuses rasters that would give a broken file.
func check(r *draw.Raster, bits int) error {
	switch {
	case r.W < 1 || r.H < 1 || len(r.Pix) != r.W*r.H*r.Channels:
		return fmt.Errorf("%w: %d by %d pixels with %d samples", ErrFormat, r.W, r.H, len(r.Pix))
	case r.Channels != 1 && r.Channels != 3:
		return fmt.Errorf("%w: %d channels, want 1 or 3", ErrFormat, r.Channels)
	case bits != 1 && bits != 8 && bits != 16:
		return fmt.Errorf("%w: %d bits a sample, want 1, 8 or 16", ErrFormat, bits)
	case bits == 1 && r.Channels != 1:
		return fmt.Errorf("%w: bilevel color", ErrFormat)
	case r.PPI <= 0:
		return fmt.Errorf("%w: %g ppi", ErrFormat, r.PPI)
	}
	return nil
}

// cut shortens text to at most n bytes without splitting a character.
func cut(s string, n int) string {
	if len(s) <= n {
		return s
	}
	for n > 0 && s[n]&0xC0 == 0x80 {
		n--
	}
	return s[:n]
}
