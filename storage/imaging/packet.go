package imaging

import (
	"bytes"
	"cmp"
	"crypto/md5" // as the digest is defined; it tells a change, not a forgery
	"encoding/binary"
	"encoding/xml"
	"slices"
	"strings"
	"unicode/utf8"
)

// xmpPacket writes the texts of e as one read-only XMP packet (ISO 16684-1).
func xmpPacket(e Embedded) []byte {
	var b bytes.Buffer
	b.WriteString(`<?xpacket begin="` + "\ufeff" + `" id="W5M0MpCehiHzreSzNTczkc9d"?>` + "\n" + `<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="` +
		nsRDF + `"><rdf:Description rdf:about="" xmlns:dc="` + nsDC + `" xmlns:xmp="` + nsXMP + `" xmlns:xmpRights="` + nsRights +
		`" xmlns:photoshop="` + nsPhotoshop + `" xmlns:Iptc4xmpExt="` + nsIPTCExt + `" xmlns:plus="` + nsPLUS + `">` + "\n")
	one := func(name, v string) { element(&b, name, "", v) }
	list := func(name, kind string, items ...string) {
		if items = slices.DeleteFunc(slices.Clone(items), func(s string) bool { return s == "" }); len(items) == 0 {
			return
		}
		attr := ""
		if kind == "rdf:Alt" {
			attr = ` xml:lang="x-default"`
		}
		b.WriteString("<" + name + "><" + kind + ">")
		for _, item := range items {
			element(&b, "rdf:li", attr, item)
		}
		b.WriteString("</" + kind + "></" + name + ">\n")
	}
	list("dc:title", "rdf:Alt", e.Title)
	list("dc:description", "rdf:Alt", e.Description)
	list("dc:creator", "rdf:Seq", e.Creators...)
	list("dc:rights", "rdf:Alt", e.CopyrightNotice)
	list("dc:subject", "rdf:Bag", e.Keywords...)
	one("dc:identifier", e.Identifier)
	list("xmpRights:UsageTerms", "rdf:Alt", e.UsageTerms)
	one("xmpRights:WebStatement", e.WebStatement)
	if e.Marked != nil {
		one("xmpRights:Marked", map[bool]string{true: "True", false: "False"}[*e.Marked])
	}
	one("photoshop:Credit", e.Credit)
	one("photoshop:DateCreated", e.DateCreated)
	one("xmp:CreatorTool", e.Software)
	one("Iptc4xmpExt:DigitalSourceType", e.SourceType)
	if len(e.Licensors) > 0 {
		b.WriteString("<plus:Licensor><rdf:Seq>")
		for _, l := range e.Licensors {
			b.WriteString(`<rdf:li rdf:parseType="Resource">`)
			one("plus:LicensorName", l.Name)
			one("plus:LicensorID", l.ID)
			one("plus:LicensorURL", l.URL)
			one("plus:LicensorEmail", l.Email)
			b.WriteString("</rdf:li>")
		}
		b.WriteString("</rdf:Seq></plus:Licensor>\n")
	}
	b.WriteString("</rdf:Description></rdf:RDF></x:xmpmeta>\n" + `<?xpacket end="r"?>`)
	return b.Bytes()
}

func element(b *bytes.Buffer, name, attr, text string) {
	if text == "" {
		return
	}
	b.WriteString("<" + name + attr + ">")
	_ = xml.EscapeText(b, []byte(text)) // into memory
	b.WriteString("</" + name + ">")
}

// iimPacket writes what IPTC-IIM has fields for, cut to their limits.
func iimPacket(e Embedded) []byte {
	b := []byte{0x1c, 1, 90, 0, 3, 0x1b, '%', 'G', 0x1c, 2, 0, 0, 2, 0, 4} // UTF-8; version 4 of the record
	add := func(number byte, limit int, values ...string) {
		for _, v := range values {
			if v = cutText(v, limit); v != "" {
				b = append(binary.BigEndian.AppendUint16(append(b, 0x1c, 2, number), uint16(len(v))), v...)
			}
		}
	}
	limits := map[string]int{}
	for _, r := range fieldRules() {
		limits[r.name] = r.iimMax
	}
	add(5, limits[fieldTitle], e.Title)
	add(25, limits[fieldKeywords], e.Keywords...)
	day, clock := iimClock(e.DateCreated)
	add(55, 8, day)
	add(60, 11, clock)
	add(80, limits[fieldCreators], e.Creators...)
	add(110, limits[fieldCredit], e.Credit)
	add(116, limits[fieldCopyright], e.CopyrightNotice)
	add(120, limits[fieldDescription], e.Description)
	return b
}

