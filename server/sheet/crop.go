package sheet

import "math"

// view is a piece at one size on the page.
type view struct {
	caption string
	mm      float64 // of paper to a pixel across
	animal  float64 // of paper to a mm of animal; 0 without a scale
	beside  bool    // right of the view before, not under it
}

// Room beside a crop for its caption and its scale bar, mm of A4.
const (
	captionRoom = 5.0
	barUnder    = 9.0
)

// reductions and enlargements are the factors by which a crop is shown other than at its printed size, so that a person can reckon with them.
var (
	reductions   = []float64{0.75, 0.5, 0.4, 0.3, 0.25, 0.2, 0.15}
	enlargements = []float64{10, 8, 6, 5, 4, 3, 2, 1.5}
)

// leastBeside is the room that a view's words take, mm of A4, before another may stand at its right.
const leastBeside = 58

// coarsest is the resolution below which a detail isn't enlarged, ppi: pixels would show.
const coarsest = 150

// views is how a piece is shown in an area: at printed size if it fits, else reduced by a round factor; enlarged as well if it is small.
func (s *sheets) views(p *piece, area extent) []view {
	h := area.h - (captionRoom+barUnder)*s.zoom
	if p.print == 0 {
		mm, _ := fit(p, area.w, h)
		v := view{caption: "No scale: not to be measured", mm: mm}
		if positive(p.animal) {
			v.caption, v.animal = "At the size of the animal shown, not of the one to be drawn", mm/p.animal
		}
		return []view{v}
	}
	w1, h1 := p.size()
	m, stated := s.job.magnification()
	printed := "printed size"
	if !stated {
		printed = "natural size"
	}
	at := func(f float64, caption string) view {
		return view{caption: caption, mm: p.print * f, animal: m * f}
	}
	if w1 > area.w || h1 > h {
		f := reduction(min(area.w/w1, h/h1))
		return []view{at(f, "Reduced to "+figure(100*f, 3)+" % of "+printed+", "+times(m*f))}
	}
	out := []view{at(1, "At "+printed+", "+times(m))}
	right := area.w - max(w1, leastBeside*s.zoom) - gutter
	below := h - h1 - (captionRoom+barUnder)*s.zoom - gap
	for _, f := range enlargements {
		beside := w1*f <= right && h1*f <= h
		if (beside || w1*f <= area.w && h1*f <= below) && p.effectivePPI()/f >= coarsest {
			v := at(f, "Enlarged "+times(f)+" from "+printed)
			v.beside = beside
			return append(out, v)
		}
	}
	return out
}

// reduction is the largest round factor that is at most f.
func reduction(f float64) float64 {
	for ten := 1.0; ; ten /= 10 {
		for _, r := range append([]float64{1}, reductions...) {
			if r*ten <= f {
				return r * ten
			}
		}
	}
}

// fit is mm of paper to a pixel across so that a piece fills a room.
func fit(p *piece, width, height float64) (mm float64, size extent) {
	mm = min(width/float64(p.part.width), height/(float64(p.part.height)*p.aspect))
	w, h := p.at(mm)
	return mm, extent{w, h}
}

// crops draws the views of a piece, under or beside each other.
func (s *sheets) crops(p *piece, x, y float64, area extent) {
	var before extent
	for i, v := range s.views(p, area) {
		switch {
		case v.beside:
			x += max(before.w, leastBeside*s.zoom) + gutter
		case i > 0:
			y += before.h + (captionRoom+barUnder)*s.zoom + gap
		}
		caption := v.caption
		if p.candidate.GetMirror() {
			caption += "; mirrored"
		}
		s.lineAt(para{text: caption, size: s.pt(7.5)}, x, y, "L")
		w, h := p.at(v.mm)
		under := y + captionRoom*s.zoom
		s.image(p, x, under, w, h)
		if v.animal > 0 {
			s.bar(barFor(v.animal, math.Min(area.w*0.5, math.Max(w, 25))), x, under+h+2)
		}
		before = extent{w, h}
	}
}

// largest is the finest scale at which a piece is shown, mm of paper to a pixel across: its cut must do for that.
func (s *sheets) largest(p *piece) float64 {
	most := p.print
	for _, v := range s.views(p, s.cropArea()) {
		most = max(most, v.mm)
	}
	return most
}
