package storage

import (
	"fmt"
	"strings"
)

// CheckKey says whether key may name an object, wrapping ErrKey when not.
//
// Keys are slash-separated components of letters, digits, dot, hyphen, underscore and equals sign; a component is at most 255 bytes,
// isn't "." or "..", and does not begin with a dot; the whole is at most 900 bytes. This is what a folder on any system and
// every object store agree about. No key may also be another key's folder ("a" beside "a/b"), and no two keys may differ in case alone:
// some folders can't hold both, so adapters may refuse that, and callers never do it.
func CheckKey(key string) error {
	if key == "" || len(key) > 900 {
		return fmt.Errorf("%w: %d bytes long, want 1 to 900", ErrKey, len(key))
	}
	for part := range strings.SplitSeq(key, "/") {
		if err := checkComponent(part); err != nil {
			return fmt.Errorf("%w: %q: %w", ErrKey, key, err)
		}
	}
	return nil
}

// CheckPrefix says whether a key may begin with prefix, wrapping ErrKey when none can. The empty prefix is good; the last component may be
// unfinished or, after a slash, missing.
func CheckPrefix(prefix string) error {
	if prefix == "" || strings.HasSuffix(prefix, "/") {
		prefix += "x"
	}
	return CheckKey(prefix)
}

func checkComponent(part string) error {
	switch {
	case part == "":
		return fmt.Errorf("empty component")
	case len(part) > 255:
		return fmt.Errorf("component of %d bytes, want at most 255", len(part))
	case part[0] == '.':
		return fmt.Errorf("component %q begins with a dot", part)
	}
	for _, c := range []byte(part) {
		switch {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', '0' <= c && c <= '9', strings.IndexByte(".-_=", c) >= 0:
		default:
			return fmt.Errorf("character %q, want letters, digits and . - _ =", c)
		}
	}
	return nil
}
