package imaging

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// Bounds of one XMP packet. Real packets of finished pictures stay far below; editing histories make the largest.
const (
	maxXMPBytes    = 8 << 20
	maxXMPDepth    = 40
	maxXMPElements = 200_000
	maxXMPAttrs    = 512 // of one element
)

// Namespaces of XMP (ISO 16684-1) and of the properties read from it (IPTC Photo Metadata Standard 2024.1, PLUS LDF 2.0.1).
const (
	nsRDF       = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
	nsXML       = "http://www.w3.org/XML/1998/namespace"
	nsDC        = "http://purl.org/dc/elements/1.1/"
	nsXMP       = "http://ns.adobe.com/xap/1.0/"
	nsRights    = "http://ns.adobe.com/xap/1.0/rights/"
	nsPhotoshop = "http://ns.adobe.com/photoshop/1.0/"
	nsExif      = "http://ns.adobe.com/exif/1.0/"
	nsIPTCCore  = "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/"
	nsIPTCExt   = "http://iptc.org/std/Iptc4xmpExt/2008-02-29/"
	nsPLUS      = "http://ns.useplus.org/ldf/xmp/1.0/"
)

// node is one XMP value: a text, a list, or a structure.
type node struct {
	text   string
	lang   string            // of an item of an alternative by language
	items  []node            // of rdf:Seq, rdf:Bag and rdf:Alt
	fields map[xml.Name]node // of a structure
}

// props are the properties of a packet by name.
type props map[xml.Name]node

// parseXMP reads one packet: the subset of RDF/XML that XMP allows (ISO 16684-1, section 7). A document type, entities of its own, an encoding
// other than UTF-8 or UTF-16, and a packet beyond the bounds are refused.
func parseXMP(packet []byte) (props, error) {
	if len(packet) > maxXMPBytes {
		return nil, fault(ErrTooBig, "remove the editing history from the file", "XMP of %d bytes; at most %d are read", len(packet), maxXMPBytes)
	}
	text, err := xmpText(packet)
	if err != nil {
		return nil, err
	}
	d := xml.NewDecoder(strings.NewReader(text))
	d.CharsetReader = func(charset string, in io.Reader) (io.Reader, error) {
		if strings.HasPrefix(strings.ToLower(charset), "utf-16") { // xmpText has turned it into UTF-8
			return in, nil
		}
		return nil, fmt.Errorf("encoding %q", charset)
	}
	p := xmpParser{d: d, out: props{}}
	if err := p.document(); err != nil {
		var f *Fault
		if errors.As(err, &f) {
			return nil, err
		}
		return nil, fault(ErrMalformed, "write the metadata again with a program that follows ISO 16684-1", "XMP isn't sound XML: %v", err)
	}
	return p.out, nil
}

// xmpText gives the packet as UTF-8. Writers pad with zero bytes after the packet, which aren't XML.
func xmpText(b []byte) (string, error) {
	switch {
	case bytes.HasPrefix(b, []byte{0xfe, 0xff}), bytes.HasPrefix(b, []byte{0, '<'}):
		return strings.TrimPrefix(utf16Text(b, binary.BigEndian), "\ufeff"), nil
	case bytes.HasPrefix(b, []byte{0xff, 0xfe}), bytes.HasPrefix(b, []byte{'<', 0}):
		return strings.TrimPrefix(utf16Text(b, binary.LittleEndian), "\ufeff"), nil
	}
	b = bytes.TrimRight(bytes.TrimPrefix(b, []byte("\ufeff")), "\x00 \r\n\t")
	if !utf8.Valid(b) {
		return "", fault(ErrMalformed, "write the metadata as UTF-8", "XMP is neither UTF-8 nor UTF-16")
	}
	return string(b), nil
}

type xmpParser struct {
	d        *xml.Decoder
	out      props
	depth    int
	elements int
}

// next reads one token and keeps the bounds.
func (p *xmpParser) next() (xml.Token, error) {
	t, err := p.d.Token()
	if err != nil {
		return nil, err
	}
	switch t := t.(type) {
	case xml.Directive:
		return nil, fault(ErrMalformed, "remove the document type", "XMP holds a document type or another directive")
	case xml.StartElement:
		p.depth++
		p.elements++
		if p.depth > maxXMPDepth || p.elements > maxXMPElements || len(t.Attr) > maxXMPAttrs {
			return nil, fault(ErrTooBig, "write simpler metadata", "XMP beyond %d levels, %d elements or %d attributes", maxXMPDepth, maxXMPElements, maxXMPAttrs)
		}
	case xml.EndElement:
		p.depth--
	}
	return t, nil
}

// children calls each for every child element, and gives the text between. It ends with the parent's end.
func (p *xmpParser) children(each func(xml.StartElement) error) (string, error) {
	var text strings.Builder
	for {
		t, err := p.next()
		if err != nil {
			return "", err
		}
		switch t := t.(type) {
		case xml.CharData:
			text.Write(t)
		case xml.EndElement:
			return text.String(), nil
		case xml.StartElement:
			if err := each(t); err != nil {
				return "", err
			}
		}
	}
}

