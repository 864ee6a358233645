package manifest

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// ErrUnusable means that the table as a whole can't be read. The caller mends what the text says.
var ErrUnusable = errors.New("manifest can't be used")

func unusable(name, format string, args ...any) error {
	return fmt.Errorf("%w: %s: %s", ErrUnusable, name, fmt.Sprintf(format, args...))
}

// Encodings lists the names that Options.Encoding takes.
func Encodings() []string { return []string{"utf-8", "utf-16", "windows-1252", "latin-1"} }

func decoderOf(name string) (encoding.Encoding, bool) {
	switch strings.ToLower(name) {
	case "utf-8", "utf8", "":
		return nil, true
	case "utf-16", "utf16":
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), true
	case "windows-1252", "cp1252":
		return charmap.Windows1252, true
	case "latin-1", "latin1", "iso-8859-1":
		return charmap.ISO8859_1, true
	}
	return nil, false
}

// decodeText turns a file's bytes into UTF-8 text without a byte order mark. Without a named encoding only UTF-8 is taken: a wrong guess would spoil names
// without anybody noticing.
func decodeText(name string, data []byte, encodingName string) (string, error) {
	enc, ok := decoderOf(encodingName)
	if !ok {
		return "", unusable(name, "found encoding %q; want one of %s", encodingName, strings.Join(Encodings(), ", "))
	}
	if enc != nil {
		if wide := looksWide(data); wide != strings.HasPrefix(strings.ToLower(encodingName), "utf") {
			return "", unusable(name, "it isn't in the encoding %s; want the one in which it was saved, or none to have it recognised", encodingName)
		}
		text, err := enc.NewDecoder().Bytes(data)
		if err != nil {
			return "", unusable(name, "it isn't in the encoding %s: %s", encodingName, err)
		}
		return strings.TrimPrefix(string(text), "\ufeff"), nil
	}
	if looksWide(data) {
		return "", unusable(name, `it is in UTF-16, as "Unicode text" from a spreadsheet is; save it as "CSV UTF-8", or say --encoding utf-16`)
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if at := invalidUTF8(data); at >= 0 {
		line := 1 + bytes.Count(data[:at], []byte("\n"))
		return "", unusable(name, `line %d holds byte 0x%02X, which isn't UTF-8; it was probably saved in Windows-1252 or Latin-1: save it as "CSV UTF-8", or say --encoding windows-1252`, line, data[at])
	}
	return string(data), nil
}

// looksWide recognises UTF-16 by its mark, or by the zero bytes that every second letter brings.
func looksWide(data []byte) bool {
	if bytes.HasPrefix(data, []byte{0xFF, 0xFE}) || bytes.HasPrefix(data, []byte{0xFE, 0xFF}) {
		return true
	}
	head := data[:min(len(data), 1000)]
	return len(head) >= 4 && bytes.Count(head, []byte{0}) > len(head)/4
}

func invalidUTF8(data []byte) int {
	for i := 0; i < len(data); {
		if data[i] < utf8.RuneSelf {
			i++
			continue
		}
		r, size := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return -1
}
