// Package rank says how well an earlier picture serves what a commission wants,
// and why: how close its animal stands, how far its counts agree, which of the
// wanted structures it shows and how completely, its view, how far the work had
// come, and how many pixels there are.
//
// Invariants:
//   - Each aspect is weighed alone and the score is their sum in a fixed order,
//     so that a caller may keep the weight of a value it meets again, and two
//     runs give the same bits.
//   - What a picture doesn't state counts neither for nor against it.
//   - Reasons hold exactly the weights that were added up.
//
// It leaves out: words searched for, rights, and finding pictures at all
// (package indexer does that).
package rank

import (
	"platarium/indexer/meristic"
	"platarium/indexer/taxon"
)

// Taxon is one step of a lineage.
type Taxon struct {
	ID, Name string
	Rank     taxon.Rank
}

// Count is the interval of one element of one character.
type Count struct {
	Character meristic.Character
	Element   meristic.Element
	meristic.Interval
}

// Completeness says how well a picture shows a structure.
type Completeness uint8

// Completeness in the numbers of the contract.
const (
	Shown Completeness = iota // condition not stated
	Complete
	Partial
	Damaged
	Reconstructed
	Hidden
)

// String gives the trade's word.
func (c Completeness) String() string {
	return word([]string{"shown", "complete", "partial", "damaged", "reconstructed", "hidden"}, int(c))
}

// View is the side from which the animal is seen.
type View uint8

// Views in the numbers of the contract.
const (
	AnyView View = iota // not stated
	LeftLateral
	RightLateral
	Dorsal
	Ventral
	Frontal
	Caudal
	Oblique
	Internal
)

// String gives the trade's words; empty if not stated.
func (v View) String() string {
	return word([]string{"", "left lateral", "right lateral", "dorsal", "ventral", "frontal", "caudal", "oblique", "internal"}, int(v))
}

// Stage says how far the work had come.
type Stage uint8

// Stages in the numbers of the contract.
const (
	AnyStage Stage = iota // not stated
	ReferencePhotograph
	Outline
	TonalStudy
	ColorStudy
	FinalArt
)

// String gives the trade's words; empty if not stated.
func (s Stage) String() string {
	return word([]string{"", "reference photograph", "outline", "tonal study", "color study", "final art"}, int(s))
}

// Kind says what a picture is for.
type Kind uint8

// Kinds in the numbers of the contract.
const (
	AnyKind Kind = iota // not stated
	Plate
	Study
	Reference
)

// String gives the house's words; empty if not stated.
func (k Kind) String() string { return word([]string{"", "plate", "study", "reference"}, int(k)) }

func word(words []string, i int) string {
	if i < 0 || i >= len(words) {
		return ""
	}
	return words[i]
}

// Structure is a part that a picture shows. Names are compared as they are: the
// caller brings them to one form.
type Structure struct {
	Name         string
	Completeness Completeness
}

// Picture is what is known of an earlier picture.
type Picture struct {
	Lineage    []Taxon // root first; empty if not identified
	Counts     []Count
	Structures []Structure
	View       View
	Stage      Stage
	Kind       Kind
	LongEdge   int // pixels; 0 if there is no scan
}

// Wanted is what a commission asks for. Empty parts aren't weighed.
type Wanted struct {
	Lineage    []Taxon // root first, the animal to be drawn last
	Counts     []Count
	Structures []string
	View       View
}

// Empty reports whether nothing is wanted.
func (w Wanted) Empty() bool {
	return len(w.Lineage) == 0 && len(w.Counts) == 0 && len(w.Structures) == 0 && w.View == AnyView
}

// Reason is one ground of a score.
type Reason struct {
	Kind   string // relationship, counts, structure, view or quality
	Text   string
	Weight float64
}
