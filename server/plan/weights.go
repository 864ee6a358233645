package plan

// Weights are what choosing costs, in the points of rank.Weights, which has no unit:
// a loss of one is as bad as a picture that scores one less. All values are common
// practice, no source.
type Weights struct {
	// Picture is the cost of leaning on one more picture: it must be better by so
	// much for the structures it serves. Half a point is the difference between
	// final art and an unstated stage.
	Picture float64
	// Missing is the loss of a structure that nothing serves; more than any score,
	// so that whatever can be served is.
	Missing float64
	// Unscaled is the loss where a picture can't be brought to the size of the
	// drawing.
	Unscaled float64
	// Asking is the loss where somebody must be asked before more than facts are
	// taken; Facts where nothing but facts may be taken at all.
	Asking, Facts float64
	// Within is the share of a structure's points where it is only to be seen as part
	// of a larger one that is shown, Whole where on the whole animal.
	Within, Whole float64
	// Differing is the loss for each character that the animal shown has in another
	// number: it can't be drawn after the picture.
	Differing float64
	// Nodes is how many partial choices are looked at before the best so far is
	// taken with its bound. A plan of 20 structures with 8 candidates each needs
	// some thousands.
	Nodes int
}

// Default gives the weights that the studio starts with.
func Default() Weights {
	return Weights{Picture: 0.5, Missing: 50, Unscaled: 0.5, Asking: 0.25, Facts: 0.5, Within: 0.5, Whole: 0.3, Differing: 0.5, Nodes: 200_000}
}

// Permission says how much may be taken from a picture.
type Permission uint8

// Permissions, from the most to the least.
const (
	Lines     Permission = iota // lines, tone and composition too
	Ask                         // more than facts after asking
	FactsOnly                   // counts, proportions and arrangement
)

// Use is how one picture would serve one structure.
type Use struct {
	Score      float64 // of rank, for this structure
	Scaled     bool    // can be brought to the size of the drawing
	Differing  int     // characters that differ from the animal to be drawn
	Permission Permission
}

// Loss is how much a use falls short of one that scores nothing and has no flaw;
// lower is better, and negative for a use worth having.
func (w Weights) Loss(u Use) float64 {
	loss := -u.Score + w.Differing*float64(u.Differing)
	if !u.Scaled {
		loss += w.Unscaled
	}
	switch u.Permission {
	case Ask:
		loss += w.Asking
	case FactsOnly:
		loss += w.Facts
	default:
	}
	return loss
}
