package plan

import "platarium/indexer/rank"

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
	// Lacking is the loss for each lack that Lacks names: more than lies between the
	// points of a species and of its genus, so that a relative's whole fin goes before a
	// torn one.
	Lacking float64
	// Deformed is the loss where the body shown is bent, swollen or foreshortened.
	Deformed float64
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
	return Weights{Picture: 0.5, Missing: 50, Unscaled: 0.5, Lacking: 1.5, Deformed: 1, Asking: 0.25, Facts: 0.5, Within: 0.5, Whole: 0.3, Differing: 0.5, Nodes: 200_000}
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
	Score      float64  // of rank, for this structure
	Scaled     bool     // can be brought to the size of the drawing
	Lacks      []string // as Lacks gives them
	Deformed   bool     // shows a body that isn't true to life
	Differing  int      // characters that differ from the animal to be drawn
	Permission Permission
}

// Against lists what speaks against a use, with negative weights; added to the score they
// give its value.
func (w Weights) Against(u Use) []rank.Reason {
	var out []rank.Reason
	add := func(kind, text string, weight float64) {
		if weight != 0 {
			out = append(out, rank.Reason{Kind: kind, Text: text, Weight: -weight})
		}
	}
	for _, lack := range u.Lacks {
		add("structure", lack, w.Lacking)
	}
	if u.Differing > 0 {
		add("counts", "its counts differ", w.Differing*float64(u.Differing))
	}
	if u.Deformed {
		add("quality", "its body isn't true to life", w.Deformed)
	}
	if !u.Scaled {
		add("quality", "can't be brought to size", w.Unscaled)
	}
	switch u.Permission {
	case Ask:
		add("rights", "to be asked about", w.Asking)
	case FactsOnly:
		add("rights", "facts only", w.Facts)
	default:
	}
	return out
}

// Value is the score less what speaks against a use.
func (w Weights) Value(u Use) float64 {
	value := u.Score
	for _, r := range w.Against(u) {
		value += r.Weight
	}
	return value
}
