package scanfile

import (
	"encoding/xml"
	"strings"
)

// xmp writes an XMP packet.
func xmp(m Meta) []byte {
	var b strings.Builder
	b.WriteString("<?xpacket begin=\"\ufeff\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" +
		`<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">` +
		`<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/"` +
		` xmlns:xmpRights="http://ns.adobe.com/xap/1.0/rights/" xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/">` + "\n")
	list := func(name, kind string, vs ...string) {
		open := false
		for _, v := range vs {
			if v == "" {
				continue
			}
			if !open {
				b.WriteString("<" + name + "><rdf:" + kind + ">")
				open = true
			}
			lang := ""
			if kind == "Alt" {
				lang = ` xml:lang="x-default"`
			}
			b.WriteString("<rdf:li" + lang + ">" + escape(v) + "</rdf:li>")
		}
		if open {
			b.WriteString("</rdf:" + kind + "></" + name + ">\n")
		}
	}
	plain := func(name, v string) {
		if v != "" {
			b.WriteString("<" + name + ">" + escape(v) + "</" + name + ">\n")
		}
	}
	list("dc:title", "Alt", m.Title)
	list("dc:description", "Alt", m.Description)
	list("dc:creator", "Seq", m.Creator)
	list("dc:rights", "Alt", m.Copyright)
	list("dc:subject", "Bag", m.Keywords...)
	list("xmpRights:UsageTerms", "Alt", m.Usage)
	if m.Copyright != "" {
		plain("xmpRights:Marked", "True")
	}
	plain("xmpRights:WebStatement", m.WebStatement)
	plain("photoshop:Credit", m.Credit)
	plain("xmp:CreatorTool", m.Software)
	if !m.Created.IsZero() {
		plain("xmp:CreateDate", m.Created.UTC().Format("2006-01-02T15:04:05Z"))
	}
	b.WriteString("</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"w\"?>")
	return []byte(b.String())
}

func escape(s string) string {
	var b strings.Builder
	// EscapeText only fails if the writer does, and a Builder never does.
	_ = xml.EscapeText(&b, []byte(s))
	return b.String()
}

// iim writes IPTC IIM record 1 (character set UTF-8) and record 2. The limits
// are those of the standard, in bytes.
func iim(m Meta) []byte {
	var b []byte
	set := func(record, id byte, limit int, s string) {
		if s == "" {
			return
		}
		s = cut(s, limit)
		b = append(b, 0x1C, record, id, byte(len(s)>>8), byte(len(s)))
		b = append(b, s...)
	}
	set(1, 90, 32, "\x1b%G")
	set(2, 0, 2, "\x00\x04")
	set(2, 5, 64, m.Title)
	for _, k := range m.Keywords {
		set(2, 25, 64, k)
	}
	if !m.Created.IsZero() {
		set(2, 55, 8, m.Created.UTC().Format("20060102"))
	}
	set(2, 80, 32, m.Creator)
	set(2, 110, 32, m.Credit)
	set(2, 116, 128, m.Copyright)
	set(2, 120, 2000, m.Description)
	return b
}
