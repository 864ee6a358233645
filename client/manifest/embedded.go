package manifest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/bep/imagemeta"
)

// embedded is what a file says about itself, as far as it could be read.
type embedded struct {
	title, created string
	creators       []string
	camera         bool // a camera's make or exposure is recorded
}

// Bounds of reading one file's metadata.
const (
	metaTime  = 5 * time.Second
	metaTags  = 2000
	metaValue = 65535 // bytes of one value
)

// sniffPicture recognises picture formats by their first bytes: a name for people, and the format for reading metadata, 0 if that isn't read.
func sniffPicture(head []byte) (name string, format imagemeta.ImageFormat) {
	switch {
	case bytes.HasPrefix(head, []byte{0xFF, 0xD8, 0xFF}):
		return "JPEG", imagemeta.JPEG
	case bytes.HasPrefix(head, []byte("\x89PNG\r\n\x1a\n")):
		return "PNG", imagemeta.PNG
	case bytes.HasPrefix(head, []byte("II*\x00")), bytes.HasPrefix(head, []byte("MM\x00*")):
		return "TIFF", imagemeta.TIFF
	case bytes.HasPrefix(head, []byte("II+\x00")), bytes.HasPrefix(head, []byte("MM\x00+")):
		return "BigTIFF", 0
	case len(head) >= 12 && bytes.HasPrefix(head, []byte("RIFF")) && string(head[8:12]) == "WEBP":
		return "WebP", imagemeta.WebP
	case len(head) >= 12 && string(head[4:8]) == "ftyp":
		return "HEIF", 0
	case bytes.HasPrefix(head, []byte("GIF8")):
		return "GIF", 0
	case bytes.HasPrefix(head, []byte("8BPS")):
		return "PSD", 0
	case bytes.HasPrefix(head, []byte("%PDF-")), bytes.HasPrefix(head, []byte("%!PS")):
		return "PDF", 0
	default:
		return "", 0
	}
}

// readEmbedded reads what it can; a file that can't be understood says nothing.
func readEmbedded(r io.ReadSeeker, format imagemeta.ImageFormat) (e embedded) {
	rank := map[string]int{} // of the origin a field was taken from: XMP before IIM before Exif, as the server reads
	take := func(field string, origin imagemeta.Source, to *string, value string) {
		order := map[imagemeta.Source]int{imagemeta.XMP: 3, imagemeta.IPTC: 2, imagemeta.EXIF: 1}[origin]
		if value = strings.TrimSpace(value); value != "" && order > rank[field] {
			*to, rank[field] = value, order
		}
	}
	var creator string
	_, err := imagemeta.Decode(imagemeta.Options{
		R: r, ImageFormat: format, Sources: imagemeta.EXIF | imagemeta.IPTC | imagemeta.XMP, Timeout: metaTime, LimitNumTags: metaTags, LimitTagSize: metaValue,
		ShouldHandleTag: func(imagemeta.TagInfo) bool { return true },
		HandleTag: func(t imagemeta.TagInfo) error {
			switch t.Tag {
			case "Title", "ObjectName":
				take("title", t.Source, &e.title, textOf(t.Value))
			case "Creator", "Byline", "By-line", "Artist":
				take("creator", t.Source, &creator, textOf(t.Value))
			case "DateTimeOriginal", "CreateDate", "DateCreated":
				take("created", t.Source, &e.created, dayOf(t.Value))
			case "FNumber", "ExposureTime":
				e.camera = true
			}
			return nil
		},
	})
	if err != nil && !errors.Is(err, imagemeta.ErrStopWalking) {
		return e // what was read before the fault is kept
	}
	e.creators = parts(creator)
	return e
}

func textOf(v any) string {
	switch v := v.(type) {
	case string:
		return strings.ToValidUTF8(strings.Trim(v, "\x00"), "")
	case []string:
		return strings.Join(v, "; ")
	case []any:
		list := make([]string, len(v))
		for i := range v {
			list[i] = textOf(v[i])
		}
		return strings.Join(list, "; ")
	default:
		return fmt.Sprint(v)
	}
}

// dayOf reads the day of a date as metadata write it: 2019:04:30 10:11:12, 2019-04-30T10:11:12Z, 20190430, 2019-04.
func dayOf(v any) string {
	s := strings.TrimSpace(textOf(v))
	if len(s) == 8 && strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }) < 0 {
		s = s[:4] + "-" + s[4:6] + "-" + s[6:]
	}
	s = strings.ReplaceAll(s[:min(len(s), 10)], ":", "-")
	for _, n := range []int{10, 7, 4} {
		if len(s) < n {
			continue
		}
		if d, err := parseDate(s[:n]); err == nil && d > "1800" {
			return d
		}
	}
	return ""
}
