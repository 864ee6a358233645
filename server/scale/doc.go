// Package scale turns marks on a picture into lengths of an animal: how many
// millimeters a pixel stands for, the standard lengths of ichthyology and their
// proportions, whether these agree with what is published, what becomes of a
// picture in print, and where the bases of a fin's spines and rays fall on
// another body.
//
// Invariants:
//   - Points come in as fractions of width and height of the picture as shown
//     (orientation applied). Pixels are counted across; where a scan's
//     resolutions across and down differ, heights are brought to the pixel across.
//   - A scale is mm of animal to a pixel. Uncertainties are standard ones (one
//     standard deviation); relative where the comment says so.
//   - A ratio doesn't change when a picture is turned, enlarged or mirrored.
//   - Nothing is guessed: what a landmark, a bar or a publication doesn't give is
//     an error that names what would give it.
//   - No I/O and no clock; the same input gives the same bits.
//
// It leaves out: finding landmarks in pixels, the records and their conversion
// (server/plan does that), and corrections for shrinkage, which are only noted.
package scale

import (
	"errors"
	"fmt"
	"strings"
)

var (
	// ErrNoPixels: the picture's width or height is unknown; the caller has the original read first.
	ErrNoPixels = errors.New("the picture's size in pixels is unknown")
	// ErrOutside: a point lies outside the picture or is no number; the caller names the landmark to be set again.
	ErrOutside = errors.New("outside the picture")
	// ErrMissing: a landmark is missing; the caller shows which one, from MissingError.
	ErrMissing = errors.New("landmark missing")
	// ErrTooShort: the ends of a bar or length lie too near each other to measure by; the caller asks for them to be set again.
	ErrTooShort = errors.New("too short to measure by")
	// ErrLength: a true length, resolution or magnification is not a positive number; the caller asks for it.
	ErrLength = errors.New("not a positive length")
	// ErrNoScale: nothing gives the picture a scale; the caller shows the text, which says what would.
	ErrNoScale = errors.New("no scale")
	// ErrContradiction: two calibrations differ by more than their errors explain; the caller shows both, from ContradictionError.
	ErrContradiction = errors.New("calibrations contradict each other")
	// ErrMeasurement: a length is called by a name that isn't known here; the caller treats the statement as not comparable.
	ErrMeasurement = errors.New("unknown measurement")
	// ErrAmbiguous: a published proportion can be read in two ways; the caller asks for "in" or "%" to be written.
	ErrAmbiguous = errors.New("can be read in more than one way")
	// ErrStatement: a statement is no proportion; the caller asks for it to be written again.
	ErrStatement = errors.New("not a proportion")
	// ErrNoRelation: no published relation converts that length for that species; the caller says so and asks for the length itself.
	ErrNoRelation = errors.New("no published relation")
	// ErrBases: a fin's bases can't be read or carried over; the caller shows the text.
	ErrBases = errors.New("fin bases can't be used")
)

// MissingError says which landmarks a length lacks. It is ErrMissing.
type MissingError struct {
	Measurement Measurement // the length that can't be had; empty for a midline
	Landmarks   []string    // any of which is missing, in order from the snout
}

// Error names length and landmarks.
func (e *MissingError) Error() string {
	what := string(e.Measurement)
	if what == "" {
		what = "the midline"
	}
	return fmt.Sprintf("%s needs the landmark %s", what, quoted(e.Landmarks))
}

// Unwrap is ErrMissing.
func (e *MissingError) Unwrap() error { return ErrMissing }

// ContradictionError holds the two calibrations that differ most. It is ErrContradiction.
type ContradictionError struct {
	A, B  Scale
	Apart float64 // how much larger the larger is, as a fraction
	All   []Scale // every calibration there was
}

// Error shows both figures.
func (e *ContradictionError) Error() string {
	return fmt.Sprintf("%s gives %.4g mm to a pixel, %s gives %.4g: %.1f %% apart, more than their errors explain; set the ends of one again or correct its length",
		e.A.Basis, e.A.MMPerPixel, e.B.Basis, e.B.MMPerPixel, 100*e.Apart)
}

// Unwrap is ErrContradiction.
func (e *ContradictionError) Unwrap() error { return ErrContradiction }

func quoted(names []string) string {
	q := make([]string, len(names))
	for i, n := range names {
		q[i] = `"` + n + `"`
	}
	return strings.Join(q, " and ")
}
