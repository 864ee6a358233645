package imaging

import (
	"bytes"
	"cmp"
	"strings"
	"unicode/utf8"
)

// fromXMP takes the statements of a packet.
func (g *gathered) fromXMP(p props) {
	c := g.claims
	c.say(FromXMP, fieldTitle, p.get(nsDC, "title").one())
	c.say(FromXMP, fieldDescription, p.get(nsDC, "description").one())
	c.say(FromXMP, fieldCreators, p.get(nsDC, "creator").all()...)
	c.say(FromXMP, fieldCredit, p.get(nsPhotoshop, "Credit").one())
	c.say(FromXMP, fieldCopyright, p.get(nsDC, "rights").one())
	c.say(FromXMP, fieldTerms, p.get(nsRights, "UsageTerms").one())
	c.say(FromXMP, fieldStatement, p.get(nsRights, "WebStatement").one())
	c.say(FromXMP, fieldKeywords, p.get(nsDC, "subject").all()...)
	c.say(FromXMP, fieldDate, xmpDate(cmp.Or(p.get(nsPhotoshop, "DateCreated").one(), p.get(nsExif, "DateTimeOriginal").one())))
	c.say(FromXMP, fieldSoftware, p.get(nsXMP, "CreatorTool").one())
	switch strings.ToLower(p.get(nsRights, "Marked").one()) {
	case "true":
		g.out.Marked = new(true)
	case "false":
		g.out.Marked = new(false)
	}
	g.out.Identifier = p.get(nsDC, "identifier").one()
	g.out.SourceType = p.get(nsIPTCExt, "DigitalSourceType").one()
	g.out.Licensors = licensors(p.get(nsPLUS, "Licensor"))
	g.out.GPS = g.out.GPS || p.get(nsExif, "GPSLatitude").one() != "" || p.get(nsExif, "GPSLongitude").one() != ""
	g.out.Place = g.out.Place || namesPlace(p)
}

// licensors reads the list of structures; some writers give one structure without a list.
func licensors(v node) []Licensor {
	items := v.items
	if items == nil {
		items = []node{v}
	}
	var out []Licensor
	for _, i := range items {
		get := func(name string) string { return i.get(nsPLUS, name).one() }
		l := Licensor{get("LicensorName"), get("LicensorID"), get("LicensorURL"), get("LicensorEmail")}
		if l != (Licensor{}) {
			out = append(out, l)
		}
	}
	return out
}

func namesPlace(p props) bool {
	for _, n := range [][2]string{
		{nsPhotoshop, "City"}, {nsPhotoshop, "State"}, {nsPhotoshop, "Country"}, {nsIPTCCore, "Location"}, {nsIPTCCore, "CountryCode"},
	} {
		if p.get(n[0], n[1]).one() != "" {
			return true
		}
	}
	return hasText(p.get(nsIPTCExt, "LocationCreated")) || hasText(p.get(nsIPTCExt, "LocationShown"))
}

func hasText(v node) bool {
	if tidy(v.text) != "" {
		return true
	}
	for _, i := range v.items {
		if hasText(i) {
			return true
		}
	}
	for _, f := range v.fields {
		if hasText(f) {
			return true
		}
	}
	return false
}

// Tags of the Exif and GPS directories (Exif 2.32).
const (
	tagDateTimeOriginal   = 0x9003
	tagOffsetTimeOriginal = 0x9011
	gpsLatitude           = 2
	gpsLongitude          = 4
)

// fromExif takes the statements of a TIFF or Exif directory and of the two directories below it.
func (g *gathered) fromExif(d *directories, dir directory) error {
	var text [4]string
	for i, tag := range []uint16{tagDescription, tagArtist, tagCopyright, tagSoftware} {
		s, err := d.text(dir[tag])
		if err != nil {
			return err
		}
		text[i] = s
	}
	g.claims.say(FromExif, fieldDescription, text[0])
	g.claims.say(FromExif, fieldCreators, splitNames(text[1])...)
	g.claims.say(FromExif, fieldCopyright, text[2])
	g.claims.say(FromExif, fieldSoftware, text[3])
	if gps, err := d.below(dir[tagGPS]); err != nil {
		return err
	} else if gps[gpsLatitude].count > 0 || gps[gpsLongitude].count > 0 {
		g.out.GPS = true
	}
	exif, err := d.below(dir[tagExif])
	if err != nil {
		return err
	}
	date, err := d.text(exif[tagDateTimeOriginal])
	if err != nil {
		return err
	}
	zone, err := d.text(exif[tagOffsetTimeOriginal])
	g.claims.say(FromExif, fieldDate, exifDate(date, zone))
	return err
}

// below reads the directory that a field points to; an absent field gives an empty one.
func (d *directories) below(f field) (directory, error) {
	off, err := d.uint(f, 0)
	if err != nil || off == 0 {
		return directory{}, err
	}
	dir, _, _, err := d.read(off)
	return dir, err
}

// text reads an ASCII field, which many writers fill with UTF-8. Zero bytes inside part several texts.
func (d *directories) text(f field) (string, error) {
	if f.kind != 2 && f.kind != 1 && f.kind != 7 || f.count == 0 {
		return "", nil
	}
	b, err := d.raw(f, maxText)
	if err != nil {
		return "", err
	}
	var parts []string
	for part := range bytes.SplitSeq(b, []byte{0}) {
		if s := tidy(byteText(part)); s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, "; "), nil
}

// byteText reads bytes of undeclared encoding: UTF-8 if they are that, else Latin-1.
func byteText(b []byte) string {
	if utf8.Valid(b) {
		return string(b)
	}
	return latin1(b)
}

// splitNames parts a list of names in one text, as Exif has it (common practice, no source).
func splitNames(s string) []string {
	var out []string
	for part := range strings.SplitSeq(s, ";") {
		if part = tidy(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}

// exifDate turns "2024:05:01 10:11:12" and an offset into ISO 8601; blanks and zeros mean unknown.
func exifDate(s, zone string) string {
	if len(s) < 10 || !digits(s[:4]) || s[:4] == "0000" {
		return ""
	}
	day := strings.ReplaceAll(s[:10], ":", "-")
	day = strings.TrimSuffix(strings.TrimSuffix(day, "-00"), "-00")
	if !digits(strings.ReplaceAll(day, "-", "")) {
		return ""
	}
	if len(s) >= 19 && len(day) == 10 && digits(strings.ReplaceAll(s[11:19], ":", "")) {
		return day + "T" + s[11:19] + zone
	}
	return day
}

// xmpDate gives XMP's date, which should be ISO 8601 already, but is written in Exif's way by some programs.
func xmpDate(s string) string {
	if len(s) >= 10 && s[4] == ':' && s[7] == ':' {
		return exifDate(s, "")
	}
	return s
}

func digits(s string) bool {
	return s != "" && strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }) < 0
}
