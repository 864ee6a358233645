package imaging

import (
	"bytes"
	"context"
	"encoding/binary"
	"io"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

const unnamedProfile = "unnamed"

// profileName reads the description of an ICC profile (ICC.1: header of 128 bytes, a table of tags, 'desc' as 'desc' or 'mluc'). It reads those
// few bytes only, however large the profile is.
func profileName(w *window) string {
	b, err := w.at(128, 4)
	if err != nil {
		return unnamedProfile
	}
	n := min(int64(binary.BigEndian.Uint32(b)), 200) // real profiles have some 10 to 30
	table, err := w.at(132, n*12)
	if err != nil {
		return unnamedProfile
	}
	for ; len(table) >= 12; table = table[12:] {
		if string(table[:4]) != "desc" {
			continue
		}
		off, size := binary.BigEndian.Uint32(table[4:]), binary.BigEndian.Uint32(table[8:])
		desc, err := w.part(int64(off), min(int64(size), 8<<10)).head(8 << 10)
		if err != nil {
			return unnamedProfile
		}
		if name := cleanText(profileText(desc)); name != "" {
			return name
		}
	}
	return unnamedProfile
}

// maxProfile bounds the color profile that is taken over into a cut, bytes. Printers' profiles have some 0.5 to 3 MiB.
const maxProfile = 16 << 20

// readProfile gives the color profile of a file, or nil: where there is none, and where it can't be read, which Probe has remarked on.
func readProfile(ctx context.Context, r io.ReaderAt, size int64, h Header) []byte {
	if h.ICCProfile == "" {
		return nil
	}
	w := newWindow(ctx, r, size, probeBytes+maxProfile, probeReads)
	var found *window
	var err error
	switch h.MediaType {
	case JPEG:
		var p pieces
		err = walkJPEG(w, func(marker byte, content *window) error {
			if marker != mAPP2 {
				return nil
			}
			return p.add(content)
		})
		found = p.window(w)
	case PNG:
		return pngProfile(w)
	case TIFF:
		var d *directories
		if d, err = openDirectories(w); err == nil {
			var dir directory
			if dir, _, _, err = d.read(d.first); err == nil {
				found = d.where(dir[tagICC])
			}
		}
	default:
		return nil
	}
	if err != nil || found.size < 128 || found.size > maxProfile {
		return nil
	}
	if b, err := found.at(0, found.size); err == nil {
		return b
	}
	return nil
}

func pngProfile(w *window) (profile []byte) {
	_ = walkPNG(w, func(kind string, content *window) error { // what is amiss elsewhere is none of the profile's
		if kind != "iCCP" || profile != nil {
			return nil
		}
		b, err := content.head(maxProfile)
		_, rest, ok := bytes.Cut(b, []byte{0})
		if err != nil || !ok || len(rest) < 1 {
			return err
		}
		if data, err := inflate(rest[1:], maxProfile); err == nil && len(data) >= 128 {
			profile = data
		}
		return nil
	})
	return profile
}

func profileText(b []byte) string {
	if len(b) < 16 {
		return ""
	}
	switch string(b[:4]) {
	case "desc": // version 2: ASCII with a count
		n := min(int64(binary.BigEndian.Uint32(b[8:])), int64(len(b)-12))
		s, _, _ := bytes.Cut(b[12:12+n], []byte{0})
		return string(s)
	case "mluc": // version 4: several languages in UTF-16; the first will do
		if len(b) < 28 {
			return ""
		}
		size, off := int64(binary.BigEndian.Uint32(b[20:])), int64(binary.BigEndian.Uint32(b[24:]))
		if off > int64(len(b)) || size > int64(len(b))-off {
			return ""
		}
		return utf16Text(b[off:off+size], binary.BigEndian)
	default:
		return ""
	}
}

func utf16Text(b []byte, order binary.ByteOrder) string {
	u := make([]uint16, len(b)/2)
	for i := range u {
		u[i] = order.Uint16(b[2*i:])
	}
	return string(utf16.Decode(u))
}

// cleanText makes embedded text fit to be shown on one line: valid UTF-8, no control characters, no surrounding space, at most 1,000 bytes.
func cleanText(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == utf8.RuneError {
			return -1
		}
		return r
	}, s)
	s = strings.TrimSpace(s)
	if len(s) > 1000 {
		s = strings.ToValidUTF8(s[:1000], "")
	}
	return s
}
