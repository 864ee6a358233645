package imaging

import (
	"bytes"
	"encoding/binary"
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
