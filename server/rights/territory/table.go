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

	"platarium/server/rights/pathset"
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

// sub is a subdivision: its path beneath the country (the codes from the largest
// down, as pathset stores them) and how many entries after it are parts of it.
type sub struct {
	path, name string
	parts      int
}

func (s sub) code() string { return s.path[strings.LastIndexByte(s.path, byte(pathset.Stored))+1:] }

// findSub looks a subdivision of a country up by its code.
func findSub(ci int, code string) (sub, bool) {
	for _, s := range subdivisions[ci] {
		if s.code() == code {
			return s, true
		}
	}
	return sub{}, false
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
			if s, ok := findSub(i, sub); ok {
				return s.name
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
