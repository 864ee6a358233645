package imaging

import (
	"encoding/xml"
	"errors"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"
)

const xmpHead = `<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="` + nsRDF + `" xmlns:dc="` + nsDC + `" xmlns:xmpRights="` + nsRights +
	`" xmlns:plus="` + nsPLUS + `" xmlns:photoshop="` + nsPhotoshop + `">`
const xmpFoot = `</rdf:RDF></x:xmpmeta>`

func packet(body string) string { return xmpHead + body + xmpFoot }

func TestXMPForms(t *testing.T) {
	title := xml.Name{Space: nsDC, Local: "title"}
	tests := map[string]struct{ body, want string }{
		"attribute":             {`<rdf:Description rdf:about="" dc:title="T"/>`, "T"},
		"element":               {`<rdf:Description><dc:title> T </dc:title></rdf:Description>`, "T"},
		"entity, CDATA":         {`<rdf:Description><dc:title>&lt;<![CDATA[&]]>&#x2014;</dc:title></rdf:Description>`, "<&—"},
		"comment inside":        {`<rdf:Description><dc:title>a<!-- no -->b</dc:title></rdf:Description>`, "ab"},
		"resource":              {`<rdf:Description><dc:title rdf:resource="urn:x"/></rdf:Description>`, "urn:x"},
		"alternative":           {`<rdf:Description><dc:title><rdf:Alt><rdf:li xml:lang="de">D</rdf:li><rdf:li xml:lang="x-default">T</rdf:li></rdf:Alt></dc:title></rdf:Description>`, "T"},
		"alternative, English":  {`<rdf:Description><dc:title><rdf:Alt><rdf:li xml:lang="de">D</rdf:li><rdf:li xml:lang="en-GB">E</rdf:li></rdf:Alt></dc:title></rdf:Description>`, "E"},
		"alternative, no match": {`<rdf:Description><dc:title><rdf:Alt><rdf:li xml:lang="de">D</rdf:li><rdf:li xml:lang="fr">F</rdf:li></rdf:Alt></dc:title></rdf:Description>`, "D"},
		"empty alternative":     {`<rdf:Description><dc:title><rdf:Alt/></dc:title></rdf:Description>`, ""},
		"qualified value":       {`<rdf:Description><dc:title rdf:parseType="Resource"><rdf:value>T</rdf:value><dc:type>q</dc:type></dc:title></rdf:Description>`, "T"},
		"qualified, long form":  {`<rdf:Description><dc:title><rdf:Description><rdf:value>T</rdf:value><dc:type>q</dc:type></rdf:Description></dc:title></rdf:Description>`, "T"},
		"second description":    {`<rdf:Description dc:type="x"/><rdf:Description dc:title="T"/>`, "T"},
		"first of two":          {`<rdf:Description dc:title="T"/><rdf:Description dc:title="U"/>`, "T"},
		"other prefix":          {`<rdf:Description xmlns:q="` + nsDC + `" q:title="T"/>`, "T"},
		"other namespace":       {`<rdf:Description xmlns:dc="urn:other" dc:title="T"/>`, ""},
		"unknown nodes":         {`<rdf:Bag><rdf:li>x</rdf:li></rdf:Bag><rdf:Description><dc:title><x:y>z</x:y>T</dc:title></rdf:Description>`, "T"},
	}
	for name, tt := range tests {
		p, err := parseXMP([]byte(packet(tt.body)))
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if got := p[title].one(); got != tt.want {
			t.Errorf("%s: %q, want %q", name, got, tt.want)
		}
	}
}

func TestXMPLicensors(t *testing.T) {
	want := []Licensor{{"Studio Tidewrack", "T-1", "https://example.org", ""}}
	const fields = `<plus:LicensorName>Studio Tidewrack</plus:LicensorName><plus:LicensorID>T-1</plus:LicensorID><plus:LicensorURL>https://example.org</plus:LicensorURL>`
	const attrs = `plus:LicensorName="Studio Tidewrack" plus:LicensorID="T-1" plus:LicensorURL="https://example.org"`
	for name, licensor := range map[string]string{
		"resource in list":    `<rdf:Seq><rdf:li rdf:parseType="Resource">` + fields + `</rdf:li></rdf:Seq>`,
		"description in list": `<rdf:Seq><rdf:li><rdf:Description>` + fields + `</rdf:Description></rdf:li></rdf:Seq>`,
		"attributes of item":  `<rdf:Seq><rdf:li ` + attrs + `/></rdf:Seq>`,
		"attributes inside":   `<rdf:Seq><rdf:li><rdf:Description ` + attrs + `/></rdf:li></rdf:Seq>`,
		"bag":                 `<rdf:Bag><rdf:li rdf:parseType="Resource">` + fields + `</rdf:li></rdf:Bag>`,
		"no list":             `<rdf:Description>` + fields + `</rdf:Description>`,
	} {
		p, err := parseXMP([]byte(packet(`<rdf:Description><plus:Licensor>` + licensor + `</plus:Licensor></rdf:Description>`)))
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if got := licensors(p.get(nsPLUS, "Licensor")); fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: %+v, want %+v", name, got, want)
		}
	}
}

