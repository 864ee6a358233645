package imaging

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
)

// Origin is a kind of embedded metadata.
type Origin string

// Origins of a statement.
const (
	FromXMP  Origin = "XMP"
	FromIIM  Origin = "IPTC-IIM"
	FromExif Origin = "Exif"
	FromPNG  Origin = "PNG text"
)

// Embedded is what a file says in words about itself. Texts are as embedded, with surrounding space trimmed; "" and nil mean unsaid. None of it is
// checked: it is what somebody once typed.
//
// Where several origins state one field, one rule decides: XMP before IPTC-IIM before Exif before PNG text; but IPTC-IIM comes first when the file
// holds a digest of it that doesn't match, since then a program that knows no XMP changed it last. This follows the IPTC's advice to prefer
// XMP and the Metadata Working Group's digest rule (both from memory); it departs from that group's guide in putting Exif last, because
// cameras and scanners fill Exif's description, artist and copyright with standing text. Every difference is listed.
type Embedded struct {
	Title           string
	Description     string
	Creators        []string
	Credit          string
	CopyrightNotice string
	UsageTerms      string
	WebStatement    string
	Keywords        []string
	// DateCreated is when the picture was made, as ISO 8601 as far as known: "2024", "2024-05", "2024-05-01T10:11:12+02:00".
	DateCreated string
	// Software made or last saved the file.
	Software string

	// Marked is XMP's statement that the work is under copyright (true) or in the public domain (false); nil when unsaid.
	Marked *bool
	// Licensors, in the order given (PLUS, at most three there).
	Licensors []Licensor
	// Identifier is XMP's dc:identifier.
	Identifier string
	// SourceType is IPTC's digital source type, a URI.
	SourceType string

	// GPS says that coordinates are embedded, Place that a place is named; both may have to be kept from outsiders.
	GPS, Place bool

	// Origins lists the kinds of metadata found, in order of precedence.
	Origins       []Origin
	Disagreements []Disagreement
	// Warnings name parts that couldn't be read.
	Warnings []string
}

// Licensor is one party that licenses the picture, as PLUS embeds it.
type Licensor struct{ Name, ID, URL, Email string }

// Disagreement is a field that several origins state differently. The first value is the one taken.
type Disagreement struct {
	Field  string
	Values []Statement
}

// Statement is one origin's value; lists are joined with "; ".
type Statement struct {
	Origin Origin
	Value  string
}

const (
	metaBytes = 128 << 20 // all that Metadata may read of one file
	metaReads = 2_000_000
	maxText   = 64 << 10 // of one text field
	maxIIM    = 4 << 20
)

// Metadata reads the embedded words of a JPEG, PNG, TIFF or WebP file of size bytes; other formats give an empty result with a warning. A
// part that is broken or beyond the bounds is left out with a warning, and the rest is read. The error is a *Fault for a file whose structure can't be
// followed to the end, or the reader's own; what was read before it is given too. Safe for concurrent use if r is.
func Metadata(ctx context.Context, r io.ReaderAt, size int64) (Embedded, error) {
	if size <= 0 {
		return Embedded{}, fault(ErrEmpty, rightCopy, "0 bytes")
	}
	w := newWindow(ctx, r, size, metaBytes, metaReads)
	magic, err := w.head(16)
	if err != nil {
		return Embedded{}, err
	}
	g := gathered{claims: claims{}}
	media := sniff(magic)
	switch media {
	case JPEG:
		err = walkJPEG(w, g.jpegSegment)
	case PNG:
		err = walkPNG(w, g.pngChunk)
	case TIFF:
		err = g.tiff(w)
	case WebP:
		err = walkRIFF(w, g.webpChunk)
	case "":
		return Embedded{}, fault(ErrUnknownFormat, rightExport, "the content begins with %q", magic)
	default:
		g.warn("metadata inside %s files isn't read", shortName(media))
	}
	if err != nil {
		err = fmt.Errorf("read metadata: %w", err)
	}
	return g.embedded(), err
}

// gathered collects the parts of one file while its container is walked.
type gathered struct {
	out     Embedded
	claims  claims
	bim     []byte // Photoshop resources, joined over segments
	iim     []byte
	digest  []byte // of the IIM, as a resource says
	packets int    // of XMP
	exif    bool
}

func (g *gathered) warn(format string, args ...any) {
	g.out.Warnings = append(g.out.Warnings, fmt.Sprintf(format, args...))
}

