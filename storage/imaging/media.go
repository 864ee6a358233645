package imaging

import (
	"bytes"
	"fmt"
	"path"
	"slices"
	"strings"
)

// Media types that Probe recognises by content.
const (
	JPEG = "image/jpeg"
	PNG  = "image/png"
	TIFF = "image/tiff"
	WebP = "image/webp"
	GIF  = "image/gif"
	PSD  = "image/vnd.adobe.photoshop" // kept, no preview
	PDF  = "application/pdf"           // kept, no preview
	HEIC = "image/heic"                // kept, no preview
	AVIF = "image/avif"                // kept, no preview
)

// extensions lists the file name endings of each media type, the usual one first.
var extensions = map[string][]string{
	JPEG: {".jpg", ".jpeg", ".jpe", ".jfif"},
	PNG:  {".png"},
	TIFF: {".tif", ".tiff", ".btf", ".tf8"},
	WebP: {".webp"},
	GIF:  {".gif"},
	PSD:  {".psd", ".psb"},
	PDF:  {".pdf", ".ai"},
	HEIC: {".heic", ".heif", ".hif"},
	AVIF: {".avif"},
}

// Extension gives the usual file name ending of a media type, or "".
func Extension(mediaType string) string {
	if e := extensions[mediaType]; len(e) > 0 {
		return e[0]
	}
	return ""
}

// shortName is what people call the format.
func shortName(mediaType string) string {
	return strings.ToUpper(strings.TrimPrefix(Extension(mediaType), "."))
}

// Mislabelled compares the file name's ending with the content. The answer is empty when they agree, else one sentence with the remedy. An
// ending that belongs to no picture format at all counts as disagreeing too.
func (h Header) Mislabelled(name string) string {
	ext := strings.ToLower(path.Ext(strings.ReplaceAll(name, `\`, "/")))
	if h.MediaType == "" || slices.Contains(extensions[h.MediaType], ext) {
		return ""
	}
	said := "has no known ending"
	for media, exts := range extensions {
		if slices.Contains(exts, ext) {
			said = "is named as " + shortName(media)
		}
	}
	return fmt.Sprintf("%q %s but its content is %s: rename it to end in %s", name, said, shortName(h.MediaType), Extension(h.MediaType))
}

// sniff names the media type that the first bytes (16 suffice) announce, or "".
func sniff(b []byte) string {
	switch {
	case bytes.HasPrefix(b, []byte("\xff\xd8\xff")):
		return JPEG
	case bytes.HasPrefix(b, []byte(pngMagic)):
		return PNG
	case bytes.HasPrefix(b, []byte("II*\x00")), bytes.HasPrefix(b, []byte("MM\x00*")),
		bytes.HasPrefix(b, []byte("II+\x00")), bytes.HasPrefix(b, []byte("MM\x00+")):
		return TIFF
	case len(b) >= 12 && string(b[:4]) == "RIFF" && string(b[8:12]) == "WEBP":
		return WebP
	case bytes.HasPrefix(b, []byte("GIF87a")), bytes.HasPrefix(b, []byte("GIF89a")):
		return GIF
	case bytes.HasPrefix(b, []byte("8BPS")):
		return PSD
	case bytes.HasPrefix(b, []byte("%PDF-")):
		return PDF
	case len(b) >= 12 && string(b[4:8]) == "ftyp":
		return sniffBrand(string(b[8:12]))
	default:
		return ""
	}
}

// sniffBrand tells the still-picture brands of ISO base media files (from memory) from films, which are no pictures.
func sniffBrand(brand string) string {
	switch brand {
	case "avif", "avis":
		return AVIF
	case "heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1":
		return HEIC
	default:
		return ""
	}
}
