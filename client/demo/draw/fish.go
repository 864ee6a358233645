package draw

import (
	"errors"
	"fmt"
)

// Fish states how a fish looks. Lengths are in standard lengths (SL) unless
// said otherwise.
type Fish struct {
	SL      float64 // standard length of the specimen in mm
	Body    Body
	Face    Face
	Fins    []FinSpec
	Scales  Scales
	Palette Palette
	Marks   []Mark
}

// Body is the outline without fins.
type Body struct {
	Depth    float64 // greatest depth
	DepthAt  float64 // where the depth is greatest
	Back     float64 // share of the depth above the axis, 0.5 is symmetric
	Peduncle float64 // least depth of the caudal peduncle
	Blunt    float64 // roundness of the snout: 0.5 blunt, 0.9 pointed
	BellyAt  float64 // where the belly is deepest; 0 means DepthAt
	Chin     float64 // roundness of the lower head; 0 means Blunt
	Aft      float64 // how late the body tapers: 1 early, 2 late; 0 means 1.3
	Nape     float64 // hump (positive) or dip behind the eye
	Width    float64 // greatest width seen from above; 0 means 0.6 of Depth
}

// Face is the head and what is on it.
type Face struct {
	Head    float64 // head length
	Eye     float64 // eye diameter
	EyeX    float64 // centre of the eye from the snout
	EyeY    float64 // centre of the eye as a share of the upper profile, 0 axis to 1 back
	Jaw     float64 // length of the upper jaw
	Gape    float64 // slant of the mouth: drop over jaw length
	MouthY  float64 // height of the mouth's tip, positive towards the belly
	Jut     float64 // how far the lower jaw reaches before the upper; may be negative
	Barbels int     // barbels seen from one side
	Spine   int     // spines on the opercle's edge
	Cheek   bool    // scaled cheek
	Cirrus  bool    // a small branched flap over the eye
	// SecondEye puts the other eye below the first, as on the eyed side of a flatfish.
	SecondEye bool
}

// Kind is the sort of a fin.
type Kind int

// Kinds of fins. Dorsal and anal fins stand on a profile of the body.
const (
	DorsalFin Kind = iota
	AnalFin
	CaudalFin
	PectoralFin
	PelvicFin
	AdiposeFin
)

// Caudal is the shape of the tail's edge.
type Caudal int

// Shapes of caudal fins, from deep fork to round.
const (
	Forked Caudal = iota
	Lunate
	Emarginate
	Truncate
	Rounded
)

// FinSpec states one fin. Spines are stiff and pointed; unbranched rays and
// branched rays are soft.
type FinSpec struct {
	Name       string
	Kind       Kind
	Spines     int
	Unbranched int // soft rays that don't branch, in front of the others
	Rays       int // branched soft rays
	Free       int // free lower rays of a pectoral fin, not in Rays
	From, To   float64
	Height     float64   // longest element
	Profile    []float64 // relative lengths along the fin, at equal distances; empty means a gentle arch
	Lean       [2]float64
	Incision   float64 // how deep the membrane is cut between spines, 0 to 1
	Y          float64 // height of a pectoral fin's base, share of the lower profile
	Spread     float64 // opening of a paired or caudal fin in degrees
	Shape      Caudal
	Ocellus    bool // a dark spot on the fin
	Edge       bool // a dark margin
	Filament   int  // number of front rays drawn out into filaments
}

// Elements is the number of strokes that a complete fin has.
func (f FinSpec) Elements() int { return f.Spines + f.Unbranched + f.Rays }

// Scales states the squamation.
type Scales struct {
	LateralLine int     // scales or pores in the lateral line; 0 for none
	Rows        int     // rows between back and belly; 0 for a naked body
	Arch        float64 // how far the lateral line rises in front, share of the upper profile
	Straight    float64 // where the lateral line meets the axis
	Ctenoid     bool
	Scutes      int // scutes at the end of the lateral line
}

// Palette is the color of a living or fresh fish, as 0xRRGGBB.
type Palette struct {
	Back, Flank, Belly, Fin, Mark, Iris uint32
}

// Pattern is the shape of a mark.
type Pattern int

// Patterns of pigment.
const (
	Bars    Pattern = iota // upright bands
	Stripes                // bands along the body
	Spots                  // many round spots on back and flank
	Blotch                 // one spot
	Mottle                 // cloudy
	Band                   // one stripe along the lateral line
	Mask                   // a dark bar through the eye
)

// Mark is pigment laid over the ground color.
type Mark struct {
	Pattern  Pattern
	N        int     // number of bars, stripes or spots
	From, To float64 // extent along the body
	Top, Low float64 // extent across it: -1 back to 1 belly
	Size     float64 // width of one mark
	Strength float64 // 0 to 1
}

// ErrFish is returned for proportions that can't be drawn: mend the Fish.
var ErrFish = errors.New("fish can't be drawn")

// Validate reports the first proportion that can't be drawn.
func (f Fish) Validate() error {
	in := func(name string, v, lo, hi float64) error {
		if v >= lo && v <= hi {
			return nil
		}
		return fmt.Errorf("%w: %s is %g, want %g to %g", ErrFish, name, v, lo, hi)
	}
	checks := []error{
		in("standard length in mm", f.SL, 5, 5000),
		in("body depth", f.Body.Depth, 0.05, 0.9),
		in("depth position", f.Body.DepthAt, 0.1, 0.7),
		in("share of depth above the axis", f.Body.Back, 0.2, 0.8),
		in("peduncle depth", f.Body.Peduncle, 0.01, f.Body.Depth),
		in("snout roundness", f.Body.Blunt, 0.3, 1.2),
		in("head length", f.Face.Head, 0.1, 0.5),
		in("eye diameter", f.Face.Eye, 0.01, f.Face.Head),
		in("eye position", f.Face.EyeX, f.Face.Eye/2, f.Face.Head),
	}
	for _, fin := range f.Fins {
		checks = append(checks,
			in(fin.Name+" elements", float64(fin.Elements()), 0, 150),
			in(fin.Name+" height", fin.Height, 0.005, 1))
		if fin.Kind == DorsalFin || fin.Kind == AnalFin {
			checks = append(checks, in(fin.Name+" base", fin.To-fin.From, 0.005, 1))
		}
	}
	return errors.Join(checks...)
}

// TotalLength is the length from the snout to the farthest tip of the tail, in
// standard lengths.
func (f Fish) TotalLength() float64 {
	far := 1.0
	p := newProfile(f, 0)
	for _, spec := range f.Fins {
		if spec.Kind != CaudalFin {
			continue
		}
		for _, r := range layout(f, p, spec).rays {
			far = max(far, r.tip.X)
		}
	}
	return far
}