func (p *xmpParser) skip(xml.StartElement) error {
	_, err := p.children(p.skip)
	return err
}

// document finds rdf:RDF, at the top or in x:xmpmeta, and reads it. The whole document is read, so that what follows is checked too.
func (p *xmpParser) document() error {
	found := false
	var inside func(xml.StartElement) error
	inside = func(s xml.StartElement) error {
		if is(s.Name, nsRDF, "RDF") && !found {
			found = true
			_, err := p.children(p.description)
			return err
		}
		_, err := p.children(inside)
		return err
	}
	for {
		t, err := p.next()
		switch {
		case errors.Is(err, io.EOF) && found:
			return nil
		case errors.Is(err, io.EOF):
			return errors.New("no rdf:RDF in it")
		case err != nil:
			return err
		}
		if s, ok := t.(xml.StartElement); ok {
			if err := inside(s); err != nil {
				return err
			}
		}
	}
}

// description reads the properties of one rdf:Description. Properties given twice keep their first value.
func (p *xmpParser) description(s xml.StartElement) error {
	if !is(s.Name, nsRDF, "Description") {
		return p.skip(s)
	}
	return p.structure(s, p.out)
}

// structure reads properties given as attributes and as elements into fields.
func (p *xmpParser) structure(s xml.StartElement, fields map[xml.Name]node) error {
	attributes(s, fields)
	_, err := p.children(func(c xml.StartElement) error {
		v, err := p.property(c)
		if err != nil {
			return err
		}
		if _, ok := fields[c.Name]; !ok {
			fields[c.Name] = v
		}
		return nil
	})
	return err
}

// attributes takes the attributes that are properties, not syntax.
func attributes(s xml.StartElement, fields map[xml.Name]node) {
	for _, a := range s.Attr {
		switch a.Name.Space {
		case "", "xmlns", "xml", nsXML, nsRDF:
			continue
		}
		if _, ok := fields[a.Name]; !ok {
			fields[a.Name] = node{text: a.Value}
		}
	}
}

// property reads the value of a property element or list item.
func (p *xmpParser) property(s xml.StartElement) (node, error) {
	v := node{fields: map[xml.Name]node{}}
	resource := false
	for _, a := range s.Attr {
		switch {
		case is(a.Name, nsRDF, "resource"):
			v.text, resource = a.Value, true
		case is(a.Name, nsRDF, "parseType") && a.Value == "Resource":
			err := p.structure(s, v.fields)
			return v.settled(), err
		case a.Name.Local == "lang" && (a.Name.Space == nsXML || a.Name.Space == "xml"):
			v.lang = a.Value
		}
	}
	attributes(s, v.fields)
	text, err := p.children(func(c xml.StartElement) error { return p.content(c, &v) })
	if !resource && v.items == nil && len(v.fields) == 0 {
		v.text = text
	}
	return v.settled(), err
}

// content reads what stands inside a property: a list, a structure, or something XMP doesn't know.
func (p *xmpParser) content(c xml.StartElement, v *node) error {
	switch {
	case is(c.Name, nsRDF, "Seq"), is(c.Name, nsRDF, "Bag"), is(c.Name, nsRDF, "Alt"):
		_, err := p.children(func(li xml.StartElement) error {
			item, err := p.property(li)
			v.items = append(v.items, item)
			return err
		})
		return err
	case is(c.Name, nsRDF, "Description"):
		return p.structure(c, v.fields)
	default:
		return p.skip(c)
	}
}

// settled drops the qualifiers of a value: a structure with rdf:value is that value.
func (v node) settled() node {
	if value, ok := v.fields[xml.Name{Space: nsRDF, Local: "value"}]; ok {
		value.lang = v.lang
		return value
	}
	if len(v.fields) == 0 {
		v.fields = nil
	}
	return v
}

func is(n xml.Name, space, local string) bool { return n.Space == space && n.Local == local }

func (p props) get(space, local string) node { return p[xml.Name{Space: space, Local: local}] }

func (v node) get(space, local string) node { return v.fields[xml.Name{Space: space, Local: local}] }

// one gives a value as one text: of alternatives the default language, else English, else the first.
func (v node) one() string {
	if v.items == nil {
		return tidy(v.text)
	}
	best := ""
	for _, want := range []string{"x-default", "en", ""} {
		for _, item := range v.items {
			lang := strings.ToLower(item.lang)
			if best == "" && (want == "" || lang == want || strings.HasPrefix(lang, want+"-")) {
				best = item.one()
			}
		}
	}
	return best
}

// all gives a value as a list of texts without empty ones; a single text is a list of one.
func (v node) all() []string {
	items := v.items
	if items == nil {
		items = []node{v}
	}
	var out []string
	for _, item := range items {
		if s := item.one(); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// tidy trims space and zero bytes around embedded text; line breaks inside stay.
func tidy(s string) string { return strings.Trim(s, " \t\r\n\x00") }
