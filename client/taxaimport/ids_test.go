package taxaimport

import (
	"regexp"
	"testing"
)

func TestOwnID(t *testing.T) {
	for _, c := range []struct{ list, id, want string }{
		{"Reef fishes", "17", "reef-fishes-17"},
		{"Reef fishes", "a-1", "reef-fishes-a-1"},
		{"a very long name of a list that goes on and on", "7", "a-very-long-name-of-a-list-tha-7"},
	} {
		if got := ownID(c.list, c.id); got != c.want {
			t.Errorf("%q of %q: %s, want %s", c.id, c.list, got, c.want)
		}
	}
	seen := map[string][2]string{}
	for _, list := range []string{"reef fishes", "reef", "魚", "", "x"} {
		for _, id := range []string{"1", "S1", "s1", "urn:lsid:invented:1", "implied family Fictidae", "-", "a-", "ä", ""} {
			got := ownID(list, id)
			if other, double := seen[got]; double {
				t.Errorf("%q of %q and %q have one id %s", id, list, other, got)
			}
			seen[got] = [2]string{list, id}
		}
	}
}

// archiveID is what the archive takes for the id of a studio's own taxon.
var archiveID = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{2,61}[a-z0-9]$`)

func FuzzOwnID(f *testing.F) {
	f.Add("reef fishes", "17")
	f.Add("", "")
	f.Add("x", "y")
	f.Add("--", "a--b")
	f.Add("ﬁsh list of a very long name indeed", "urn:lsid:1")
	f.Fuzz(func(t *testing.T, list, id string) {
		got := ownID(list, id)
		if !archiveID.MatchString(got) {
			t.Errorf("%q of %q: the archive wouldn't take %q", id, list, got)
		}
		if got != ownID(list, id) {
			t.Errorf("%q of %q: not the same twice", id, list)
		}
	})
}
