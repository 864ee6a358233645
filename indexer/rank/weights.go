package rank

import "platarium/indexer/taxon"

// Weights are the points each aspect can bring. A point has no unit: only the
// proportions matter. All values are common practice among illustrators, no
// source: the same species drawn whole from the wanted side serves best, a near
// relative with agreeing counts next.
type Weights struct {
	// Relationship is what the same taxon brings.
	Relationship float64
	// Steps is the share of Relationship for the lowest taxon in common, by its
	// rank; a rank not listed takes that of the next higher listed one.
	Steps []Step
	// Counts is what agreement in every wanted count brings, and at worst takes.
	Counts float64
	// Near is the gap between two counts, as a share of the wanted count, at
	// which they bring nothing; at twice that gap they take as much as agreement
	// brings. A fifth: 8 and 10 rays still tell more alike than not.
	Near float64
	// Structures is what every wanted structure complete brings.
	Structures float64
	// Shown is the share of it by completeness.
	Shown [Hidden + 1]float64
	// View is what the wanted view brings.
	View float64
	// Mirrored is the share for the other side of a lateral view: scales and fins
	// are the same, and the art can be flipped in tracing.
	Mirrored float64
	// OtherSide is the share where that isn't so: under the taxa named in Sided.
	OtherSide float64
	Sided     []string
	// Slanted is the share for an oblique view where another is wanted.
	Slanted float64
	// Stage is what final art brings; Stages the share by stage.
	Stage  float64
	Stages [FinalArt + 1]float64
	// Kind is what a plate brings; Kinds the share by kind.
	Kind  float64
	Kinds [Reference + 1]float64
	// Resolution is what the highest grade brings; Grades are in ascending order.
	Resolution float64
	Grades     []Grade
}

// Step is the share that a taxon in common of this rank brings.
type Step struct {
	Rank  taxon.Rank
	Share float64
}

// Grade is the share that a long edge of at least so many pixels brings.
type Grade struct {
	LongEdge int // pixels
	Share    float64
}

// Default gives the weights that the studio starts with.
func Default() Weights {
	return Weights{
		Relationship: 4,
		// Descending by closeness.
		Steps: []Step{
			{taxon.Subspecies, 1}, {taxon.Species, 1}, {taxon.Subgenus, 0.7}, {taxon.Genus, 0.65}, {taxon.Tribe, 0.5},
			{taxon.Subfamily, 0.45}, {taxon.Family, 0.35}, {taxon.Superfamily, 0.25}, {taxon.Suborder, 0.2},
			{taxon.Order, 0.15}, {taxon.Superorder, 0.1}, {taxon.Class, 0.05},
		},
		Counts:     3,
		Near:       0.2,
		Structures: 3,
		Shown: [Hidden + 1]float64{
			Shown: 0.55, Complete: 1, Reconstructed: 0.7, Partial: 0.5, Damaged: 0.3, Hidden: 0,
		},
		View:     1.5,
		Mirrored: 0.9,
		// Flatfishes, with eyed side and blind side.
		OtherSide: 0.2, Sided: []string{"Pleuronectiformes", "Pleuronectoidei", "Psettodoidei"},
		Slanted: 0.4,
		Stage:   0.5,
		Stages: [FinalArt + 1]float64{
			ReferencePhotograph: 0.6, Outline: 0.5, TonalStudy: 0.7, ColorStudy: 0.8, FinalArt: 1,
		},
		Kind:       0.2,
		Kinds:      [Reference + 1]float64{Plate: 1, Study: 0.6, Reference: 0.8},
		Resolution: 0.5,
		// 7,000 pixels are 300 mm at 600 ppi, 3,500 the same at 300 ppi.
		Grades: []Grade{{1000, 0.25}, {2000, 0.5}, {3500, 0.75}, {7000, 1}},
	}
}