func TestXMPEncodings(t *testing.T) {
	text := `<?xpacket begin="` + "\ufeff" + `" id="W5M0MpCehiHzreSzNTczkc9d"?>` + packet(`<rdf:Description dc:title="Bräms ✓ 𝄞"/>`) + `<?xpacket end="w"?>`
	wide := func(big bool, s string) string {
		var b []byte
		for _, u := range utf16.Encode([]rune(s)) {
			if big {
				b = append(b, byte(u>>8), byte(u))
			} else {
				b = append(b, byte(u), byte(u>>8))
			}
		}
		return string(b)
	}
	for name, s := range map[string]string{
		"UTF-8": text, "UTF-8 with mark": "\ufeff" + text, "padded": text + strings.Repeat(" ", 2000) + "\n\x00\x00",
		"UTF-16 BE": wide(true, "\ufeff"+text), "UTF-16 LE": wide(false, "\ufeff"+text), "UTF-16 BE without mark": wide(true, text),
		"declared": `<?xml version="1.0" encoding="UTF-8"?>` + packet(`<rdf:Description dc:title="Bräms ✓ 𝄞"/>`),
	} {
		p, err := parseXMP([]byte(s))
		if err != nil || p.get(nsDC, "title").one() != "Bräms ✓ 𝄞" {
			t.Errorf("%s: %q, %v", name, p.get(nsDC, "title").one(), err)
		}
	}
}

func TestXMPRefusals(t *testing.T) {
	deep := strings.Repeat("<dc:a>", 5000)
	many := "<rdf:Description "
	for i := range maxXMPAttrs + 1 {
		many += fmt.Sprintf(`dc:a%d="" `, i)
	}
	tests := map[string]struct {
		text string
		kind error
	}{
		"document type":      {`<!DOCTYPE r [<!ENTITY a "b">]>` + packet(""), ErrMalformed},
		"outside entity":     {`<!DOCTYPE r SYSTEM "file:///etc/passwd">` + packet(""), ErrMalformed},
		"late document type": {packet("") + `<!DOCTYPE r>`, ErrMalformed},
		"undefined entity":   {packet(`<rdf:Description dc:title="&xxe;"/>`), ErrMalformed},
		"deep":               {packet("<rdf:Description>" + deep), ErrTooBig},
		"deep outside RDF":   {deep, ErrTooBig},
		"many attributes":    {packet(many + "/>"), ErrTooBig},
		"many elements":      {packet("<rdf:Description>" + strings.Repeat("<dc:a/>", maxXMPElements+1) + "</rdf:Description>"), ErrTooBig},
		"huge":               {strings.Repeat(" ", maxXMPBytes+1), ErrTooBig},
		"other encoding":     {`<?xml version="1.0" encoding="EBCDIC"?>` + packet(""), ErrMalformed},
		"wrong bytes":        {packet("<rdf:Description dc:title=\"\xff\"/>"), ErrMalformed},
		"no RDF":             {"<x/>", ErrMalformed},
		"empty":              {"", ErrMalformed},
		"cut":                {xmpHead + "<rdf:Description>", ErrMalformed},
		"crossed":            {packet("<rdf:Description></dc:x>"), ErrMalformed},
	}
	for name, tt := range tests {
		_, err := parseXMP([]byte(tt.text))
		var f *Fault
		if !errors.Is(err, tt.kind) || !errors.As(err, &f) || f.Right == "" {
			t.Errorf("%s: %v, want %v with a remedy", name, err, tt.kind)
		}
	}
}

func TestSeveralPackets(t *testing.T) {
	b := fixture(t, "baseline.jpg")
	for _, title := range []string{"second", "first"} {
		b = withSegment(b, mAPP1, []byte(xmpPrefix+packet(`<rdf:Description dc:title="`+title+`"/>`)))
	}
	if e := metadata(t, b); e.Title != "first" || len(e.Warnings) != 1 {
		t.Errorf("title %q, warnings %q; want the first and one warning", e.Title, e.Warnings)
	}
}
