// Package sheet makes a plan into things for the drawing table: pages to print (the plan, the composite at printed scale, a page a structure, a checklist), and a zip of crops that
// open at one size in any drawing program.
//
// Invariants: what has a scale is drawn at it, true on paper within the rounding of a PDF, and labelled with it; what has none is shown without a bar and said to have none, never
// guessed; equal input gives equal bytes, whose dates are the one handed in; whole originals never come into this process: a Cutter gives crops, reduced, into files of a folder that the
// caller removes; every page tells its number among how many, the commit that the plan rests on, the brief and the caution.
//
// Left out: planning (server/plan, server/commission), decoding (storage/imaging), and scripts that the embedded fonts lack (they have Latin, Greek and Cyrillic): such letters come out
// as boxes.
package sheet

import (
	"context"
	"errors"
	"io"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/imaging"
)

// ErrNoPlan: there is no plan to set. The caller makes one first.
var ErrNoPlan = errors.New("there is no plan to make sheets of")

// caution stands on every page and in every zip.
const caution = "References are structural: check rights before copying lines. A record, not legal advice."

// mmPerInch is exact by definition of the inch.
const mmPerInch = 25.4

// Cutter cuts parts out of the original of a picture. To is asked for the writer of each cut in turn. A *imaging.Fault says that this picture can't be cut and why, so that the rest goes
// on without it; any other error ends the work.
type Cutter interface {
	Cuts(ctx context.Context, picture *pb.Picture, cuts []imaging.Cut, to func(i int) (io.Writer, error)) ([]imaging.CutInfo, error)
}

// Job is what is to be made.
type Job struct {
	Plan  *pb.Plan
	Brief *pb.Brief // its name, client's wishes and counts already verified; nil if there is none
	Made  time.Time // the date on the pages and in the files
	Paper pb.Paper  // of the pages; not stated means A4
	Dir   string    // folder for the cuts; the caller removes it
}

func (j Job) check() error {
	if j.Plan == nil {
		return ErrNoPlan
	}
	return nil
}

// magnification is printed length over true length of the animal to be drawn. A brief that states no printed size is drawn at natural size, and said to be.
func (j Job) magnification() (m float64, stated bool) {
	if m := j.Plan.GetSize().GetMagnification(); positive(m) {
		return m, true
	}
	return 1, false
}
