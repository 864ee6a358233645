package sheet

import (
	"fmt"
	"math"

	pb "platarium/proto/platarium/v1"
)

// piece is the part of a picture that serves a structure, or the body.
type piece struct {
	number    int // of the structure in the plan, from 1; 0 for the body
	structure string
	candidate *pb.PlanCandidate
	part      box
	// aspect is the height of a pixel over its width.
	aspect float64
	// animal is mm of animal to a pixel across: at the size of the animal to be drawn if ownSize is false, else at that of the animal shown. 0 if unknown.
	animal  float64
	ownSize bool
	// print is mm of paper to a pixel across at the plan's scale; 0 if unknown.
	print float64
	// lack says why it has no place in the composite; empty if it has one.
	lack string
	// file is its cut; empty if none could be made, and then lack says why.
	file string
	kind string // as fpdf names it: jpg or png
}

// box is a rectangle of pixels.
type box struct{ x, y, width, height int }

// size is the printed size, mm.
func (p *piece) size() (w, h float64) { return p.at(p.print) }

// at is the size on paper at so many mm to a pixel across.
func (p *piece) at(mm float64) (w, h float64) {
	return float64(p.part.width) * mm, float64(p.part.height) * mm * p.aspect
}

// effectivePPI is the pixels per inch of the part in print; 0 if unknown.
func (p *piece) effectivePPI() float64 {
	if p.print == 0 {
		return 0
	}
	return mmPerInch / p.print
}

// pieces are the body, if there is one, and what was chosen for each structure.
func pieces(j Job) (body *piece, chosen []*piece) {
	m, _ := j.magnification()
	if c := j.Plan.GetBody(); c.GetPicture() != nil {
		body = newPiece(0, "body", c, m)
	}
	for i, s := range j.Plan.GetStructures() {
		for _, c := range s.GetCandidates() {
			if c.GetChosen() && c.GetPicture() != nil {
				chosen = append(chosen, newPiece(i+1, s.GetStructure(), c, m))
			}
		}
	}
	return body, chosen
}

// longestPrint is the longest side of a piece that is set, mm: beyond it a size was mistyped.
const longestPrint = 10_000

func newPiece(number int, structure string, c *pb.PlanCandidate, magnification float64) *piece {
	o := c.GetPicture().GetOriginal()
	p := &piece{number: number, structure: structure, candidate: c, part: partOf(o, c.GetRegion()), aspect: aspect(o)}
	switch s := c.GetScale(); {
	case p.part == (box{}):
		p.lack = "the record has no file"
	case positive(s.GetToSizeMmPerPixel()):
		p.animal, p.print = s.GetToSizeMmPerPixel(), s.GetToSizeMmPerPixel()*magnification
		if w, h := p.size(); !(w > 0 && h > 0 && max(w, h) <= longestPrint) {
			p.print, p.lack = 0, fmt.Sprintf("it would be %.3g by %.3g mm in print: is its scale right?", w, h)
		}
	default:
		p.lack = "no scale"
		if positive(s.GetMmPerPixel()) {
			p.animal, p.ownSize = s.GetMmPerPixel(), true
			p.lack = "it can't be brought to the animal's size"
		}
		if s.GetProblem() != "" {
			p.lack += ": " + s.GetProblem()
		}
	}
	return p
}

// partOf is a region in whole pixels, widened outward; a region that is absent or empty means the whole. It is zero for a picture without pixels.
func partOf(o *pb.Original, r *pb.Region) box {
	w, h := int(o.GetWidth()), int(o.GetHeight())
	if w <= 0 || h <= 0 {
		return box{}
	}
	whole := box{0, 0, w, h}
	if r == nil {
		return whole
	}
	x0, x1 := span(r.GetX(), r.GetWidth(), w)
	y0, y1 := span(r.GetY(), r.GetHeight(), h)
	if x1 <= x0 || y1 <= y0 {
		return whole
	}
	return box{x0, y0, x1 - x0, y1 - y0}
}

// span is a stretch in fractions of n pixels as whole pixels; a stretch that isn't a number is empty.
func span(from, length float64, n int) (first, end int) {
	const slack = 1e-6 // pixels: a fraction written with few digits doesn't take in a pixel more
	a, b := from*float64(n), (from+length)*float64(n)
	if math.IsNaN(a) || math.IsNaN(b) {
		return 0, 0
	}
	return int(math.Floor(max(a, 0) + slack)), int(math.Ceil(min(b, float64(n)) - slack))
}

// aspect is the height of a pixel over its width: above 1 where a scan has fewer pixels to the inch down than across.
func aspect(o *pb.Original) float64 {
	if x, y := o.GetPpiX(), o.GetPpiY(); positive(x) && positive(y) {
		return x / y
	}
	return 1
}

// left is a candidate that has no place in the composite.
type left struct{ structure, picture, why string }

// leftOut lists what was chosen and has no place, then other candidates that a scale would bring in.
func leftOut(j Job, body *piece, chosen []*piece) []left {
	var out []left
	if body != nil && body.lack != "" {
		out = append(out, left{body.structure, pictureTitle(body.candidate.GetPicture()), body.lack})
	}
	for _, p := range chosen {
		if p.lack != "" {
			out = append(out, left{p.structure, pictureTitle(p.candidate.GetPicture()), p.lack})
		}
	}
	for _, s := range j.Plan.GetStructures() {
		for _, c := range s.GetCandidates() {
			if !c.GetChosen() && !positive(c.GetScale().GetToSizeMmPerPixel()) && c.GetScale().GetProblem() != "" {
				out = append(out, left{s.GetStructure(), pictureTitle(c.GetPicture()), "no scale: " + c.GetScale().GetProblem()})
			}
		}
	}
	return out
}

func pictureTitle(p *pb.Picture) string {
	if p.GetTitle() != "" {
		return fmt.Sprintf("%s (%s)", p.GetTitle(), p.GetName())
	}
	return p.GetName()
}

// positive also refuses NaN and infinity.
func positive(f float64) bool { return f > 0 && !math.IsInf(f, 1) }
