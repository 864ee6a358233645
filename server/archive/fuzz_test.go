package archive

import (
	"encoding/base64"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// Whatever a date of making is, it is taken or refused; one that is taken has a year, or leaves one open, on each side.
func FuzzEDTF(f *testing.F) {
	for _, s := range []string{"", "1987", "1987-06-15", "198X", "19XX", "1987-XX", "1987~", "1987/1990", "../1990", "1987/..", "..", "/", "1987-13", "0000", "9999-12-31", "1987-06-XX%", "X", "1987/1990/2000"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var c checks
		c.edtf("created", s)
		if c.err() != nil || s == "" {
			return
		}
		from, to, interval := strings.Cut(s, "/")
		for _, part := range []string{from, to} {
			if (part == "" || part == "..") && interval {
				continue
			}
			if !interval && part == to {
				continue
			}
			if len(part) < 4 || strings.Trim(part, "0123456789-X?~%") != "" {
				t.Errorf("took %q", s)
			}
		}
	})
}

// Whatever a mask is, it is refused, or what it doesn't name and what the server owns stays as it was.
func FuzzMask(f *testing.F) {
	for _, s := range []string{"title", "*", "", ".", "a.b.c", "identification.taxon", "counts.formula", "counts.parsed", "calibration.x1", "name", "original.width", "structures.note", "title.title", "identification."} {
		f.Add(s)
	}
	old := rich()
	stamp(old, "pictures/fuzzed", 7, nil, newClock().read())
	f.Fuzz(func(t *testing.T, path string) {
		given := &pb.Picture{Title: "given", Name: "pictures/forged", Revision: 99, Etag: "99", Kind: pb.Kind_KIND_STUDY}
		_ = only(given, []string{path})
		next, err := overlay(old, given, []string{path}, nil)
		if next.GetName() != old.GetName() || next.GetRevision() != 7 || next.GetEtag() != "7" || !proto.Equal(next.GetCreateTime(), old.GetCreateTime()) {
			t.Errorf("%q changed what the server owns: %v", path, next)
		}
		if err != nil && !proto.Equal(next, old) {
			t.Errorf("%q is refused with %v, and changed something", path, err)
		}
		if path != "*" && path != "title" && next.GetTitle() != old.GetTitle() {
			t.Errorf("%q changed the title", path)
		}
	})
}

// Nothing opens the archive but the one secret, written in the one way.
func FuzzAuthenticate(f *testing.F) {
	s := newStudio(f)
	secret := s.key(f, &pb.Key{Role: pb.Role_ROLE_OWNER}, "only-key")
	id, random, _ := strings.Cut(secret, ".")
	for _, x := range []string{"", ".", id, random, id + ".", id + "." + base64.RawURLEncoding.EncodeToString(make([]byte, 32)), secret[:len(secret)-1], secret + "=", secret + "\n", strings.ToUpper(secret)} {
		f.Add(x)
	}
	f.Fuzz(func(t *testing.T, given string) {
		if _, err := s.Authenticate(given); err == nil && given != secret {
			t.Errorf("%q opens the archive", given)
		}
	})
}

// Whatever a resource name is, its parts make it again.
func FuzzSplitName(f *testing.F) {
	for _, s := range []string{"pictures/abcd", "taxa/T000001", "taxa/abcd", "pictures/", "/abcd", "pictures/ab/cd", "keys/a", "pictures/ABCD", "pictures/abc\x00", "nothing/abcd"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		collection, id, ok := SplitName(s)
		if ok && collection+"/"+id != s {
			t.Errorf("%q is %q and %q", s, collection, id)
		}
		if ok && strings.ContainsAny(id, "/\x00 #") {
			t.Errorf("%q is taken", s)
		}
	})
}
