package iiif

import (
	"errors"
	"strings"
	"testing"

	"platarium/storage"
)

func parseSum(pic *pbPicture) (storage.Digest, error) {
	return storage.ParseDigest(pic.GetOriginal().GetSha256())
}

// Whatever is asked, an accepted request stays within picture and bounds, and its canonical form asks for the same and is its own.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{
		"full/max/0/default.jpg", "square/^max/!90/gray.png", "0,0,10,10/5,/180/color.jpg", "pct:10,20,30.5,40/pct:50/270/bitonal.png", "10,10,2000,2000/!30,40/0/default.jpg",
		"full/,7/360/default.jpg", "full/^!4000,4000/!0/default.jpg", "pct:0,0,0.0001,0.0001/max/0/default.jpg", "0,0,99999999999999999999,1/max/0/default.jpg", "full/^pct:99999999/0/default.jpg", "full/1,1/45/default.tif", "//../..",
	} {
		f.Add(seed, 1301, 1023, true)
		f.Add(seed, 1, 100000, false)
	}
	f.Fuzz(func(t *testing.T, path string, w, h int, three bool) {
		parts := strings.Split(path, "/")
		if len(parts) != 4 || w <= 0 || h <= 0 || w > 1<<20 || h > 1<<20 {
			return
		}
		version := apiVersion(2)
		if three {
			version = 3
		}
		req, err := parse(version, w, h, parts)
		var r *refusal
		if err != nil {
			if !errors.As(err, &r) || r.code != 400 {
				t.Fatalf("%q: %v", path, err)
			}
			return
		}
		if p := req.region; p.x < 0 || p.y < 0 || p.width <= 0 || p.height <= 0 || p.x+p.width > w || p.y+p.height > h {
			t.Fatalf("%q: region %+v of %d by %d", path, p, w, h)
		}
		if req.width <= 0 || req.height <= 0 || req.width > maxEdge || req.height > maxEdge || req.width*req.height > maxArea {
			t.Fatalf("%q: %d by %d", path, req.width, req.height)
		}
		canonical := req.canonical(false)
		again, err := parse(version, w, h, strings.Split(canonical, "/"))
		if err != nil {
			t.Fatalf("%q: canonical %q: %v", path, canonical, err)
		}
		if again.canonical(false) != canonical || again.region != req.region || again.width != req.width || again.height != req.height || again.mirror != req.mirror || again.degrees != req.degrees {
			t.Fatalf("%q: canonical %q is read as %+v and written %q", path, canonical, again, again.canonical(false))
		}
	})
}

func TestRightsURI(t *testing.T) {
	for in, want := range map[string]string{
		"https://creativecommons.org/licenses/by/4.0/":             "http://creativecommons.org/licenses/by/4.0/",
		"http://creativecommons.org/licenses/by-nc/3.0/de/deed.de": "http://creativecommons.org/licenses/by-nc/3.0/de/",
		"https://www.creativecommons.org/publicdomain/zero/1.0":    "http://creativecommons.org/publicdomain/zero/1.0/",
		"creativecommons.org/licenses/by-sa/4.0/legalcode":         "http://creativecommons.org/licenses/by-sa/4.0/",
		"https://rightsstatements.org/page/InC/1.0/":               "http://rightsstatements.org/vocab/InC/1.0/",
		"http://rightsstatements.org/vocab/NoC-US/1.0/":            "http://rightsstatements.org/vocab/NoC-US/1.0/",
		"": "", "all rights reserved": "", "https://fins.example/terms": "", "https://creativecommons.org/": "", "https://rightsstatements.org/en/": "",
	} {
		if got := rightsURI(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