// try turns the fault of a part into a warning; other errors end the reading.
func (g *gathered) try(part string, err error) error {
	var f *Fault
	if errors.As(err, &f) {
		g.warn("%s left out: %v", part, f)
		return nil
	}
	return err
}

func (g *gathered) jpegSegment(marker byte, content *window) error {
	if marker != mAPP1 && marker != mAPP13 {
		return nil
	}
	b, err := content.at(0, content.size) // at most 64 KiB
	switch {
	case err != nil:
		return err
	case marker == mAPP13 && bytes.HasPrefix(b, []byte(bimPrefix)) && len(g.bim) < maxIIM:
		g.bim = append(g.bim, b[len(bimPrefix):]...)
	case marker == mAPP1 && bytes.HasPrefix(b, []byte(exifPrefix)):
		return g.exifBlock(content.part(int64(len(exifPrefix)), content.size))
	case marker == mAPP1 && bytes.HasPrefix(b, []byte(xmpPrefix)):
		return g.xmp(b[len(xmpPrefix):])
	case marker == mAPP1 && bytes.HasPrefix(b, []byte(xmpExtended)):
		if s := "XMP beyond the first 64 KiB isn't read"; len(g.out.Warnings) == 0 || g.out.Warnings[len(g.out.Warnings)-1] != s {
			g.warn("%s", s)
		}
	}
	return nil
}

func (g *gathered) webpChunk(kind string, content *window) error {
	switch kind {
	case "EXIF":
		b, err := content.head(int64(len(exifPrefix)))
		if err != nil {
			return err
		}
		if string(b) == exifPrefix {
			content = content.part(int64(len(exifPrefix)), content.size)
		}
		return g.exifBlock(content)
	case "XMP ":
		return g.xmpWindow(content)
	default:
		return nil
	}
}

func (g *gathered) xmpWindow(w *window) error {
	b, err := w.head(maxXMPBytes + 1)
	if err != nil {
		return err
	}
	return g.xmp(b)
}

func (g *gathered) xmp(packet []byte) error {
	g.packets++
	if g.packets > 1 {
		if g.packets == 2 {
			g.warn("several XMP packets: the first is read")
		}
		return nil
	}
	p, err := parseXMP(packet)
	if err != nil {
		return g.try("XMP", err)
	}
	g.fromXMP(p)
	return nil
}

// exifBlock reads the first Exif block of a file.
func (g *gathered) exifBlock(w *window) error {
	if g.exif {
		return nil
	}
	g.exif = true
	return g.try("Exif", func() error {
		d, err := openDirectories(w)
		if err != nil {
			return err
		}
		dir, _, _, err := d.read(d.first)
		if err != nil {
			return err
		}
		return g.fromExif(d, dir)
	}())
}

// tiff reads a TIFF file, whose first directory is its Exif block and holds the other kinds in fields.
func (g *gathered) tiff(w *window) error {
	d, err := openDirectories(w)
	if err != nil {
		return err
	}
	dir, _, _, err := d.read(d.first)
	if err != nil {
		return err
	}
	if err := g.try("Exif", g.fromExif(d, dir)); err != nil {
		return err
	}
	for _, part := range []struct {
		tag   uint16
		name  string
		limit int64
		take  func([]byte)
	}{
		{tagPhotoshop, "Photoshop resources", 64 << 20, func(b []byte) { g.bim = b }},
		{tagIIM, "IPTC-IIM", maxIIM, func(b []byte) { g.iim = b }},
		{tagXMP, "XMP", maxXMPBytes + 1, func(b []byte) { err = g.xmp(b) }},
	} {
		f, ok := dir[part.tag]
		if !ok {
			continue
		}
		b, readErr := d.raw(f, part.limit)
		if readErr = g.try(part.name, readErr); readErr != nil {
			return readErr
		}
		if b != nil {
			part.take(b)
		}
	}
	return err
}

// embedded settles what was gathered.
func (g *gathered) embedded() Embedded {
	g.resources()
	stale := false
	if g.iim != nil {
		g.fromIIM(g.iim)
		stale = g.digest != nil && !digestMatches(g.digest, g.iim)
		if stale {
			g.warn("IPTC-IIM was changed after its digest was taken: it goes before XMP")
		}
	}
	g.claims.settle(&g.out, stale)
	return g.out
}
