package imaging

import (
	"bytes"
	"crypto/md5" // as the digest is defined; it tells a change, not a forgery
	"encoding/binary"
	"strings"
	"unicode/utf8"
)

// Photoshop image resources (from memory of the published specification).
const (
	resourceIIM    = 0x0404
	resourceDigest = 0x0425
)

// resources picks IIM and its digest out of the Photoshop resources. In TIFF the IIM has a field of its own, which goes first.
func (g *gathered) resources() {
	for b := g.bim; len(b) >= 12 && string(b[:4]) == "8BIM"; {
		id := binary.BigEndian.Uint16(b[4:])
		name := 1 + int(b[6])
		name += name & 1
		if len(b) < 6+name+4 {
			g.warn("Photoshop resources are cut short")
			return
		}
		size := int64(binary.BigEndian.Uint32(b[6+name:]))
		b = b[6+name+4:]
		if size > int64(len(b)) {
			g.warn("Photoshop resources are cut short")
			return
		}
		switch {
		case id == resourceIIM && g.iim == nil && size <= maxIIM:
			g.iim = b[:size]
		case id == resourceDigest && size == md5.Size:
			g.digest = b[:size]
		}
		b = b[min(size+size&1, int64(len(b))):]
	}
}

// digestMatches compares with and without the zero bytes with which TIFF pads the block to whole words of four.
func digestMatches(digest, iim []byte) bool {
	for pad := range 4 {
		if n := len(iim) - pad; n >= 0 && len(bytes.Trim(iim[n:], "\x00")) == 0 {
			sum := md5.Sum(iim[:n])
			if bytes.Equal(sum[:], digest) {
				return true
			}
		}
	}
	return false
}

const maxDatasets = 10_000

// fromIIM takes the statements of an IPTC-IIM block (IIM 4.2, from memory): a row of records and numbers with their bytes.
func (g *gathered) fromIIM(b []byte) {
	values := map[int][]string{} // by record*1000 + number
	isUTF8 := false
	n := 0
	for b = bytes.TrimLeft(b, "\x00"); len(b) >= 5 && b[0] == 0x1c && n < maxDatasets; n++ {
		id := int(b[1])*1000 + int(b[2])
		size := int(binary.BigEndian.Uint16(b[3:]))
		if b = b[5:]; size >= 0x8000 || size > len(b) { // extended sizes exist for embedded objects only
			g.warn("IPTC-IIM is cut short")
			break
		}
		if id == 1090 {
			isUTF8 = string(b[:size]) == "\x1b%G"
		} else {
			values[id] = append(values[id], string(b[:size]))
		}
		b = b[size:]
	}
	text := func(id int) (out []string) {
		for _, v := range values[id] {
			if s := tidy(iimText(v, isUTF8)); s != "" {
				out = append(out, s)
			}
		}
		return out
	}
	one := func(id int) string { return strings.Join(text(id)[:min(1, len(text(id)))], "") }
	c := g.claims
	c.say(FromIIM, fieldTitle, one(2005))
	c.say(FromIIM, fieldKeywords, text(2025)...)
	c.say(FromIIM, fieldDate, iimDate(one(2055), one(2060)))
	c.say(FromIIM, fieldSoftware, tidy(one(2065)+" "+one(2070)))
	c.say(FromIIM, fieldCreators, text(2080)...)
	c.say(FromIIM, fieldCredit, one(2110))
	c.say(FromIIM, fieldCopyright, one(2116))
	c.say(FromIIM, fieldDescription, one(2120))
	for _, place := range []int{2090, 2092, 2095, 2100, 2101} {
		g.out.Place = g.out.Place || one(place) != ""
	}
}

// iimText reads by the declared encoding; undeclared bytes are UTF-8 if they are that, else Latin-1. A character cut off at a field's limit is
// dropped.
func iimText(s string, isUTF8 bool) string {
	if isUTF8 {
		return strings.ToValidUTF8(s, "")
	}
	for cut := range min(utf8.UTFMax, len(s)) {
		whole, tail := s[:len(s)-cut], s[len(s)-cut:]
		if utf8.ValidString(whole) && (tail == "" || !utf8.FullRuneInString(tail)) {
			return whole
		}
	}
	return latin1([]byte(s))
}

// iimDate turns "20240501" and "101112+0200" into ISO 8601; "00" for month or day means unknown.
func iimDate(day, clock string) string {
	if len(day) != 8 || !digits(day) || day[:4] == "0000" {
		return ""
	}
	date := day[:4]
	if day[4:6] == "00" {
		return date
	}
	date += "-" + day[4:6]
	if day[6:] == "00" {
		return date
	}
	date += "-" + day[6:]
	if len(clock) < 6 || !digits(clock[:6]) {
		return date
	}
	date += "T" + clock[:2] + ":" + clock[2:4] + ":" + clock[4:6]
	if len(clock) == 11 && (clock[6] == '+' || clock[6] == '-') && digits(clock[7:]) {
		date += clock[6:9] + ":" + clock[9:]
	}
	return date
}
