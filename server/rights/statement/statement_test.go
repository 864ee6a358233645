package statement

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"
)

func sample() map[string]any {
	return map[string]any{
		"archive": "a1", "picture": "pictures/perch-plate", "sequence": "12", "head": strings.Repeat("ab", 32),
		"title": "Barsch „Perca“ <b>&\"\\\b\t\n\f\r\x01\u2028", "entries": []any{map[string]any{"to": "2027", "from": "2026"}, []any{}},
	}
}

func sealed(t testing.TB) []byte {
	t.Helper()
	b, err := Seal(sample())
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestAStatementIsCanonicalAndComesBack(t *testing.T) {
	b := sealed(t)
	if !json.Valid(b) || !bytes.Contains(b, []byte(`"title":"Barsch „Perca“ <b>&\"\\\b\t\n\f\r\u0001`+"\u2028"+`"`)) || !bytes.Contains(b, []byte(`[{"from":"2026","to":"2027"},[]]`)) {
		t.Errorf("got %s", b)
	}
	mark, content, err := Check(b)
	if err != nil || mark.Sequence != 12 || mark.Archive != "a1" || mark.Picture != "pictures/perch-plate" || len(mark.Digest) != 64 || content["title"] != sample()["title"] {
		t.Errorf("read back as %+v, %v", mark, err)
	}
}

func TestWhatWasTouchedIsNoticed(t *testing.T) {
	for name, c := range map[string]struct {
		from, to string
		want     error
	}{
		"a word":        {"Barsch", "Zander", ErrDigest},
		"the head":      {"abab", "abac", ErrDigest},
		"the digest":    {`"digest":"sha256:`, `"digest":"sha512:`, ErrDigest},
		"space":         {`,"entries"`, `, "entries"`, ErrForm},
		"order":         {`"from":"2026","to":"2027"`, `"to":"2027","from":"2026"`, ErrForm},
		"a key twice":   {`"from":"2026",`, `"from":"2026","from":"2026",`, ErrForm},
		"an escape":     {"B", `\u0042`, ErrForm},
		"a number":      {`"sequence":"12"`, `"sequence":12`, ErrForm},
		"the format":    {"statement 1", "statement 2", ErrForm},
		"cut short":     {`"to":`, "", ErrForm},
		"no UTF-8":      {"Perca", "Per\xffca", ErrForm},
		"a second text": {`\u0001`, `\u0001"}{"`, ErrForm},
	} {
		b := bytes.Replace(sealed(t), []byte(c.from), []byte(c.to), 1)
		if _, _, err := Check(b); !errors.Is(err, c.want) {
			t.Errorf("%s: got %v; want %v", name, err, c.want)
		}
	}
	if _, _, err := Check(append(sealed(t), '\n')); !errors.Is(err, ErrForm) {
		t.Errorf("a line feed at the end gave %v", err)
	}
	for _, bad := range []any{1, true, nil, "\xff", []string{"x"}} {
		if _, err := Seal(map[string]any{"x": bad}); err == nil {
			t.Errorf("%#v was sealed", bad)
		}
	}
}

// FuzzCheck: what passes is sealed the same way again, byte for byte.
func FuzzCheck(f *testing.F) {
	f.Add(sealed(f))
	f.Add([]byte(`{"format":"platarium statement 1"}`))
	f.Add([]byte(`{"digest":"","format":"platarium statement 1","head":"","sequence":"1"}`))
	f.Add([]byte("[]"))
	f.Fuzz(func(t *testing.T, b []byte) {
		_, content, err := Check(b)
		if err != nil {
			if !errors.Is(err, ErrForm) && !errors.Is(err, ErrDigest) {
				t.Errorf("error of no kind: %v", err)
			}
			return
		}
		again, err := Seal(content)
		if err != nil || !bytes.Equal(again, b) {
			t.Errorf("sealed again: %v, %s", err, again)
		}
	})
}

func TestAMarkNamesItsSubject(t *testing.T) {
	for key, name := range map[string]string{"picture": "pictures/perch-plate", "grant": "grants/book", "party": "parties/reed-press"} {
		b, err := Seal(map[string]any{"archive": "a1", key: name, "sequence": "12", "head": strings.Repeat("ab", 32)})
		if err != nil {
			t.Fatal(err)
		}
		mark, _, err := Check(b)
		if err != nil || mark.Subject() != name || map[string]string{"picture": mark.Picture, "grant": mark.Grant, "party": mark.Party}[key] != name {
			t.Errorf("%s: read back as %+v, %v", key, mark, err)
		}
	}
}
