// Package territory knows the places that a grant can name, and the algebra of
// sets of them: countries (ISO 3166-1 alpha-2), their subdivisions (ISO 3166-2),
// UN M49 groups, WORLD, and the European Union and the European Economic Area as
// at a day.
//
// Groups are expanded into countries when a scope is read; what the membership
// becomes later does not move an expansion. WORLD is every officially assigned
// ISO 3166-1 code, without silent exceptions: Jersey, Guernsey and the Isle of
// Man are not part of GB, Puerto Rico is not part of US, XK is not in WORLD.
//
// The listed subdivisions of a country are taken to make up the whole of it.
// Sets are immutable values. Left out: borders before and after a split of a
// country; old codes are refused with their successors named.
package territory

import (
	"slices"
	"strings"
)

//go:generate go run ./gen

// Version names the tables that an expansion was made with.
const Version = "ISO 3166 of iso-codes 4.15.0; UN M49 groups as in CLDR 48.2; EU and EEA to 2026-01-01"

type country struct{ alpha2, alpha3, numeric, name string }

type group struct {
	code, name string
	members    bits
}

type old struct{ code, name, date string }

// find is the index of a country code in the table.
func find(alpha2 string) (int, bool) {
	if len(alpha2) != 2 {
		return 0, false
	}
	return slices.BinarySearchFunc(countries[:], alpha2, func(c country, code string) int {
		return strings.Compare(c.alpha2, code)
	})
}

// findSub is the path of a subdivision beneath its country ("ENG-LND" for LND).
func findSub(ci int, code string) (path, name string, ok bool) {
	for line := range strings.SplitSeq(subdivisions[ci], "\n") {
		path, name, _ = strings.Cut(line, "\t")
		if last(path) == code {
			return path, name, code != ""
		}
	}
	return "", "", false
}

func last(path string) string { return path[strings.LastIndexByte(path, '-')+1:] }

// leaves are the smallest listed subdivisions of a country. Lines are sorted, so
// that a subdivision with parts is followed by one of them.
func leaves(ci int) []string {
	var out []string
	for line := range strings.SplitSeq(subdivisions[ci], "\n") {
		path, _, _ := strings.Cut(line, "\t")
		if path == "" {
			continue
		}
		if n := len(out); n > 0 && strings.HasPrefix(path, out[n-1]+"-") {
			out[n-1] = path
			continue
		}
		out = append(out, path)
	}
	return out
}

func findGroup(code string) (group, bool) {
	if code == "WORLD" {
		code = "001"
	}
	for _, g := range groups {
		if g.code == code {
			return g, true
		}
	}
	return group{}, false
}

// Name is the English name of a code that a scope can hold, or the code itself if it is unknown.
func Name(code string) string {
	if cc, sub, ok := strings.Cut(code, "-"); ok {
		if i, known := find(cc); known {
			if _, name, ok := findSub(i, sub); ok {
				return name
			}
		}
		return code
	}
	if i, ok := find(code); ok {
		return countries[i].name
	}
	if g, ok := findGroup(code); ok {
		return g.name
	}
	return code
}