func cutText(s string, limit int) string {
	if len(s) <= limit {
		return s
	}
	for limit > 0 && !utf8.RuneStart(s[limit]) {
		limit--
	}
	return s[:limit]
}

// iimClock turns an ISO 8601 date into IIM's date and time; what isn't known is "00", and a time without zone isn't given.
func iimClock(s string) (day, clock string) {
	date, _, _ := strings.Cut(s, "T")
	day = strings.ReplaceAll(date, "-", "")
	if !digits(day) || len(day) != 4 && len(day) != 6 && len(day) != 8 {
		return "", ""
	}
	local, zone := splitZone(s)
	_, clock, _ = strings.Cut(local, "T")
	clock = strings.ReplaceAll(clock, ":", "")
	zone = strings.ReplaceAll(zone, ":", "")
	if len(clock) != 6 || !digits(clock) || len(zone) != 5 {
		clock, zone = "", ""
	}
	return (day + "0000")[:8], clock + zone
}

// photoshopResources wraps an IIM block, with its digest, as JPEG carries it.
func photoshopResources(iim []byte) []byte {
	b := []byte(bimPrefix)
	add := func(id uint16, content []byte) {
		b = append(binary.BigEndian.AppendUint16(append(b, "8BIM"...), id), 0, 0)
		b = append(binary.BigEndian.AppendUint32(b, uint32(len(content))), content...)
		b = append(b, make([]byte, len(content)&1)...)
	}
	sum := md5.Sum(iim)
	add(resourceIIM, iim)
	add(resourceDigest, sum[:])
	return b
}

// outField is a field of a directory to be written, its value in the file's byte order.
type outField struct {
	tag, kind uint16
	count     uint64
	value     []byte
}

// exifPacket writes the few fields that a delivered JPEG or PNG keeps or gets.
func exifPacket(h Header, e Embedded) []byte {
	d := &directories{order: binary.LittleEndian}
	fields := textFields(e)
	fields = append(fields, outField{tagOrientation, 3, 1, d.number(2, uint64(h.Orientation))})
	if h.PPIX > 0 {
		fields = append(fields, d.ratio(tagXResolution, h.PPIX), d.ratio(tagYResolution, h.PPIY), outField{tagUnit, 3, 1, d.number(2, 2)})
	}
	return append([]byte("II*\x00\x08\x00\x00\x00"), d.encode(fields, 8, 0)...)
}

// textFields are the texts that Exif has fields for.
func textFields(e Embedded) []outField {
	var out []outField
	for tag, text := range map[uint16]string{
		tagDescription: e.Description, tagArtist: strings.Join(e.Creators, "; "), tagCopyright: e.CopyrightNotice, tagSoftware: e.Software,
	} {
		if text != "" {
			out = append(out, outField{tag, 2, uint64(len(text) + 1), append([]byte(text), 0)})
		}
	}
	return out
}

// number encodes v in size bytes.
func (d *directories) number(size int, v uint64) []byte {
	b := make([]byte, size)
	switch size {
	case 2:
		d.order.PutUint16(b, uint16(v))
	case 4:
		d.order.PutUint32(b, uint32(v))
	default:
		d.order.PutUint64(b, v)
	}
	return b
}

// ratio encodes a resolution to a ten-thousandth.
func (d *directories) ratio(tag uint16, v float64) outField {
	return outField{tag, 5, 1, append(d.number(4, uint64(min(v*10_000+0.5, 1<<32-1))), d.number(4, 10_000)...)}
}

// slot is the size of a count, offset or short value in an entry.
func (d *directories) slot() int {
	if d.big {
		return 8
	}
	return 4
}

// encode writes a directory that will stand at offset at, with its values behind it, and links it to next (or, if next is 1, to what follows it).
func (d *directories) encode(fields []outField, at, next uint64) []byte {
	slices.SortFunc(fields, func(a, b outField) int { return cmp.Compare(a.tag, b.tag) })
	slot := d.slot()
	head := map[int]int{4: 2, 8: 8}[slot]
	b := d.number(head, uint64(len(fields)))
	far := at + uint64(head+len(fields)*(4+2*slot)+slot)
	var values []byte
	for _, f := range fields {
		b = append(append(b, d.number(2, uint64(f.tag))...), d.number(2, uint64(f.kind))...)
		b = append(b, d.number(slot, f.count)...)
		if len(f.value) <= slot {
			b = append(b, f.value...)
			b = append(b, make([]byte, slot-len(f.value))...)
			continue
		}
		b = append(b, d.number(slot, far+uint64(len(values)))...)
		values = append(values, f.value...)
		values = append(values, make([]byte, len(f.value)&1)...)
	}
	if next == 1 {
		next = far + uint64(len(values))
	}
	return append(append(b, d.number(slot, next)...), values...)
}
