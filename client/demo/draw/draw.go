// Package draw makes line art of fishes from their proportions and counts.
//
// A Fish states body proportions (in standard lengths) and, for each fin, how
// many spines and soft rays it carries. Draw turns it into a Drawing: a list of
// vector shapes in millimetres of paper together with the exact geometry of
// what was drawn (regions, landmarks, scale bar, strokes of every fin). A
// Drawing is rasterised at any resolution with anti-aliasing.
//
// Invariants:
//   - every spine and every soft ray is one stroke that is unbranched at
//     CountAt of its length, so it can be counted there on the raster;
//   - the same Fish and Options always give the same shapes, and the same
//     shapes and resolution the same pixels: variation comes from Options.Seed;
//   - fish space: the snout tip is (0,0), the hypural end (1,0), y points to the
//     belly; a left lateral view shows the snout at the left.
//
// It leaves out: reading or writing of files (package scanfile), any text layout
// beyond short captions, and anatomy that no caption names. The shapes are
// generic to a family, not portraits of a species.
package draw

// CountAt is the fraction of a ray's length at which rays are counted: above
// the crowded base and below the branching.
const CountAt = 0.42

// Stage is the step of the work that a drawing belongs to.
type Stage int

// Stages, in the order in which a plate grows.
const (
	Outline    Stage = iota // ink lines on white
	Stipple                 // tonal study in dots
	Hatching                // tonal study in contour lines
	ColorStudy              // pencil lines under a thin wash
	FinalColor              // finished color plate
	FinalInk                // finished stippled plate, with every scale
	Photograph              // toned reference photograph of the specimen
)

// Color reports whether a stage needs three channels.
func (s Stage) Color() bool { return s == ColorStudy || s == FinalColor || s == Photograph }

// View is the side that a drawing shows.
type View int

// Views and details.
const (
	Left   View = iota // whole fish, snout to the left
	Right              // whole fish, snout to the right
	Dorsal             // whole fish from above, snout to the left
	Head               // head from the left
	Fin                // one fin, named by Options.Fin
	Scale              // a few scales of the flank
)

// Options says which drawing of a fish is wanted.
type Options struct {
	Stage Stage
	View  View
	Fin   string // name of the fin of a Fin view
	// Length is the drawn standard length in millimetres of paper for whole
	// views, and the drawn width of the subject for details.
	Length  float64
	Caption string // a line under the figure, may be empty
	Tag     string // text of the specimen label in a photograph
	Damage  Damage
	Seed    uint64
}

// Damage is what is wrong with the specimen and therefore shows.
type Damage struct {
	Torn    []Tear   // fins with missing or broken rays
	Hidden  []string // fins that can't be seen: lost, folded or covered
	Scales  float64  // share of the flank without scales, 0 to 1
	Faded   float64  // loss of pigment, 0 to 1
	Bend    float64  // curvature of the axis in standard lengths, at the tail
	Rebuilt []string // fins drawn although the specimen lacks them: reconstructed
}

// Tear is the damage of one fin.
type Tear struct {
	Fin     string
	Missing int // rays gone altogether
	Broken  int // rays that end at two thirds of their length
}

// Completeness of a structure in a drawing, in the words of an archive record.
const (
	Complete      = "complete"
	Partial       = "partial"
	Damaged       = "damaged"
	Reconstructed = "reconstructed"
	Hidden        = "hidden"
)
