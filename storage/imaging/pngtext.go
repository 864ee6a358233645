package imaging

import (
	"bytes"
	"strings"
)

// pngField names the field of Embedded that a keyword of PNG's own text chunks (PNG specification, section 11.3.3) states, or "".
func pngField(keyword string) string {
	switch keyword {
	case "Title":
		return fieldTitle
	case "Author":
		return fieldCreators
	case "Description":
		return fieldDescription
	case "Copyright":
		return fieldCopyright
	case "Software":
		return fieldSoftware
	default:
		return ""
	}
}

const xmpKeyword = "XML:com.adobe.xmp"

func (g *gathered) pngChunk(kind string, content *window) error {
	switch kind {
	case "eXIf":
		return g.exifBlock(content)
	case "tEXt", "zTXt", "iTXt":
	default:
		return nil
	}
	b, err := content.head(maxXMPBytes + 1024)
	if err != nil {
		return err
	}
	key, rest, _ := bytes.Cut(b, []byte{0})
	keyword := string(key)
	if strings.HasPrefix(keyword, "Raw profile type ") && keyword != "Raw profile type icc" {
		g.warn("metadata in the PNG text %q isn't read", cleanText(keyword))
		return nil
	}
	if keyword != xmpKeyword && pngField(keyword) == "" {
		return nil
	}
	limit := int64(maxText)
	if keyword == xmpKeyword {
		limit = maxXMPBytes + 1
	}
	text, ok := pngText(kind, rest, limit)
	switch {
	case !ok:
		g.warn("the PNG text %q can't be read", cleanText(keyword))
	case keyword == xmpKeyword:
		return g.xmp(text)
	case kind == "iTXt":
		g.claims.say(FromPNG, pngField(keyword), tidy(strings.ToValidUTF8(string(text), "")))
	default:
		g.claims.say(FromPNG, pngField(keyword), tidy(byteText(text)))
	}
	return nil
}

// pngText gives the text after the keyword, expanded to at most limit bytes.
func pngText(kind string, b []byte, limit int64) ([]byte, bool) {
	compressed := kind == "zTXt"
	switch {
	case kind == "iTXt": // flag, method, language, translated keyword, text
		if len(b) < 2 {
			return nil, false
		}
		compressed = b[0] == 1
		parts := bytes.SplitN(b[2:], []byte{0}, 3)
		if len(parts) < 3 {
			return nil, false
		}
		b = parts[2]
	case compressed: // method, text
		if len(b) < 1 {
			return nil, false
		}
		b = b[1:]
	}
	if !compressed {
		return b[:min(int64(len(b)), limit)], true
	}
	text, err := inflate(b, limit)
	return text, err == nil
}
