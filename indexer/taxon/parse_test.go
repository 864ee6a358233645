package taxon

import (
	"errors"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

func TestParseNames(t *testing.T) {
	for _, tc := range []struct {
		in, canonical, authors, note string // note is qualifier|label|near|tail
	}{
		{"Salmo trutta m. fario", "Salmo trutta m. fario", "", "|||"},
		{"Barbus barbus (L., 1758)", "Barbus barbus", "(L., 1758)", "|||"},
		{"Dicentrarchus labrax (Linnaeus,1758)Smith,1900", "Dicentrarchus labrax", "(Linnaeus, 1758) Smith, 1900", "|||"},
		{"Chaetodon auriga Forsskål in Niebuhr, 1775", "Chaetodon auriga", "Forsskål in Niebuhr, 1775", "|||"},
		{"Chaetodon auriga Fabricius [ex Forsskål], 1775", "Chaetodon auriga", "Fabricius ex Forsskål, 1775", "|||"},
		{"Knipowitschia caucasica (Berg [L. S.], 1916)", "Knipowitschia caucasica", "(L. S. Berg, 1916)", "|||"},
		{"Labeo rohita (Hamilton, [1822])", "Labeo rohita", "(Hamilton, [1822])", "|||"},
		{"Cobitis taenia Linnaeus 1758 s. l.", "Cobitis taenia", "Linnaeus, 1758", "||| s. l."},
		{"Notropis sp. “Invented”", "Notropis", "", "sp.|\"Invented\"||"},
		{"Cottus sp. A", "Cottus", "", "sp.|A||"},
		{"Aphyosemion sp. aff. australe", "Aphyosemion", "", "sp. aff.||australe|"},
		{"Corydoras aff. aeneus (Gill, 1858)", "Corydoras aeneus", "(Gill, 1858)", "aff.|||"},
		{"Lutjanus cf. L. griseus", "Lutjanus griseus", "", "cf.|||"},
		{"cf. Scorpaena porcus", "Scorpaena porcus", "", "cf.|||"},
		{"Sebastes (Sebastomus) cf. rosaceus Girard, 1854", "Sebastes rosaceus", "Girard, 1854", "cf.|||"},
		{"Sebastes (Sebastomus) Gill, 1864", "Sebastes subgen. Sebastomus", "Gill, 1864", "|||"},
		{"Lepomis macrochirus x L. gibbosus", "Lepomis macrochirus × Lepomis gibbosus", "", "|||"},
		{"Lepomis cyanellus × macrochirus", "Lepomis cyanellus × Lepomis macrochirus", "", "|||"},
		{"Anguilla anguilla, Linnaeus, 1758", "Anguilla anguilla", "Linnaeus, 1758", "|||"},
		{"Hippoglossus hippoglossus juvenile", "Hippoglossus hippoglossus", "", "||| juvenile"},
		{"Bathyraja smithii (Müller et Henle, 1841)", "Bathyraja smithii", "(Müller & Henle, 1841)", "|||"},
		{"Strongylura van Hasselt, 1824", "Strongylura", "van Hasselt, 1824", "|||"},
		{"Gasterosteus aculeatus species complex", "Gasterosteus aculeatus", "", "||| species complex"},
		{"Abies alba var. pendula (Carrière) Asch. & Graebn.", "Abies alba var. pendula", "(Carrière) Asch. & Graebn.", "|||"},
	} {
		n, err := Parse(tc.in)
		if err != nil {
			t.Errorf("%s: %v", tc.in, err)
			continue
		}
		note := strings.Join([]string{n.Annotation, n.Label, n.Near, n.Tail}, "|")
		if n.Canonical() != tc.canonical || n.Authorship() != tc.authors || note != tc.note {
			t.Errorf("%s:\n got %q %q %q\nwant %q %q %q", tc.in, n.Canonical(), n.Authorship(), note, tc.canonical, tc.authors, tc.note)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, s := range []string{"", "   ", "unidentified fish", "Incertae sedis", "123", "()", "van der Laan", "“", "gadus morhua", "Spring viraemia virus"} {
		if n, err := Parse(s); !errors.Is(err, ErrNotAName) || n.Genus != "" {
			t.Errorf("%q: %+v, %v", s, n, err)
		}
	}
	if _, err := Parse("Gadus morhua " + strings.Repeat("Linnaeus ", 200)); !errors.Is(err, ErrTooLong) {
		t.Errorf("long name: %v", err)
	}
}

func TestQuality(t *testing.T) {
	for s, want := range map[string]int{
		"Gadus morhua Linnaeus, 1758": 1, "Gadus  cf. morhua": 4, "Gadus morhüa": 2, "Gadus mor'hua": 3, "no name": 0, "Gadus morhua + more": 4,
	} {
		n, _ := Parse(s)
		if n.Quality() != want {
			t.Errorf("%s: quality %d, want %d (%v)", s, n.Quality(), want, n.Warnings)
		}
	}
}

// TestPrintedNamesParseAlike parses every published name, prints it and parses
// it again: nothing may change.
func TestPrintedNamesParseAlike(t *testing.T) {
	for _, r := range readTable(t, namesFile) {
		n, err := Parse(r["string"])
		if err != nil || n.Hybrid == HybridFormula || strings.ContainsRune(n.Canonical(), '*') {
			continue
		}
		again, err := Parse(n.String())
		if err != nil {
			t.Errorf("%q printed as %q: %v", r["string"], n.String(), err)
			continue
		}
		if n.Canonical() != again.Canonical() || n.Authorship() != again.Authorship() || n.Annotation != again.Annotation {
			t.Errorf("%q printed as %q: %q %q, then %q %q", r["string"], n.String(), n.Canonical(), n.Authorship(), again.Canonical(), again.Authorship())
		}
	}
}

// TestNoise feeds a mebibyte of noise, whole and in pieces of the longest length.
func TestNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const alphabet = "AaBbxX×.,;:&()[]'\"-*?0189 eéöæ\t\u3000αλβ†/<>&amp;sp.cf.var.exindevan"
	runes := []rune(alphabet)
	var b strings.Builder
	for b.Len() < 1<<20 {
		b.WriteRune(runes[r.IntN(len(runes))])
	}
	noise := b.String()
	if _, err := Parse(noise); !errors.Is(err, ErrTooLong) {
		t.Errorf("whole noise: %v", err)
	}
	for len(noise) > 0 {
		n := min(len(noise), MaxNameLength-1)
		for !utf8.ValidString(noise[:n]) {
			n--
		}
		if _, err := Parse("Gadus " + noise[6:n]); err != nil && !errors.Is(err, ErrNotAName) {
			t.Errorf("piece: %v", err)
		}
		noise = noise[n:]
		if len(noise) < 8 {
			break
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"Gadus morhua Linnaeus, 1758", "Aus bus × cus", "Aus (Bus) cf. cus (Dus & Eus in Fus, 1900)", "x Aus x bus", "Aus ((((", "Aus bus (D [E. F.], [185?])",
		"A. b × C", "Aus 12-bus", "Aus bus f. f. f.", "Aus sp. \"x\" y", "Aus bus var. δ. cus", "Aus\xff bus", "×", "Aus bus ex. ex. in in", "Aus bus v.d. v.d. L.", "Aus bus, , , 1900-1901:12.",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		start := time.Now()
		n, err := Parse(s)
		if err != nil {
			if n.Genus != "" || n.Verbatim != "" && n.Verbatim != s {
				t.Errorf("%q: error and a name: %+v", s, n)
			}
			return
		}
		if len(s) > MaxNameLength {
			t.Errorf("%d bytes accepted", len(s))
		}
		if n.Canonical() == "" || n.Verbatim != s {
			t.Errorf("%q: no canonical form: %+v", s, n)
		}
		_, _, _ = n.String(), n.Simple(), n.Quality()
		if took := time.Since(start); took > 5*time.Second {
			t.Errorf("%q took %v", s, took)
		}
	})
}

func FuzzAlignment(f *testing.F) {
	f.Add("gadus morhua", "gadus mohrua")
	f.Add("", "a")
	f.Add("abcabc", "bacacb")
	f.Fuzz(func(t *testing.T, a, b string) {
		if len(a) > 300 || len(b) > 300 {
			return
		}
		if got, want := newPattern(a).distance(b), alignment(a, b); got != want {
			t.Errorf("%q %q: %d, by table %d", a, b, got, want)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	rows := readTable(b, namesFile)
	for i := 0; b.Loop(); i++ {
		_, _ = Parse(rows[i%len(rows)]["string"])
	}
}
