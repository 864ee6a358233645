package rights

import (
	"testing"
)

func TestURIsHaveOneForm(t *testing.T) {
	for _, c := range []struct {
		want  string
		given []string
	}{
		{"https://creativecommons.org/licenses/by/4.0/", []string{
			"https://creativecommons.org/licenses/by/4.0/", "http://creativecommons.org/licenses/by/4.0", "https://creativecommons.org/licenses/by/4.0/deed.de",
			"HTTPS://CreativeCommons.org/licenses/BY/4.0/legalcode", "https://www.creativecommons.org/licenses/by/4.0/deed#ref", " http://creativecommons.org//licenses/by/4.0/ ",
		}},
		{"https://creativecommons.org/licenses/by-nc-sa/3.0/de/", []string{"http://creativecommons.org/licenses/by-nc-sa/3.0/de/deed.en", "https://creativecommons.org/licenses/by-nc-sa/3.0/de"}},
		{"https://creativecommons.org/publicdomain/zero/1.0/", []string{"http://creativecommons.org/publicdomain/zero/1.0", "https://creativecommons.org/publicdomain/zero/1.0/deed.fr"}},
		{"http://rightsstatements.org/vocab/InC/1.0/", []string{"https://rightsstatements.org/vocab/InC/1.0/", "http://rightsstatements.org/page/InC/1.0/?language=de", "http://rightsstatements.org/vocab/InC/1.0"}},
		{"https://example.org/licenses/by/4.0", []string{"https://example.org/licenses/by/4.0"}},
		{"https://creativecommons.org/about", []string{"https://creativecommons.org/about"}},
		{"", []string{""}},
	} {
		for _, given := range c.given {
			if got := CanonicalURI(given); got != c.want {
				t.Errorf("%q became %q; want %q", given, got, c.want)
			}
		}
	}
}

func FuzzURIIsStable(f *testing.F) {
	for _, s := range []string{"https://creativecommons.org/licenses/by/4.0/deed.de", "http://rightsstatements.org/page/InC/1.0/?language=de", "http://creativecommons.org/licenses/deed/deed/deed/deed", "x"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		once := CanonicalURI(s)
		if again := CanonicalURI(once); again != once {
			t.Errorf("%q became %q and then %q", s, once, again)
		}
	})
}
