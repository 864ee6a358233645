package scale

// Tolerances are the errors and limits that this package reckons with. All are
// common practice, no source, unless a field says otherwise.
type Tolerances struct {
	// LandmarkPX is the standard error of a landmark in each direction, pixels.
	LandmarkPX float64
	// LandmarkFraction is that error as a fraction of the picture's longer side;
	// the larger of the two holds, as landmarks of a large scan are set on a
	// smaller preview.
	LandmarkFraction float64
	// Bar is the relative standard error of a scale bar's stated length.
	Bar float64
	// Known is the relative standard error of a length measured on the specimen.
	Known float64
	// PPI is the relative standard error of a scan's stated resolution.
	PPI float64
	// Longest is the relative error above which a bar is refused as too short.
	Longest float64
	// Contradiction is how many combined standard errors two calibrations may differ by.
	Contradiction float64

	// Coverage is how many standard errors a proportion may lie outside an
	// interval and still agree: 2, about 95 % (JCGM 100:2008, 6.2 and G.1, from memory).
	Coverage float64
	// Published is how far a proportion may lie outside a published interval
	// beside that, relative: the published specimens aren't all there are.
	Published float64
	// Body is how far two bodies of one species may differ, relative.
	Body float64
	// Informative is the relative standard error above which a proportion is not comparable.
	Informative float64
	// Bend is how much longer a midline may be than the straight line between its ends, relative, before the body is called bent.
	Bend float64

	// Print is what is asked of resolution in print, by rendering, worst first.
	Print map[Rendering][]Grade
	// Hairline is the thinnest line that prints safely, mm.
	Hairline float64
	// Enlarged is the factor above which art is enlarged so far that its flaws show.
	Enlarged float64
}

// Grade is a resolution in print below which something is said.
type Grade struct {
	Below    float64 // pixels per inch
	Severity Severity
	Why      string // who asks for it
}

// Severity says how bad a warning is.
type Severity uint8

// Severities in ascending order.
const (
	Note    Severity = iota + 1 // worth knowing
	Caution                     // below what is wanted
	Serious                     // will not do
)

// String gives the word.
func (s Severity) String() string {
	switch s {
	case Note:
		return "note"
	case Caution:
		return "caution"
	case Serious:
		return "serious"
	default:
		return "not stated"
	}
}

// DefaultTolerances are those that the program uses.
func DefaultTolerances() Tolerances {
	const (
		entomology = "instructions for authors of entomological journals"
		practice   = "common practice"
	)
	return Tolerances{
		LandmarkPX:       1.5,
		LandmarkFraction: 0.0005,
		Bar:              0.005,
		Known:            0.01,
		PPI:              0.005,
		Longest:          0.25,
		Contradiction:    3,
		Coverage:         2,
		Published:        0.03,
		Body:             0.05,
		Informative:      0.1,
		Bend:             0.01,
		Print: map[Rendering][]Grade{
			Line: {
				{600, Serious, practice},
				{800, Serious, entomology + ", minimum"},
				{1200, Caution, entomology},
			},
			Combination: {{600, Caution, entomology}},
			Tone:        {{300, Caution, entomology}},
		},
		Hairline: 0.1,
		Enlarged: 1,
	}
}
