// Package demo holds an invented studio of scientific illustrators: its people
// and clients, the fishes it drew, the specimens it drew them from, and its
// works, grants and uses; and it draws the scans of all works into a folder.
//
// Invariants: everything is a plain value or a pure function of one, so that
// two runs give the same bytes; every count that a work states is the count
// that was drawn; nobody and nothing here exists, except the species and the
// published counts, whose source stands beside them.
//
// It leaves out: sending anything to a server, and the meaning of grants.
//
// Invented numbers are made so that they can't be real: e-mail addresses end in
// .example (RFC 2606), and book numbers begin with 979-0, the range of printed
// music, so that no book carries them.
package demo

import "platarium/client/demo/draw"

// House is the studio.
type House struct {
	Key           string
	Name          string
	Place         string
	Email         string
	Ichthyologist string // who identifies the specimens
	TimeZone      string // IANA name, for the terms of grants
}

// Studio is the invented studio.
func Studio() House {
	return House{"EBBVIK", "Studio Ebbvik", "Skarrholm, Ebb Sound", "archive@ebbvik.example", "Hanne Ruskvik", "Europe/Oslo"}
}

// Person works at or for the studio.
type Person struct {
	Key, Name, Role, Email string
}

// People are the studio's people.
func People() []Person {
	return []Person{
		{"MO", "Maren Oltedal", "illustrator, color", "maren@ebbvik.example"},
		{"AP", "Aurelio Pastramonte", "illustrator, pen and ink", "aurelio@ebbvik.example"},
		{"TW", "Tobias Wrenfield", "illustrator", "tobias@ebbvik.example"},
		{"JA", "Joris Amstelhoek", "photographer", "joris@ebbvik.example"},
		{"IC", "Ines Calderwood", "archivist", "ines@ebbvik.example"},
		{"HR", "Hanne Ruskvik", "ichthyologist", "hanne@ebbvik.example"},
	}
}

func person(key string) Person {
	for _, p := range People() {
		if p.Key == key {
			return p
		}
	}
	return Person{Key: key, Name: key}
}

// Credit is the line that a publication must print.
func (w Work) Credit() string {
	sp, _ := findSpecimen(w.Specimen)
	line := "© " + person(w.Creator).Name + " / " + Studio().Name
	if sp.Institution == northmere {
		line += "; specimen " + sp.Key
	}
	return line
}

// RightsStatement is a URI of RightsStatements.org or Creative Commons, or empty
// where nobody has decided yet.
func (w Work) RightsStatement() string {
	switch {
	case w.Kind == Reference && w.Creator != "JA":
		return ""
	case w.Kind == Study && w.Stage == draw.Outline && w.Creator == "TW":
		// Teaching sheets are free to reuse.
		return "https://creativecommons.org/licenses/by-nc/4.0/"
	default:
		return "http://rightsstatements.org/vocab/InC/1.0/"
	}
}
