package sheet

import (
	"fmt"

	pb "platarium/proto/platarium/v1"
)

// side is the width of the column of words beside a crop, mm of A4.
const side = 82.0

// cropArea is the room for the crops of a structure.
func (s *sheets) cropArea() extent {
	return extent{s.width() - side*s.zoom - gutter, s.bottom() - (margin + 4.2*s.zoom + 4)}
}

// structures is a page for each structure and each picture chosen for it, as such parts are drawn and printed apart.
func (s *sheets) structures() {
	next := 0
	for i, st := range s.job.Plan.GetStructures() {
		first := next
		for next < len(s.chosen) && s.chosen[next].number == i+1 {
			next++
		}
		of := s.chosen[first:next]
		if len(of) == 0 {
			s.structurePage(i, st, nil, "")
		}
		for n, p := range of {
			which := ""
			if len(of) > 1 {
				which = fmt.Sprintf("picture %d of %d", n+1, len(of))
			}
			s.structurePage(i, st, p, which)
		}
	}
}

// structurePage shows a crop at the left and says at the right what it is good for. Piece is nil if nothing was chosen.
func (s *sheets) structurePage(i int, st *pb.PlanStructure, p *piece, which string) {
	section := fmt.Sprintf("%d  %s", i+1, st.GetStructure())
	top := s.newPage(section, which)
	area := s.cropArea()
	x := s.page.w - margin - side*s.zoom
	page := s.pdf.PageNo()
	rays := s.rayMap(st.GetStructure())
	room := area.h
	if rays != nil {
		room -= rayRoom * s.zoom
	}
	if p != nil && p.file != "" {
		s.crops(p, margin, top, extent{area.w, room})
	} else if rays == nil {
		s.text(para{text: "Nothing to show.", size: s.pt(9), ink: gray}, margin, top, area.w)
	}
	if rays != nil {
		s.rayFigure(rays, margin, top+room, extent{area.w, rayRoom * s.zoom})
	}
	f := &flow{s: s, x: x, width: side * s.zoom, y: top, again: func() float64 { return s.newPage(section, "continued") }}
	f.add(worded(s.structureWords(st, p))...)
	if s.pdf.PageNo() == page {
		s.pdf.SetDrawColor(200, 200, 200)
		s.pdf.SetLineWidth(0.15)
		s.pdf.Line(x-gutter/2, top, x-gutter/2, s.bottom())
	}
}

// structureWords is all there is to say of a structure and the picture chosen for it.
func (s *sheets) structureWords(st *pb.PlanStructure, p *piece) []para {
	out := []para{{text: st.GetStructure(), face: "B", size: s.pt(13)}, {text: joined("; ", viewOf(st.GetView()), st.GetNote()), size: s.pt(8), ink: gray}}
	if st.GetGap() != "" {
		out = append(out, s.headed("Missing", alert, st.GetGap())...)
	}
	out = append(out, s.headed("To be drawn", black, s.expectedOf(st.GetStructure())...)...)
	if p == nil {
		return append(out, s.headed("Verified so far", black, st.GetChecked()...)...)
	}
	c := p.candidate
	pic := c.GetPicture()
	out = append(out, s.headed("From", black, title(pic))...)
	name := joined(", ", viewOf(pic.GetView()), stageOf(pic.GetStage()), completenessOf(c.GetCompleteness()))
	if c.GetMirror() {
		name += "; shown mirrored, to give the view wanted"
	}
	out = append(out, para{text: c.GetAcceptedName(), face: italic("", c.GetAcceptedName()), size: s.pt(8)}, para{text: name, size: s.pt(8)}, s.quiet(pic.GetName()))
	out = append(out, s.headed("Not to be copied", alert, c.GetDifferences()...)...)
	out = append(out, s.headed("Damage", alert, c.GetDamage())...)
	out = append(out, s.headed("Scale", black, s.scaleWords(p)...)...)
	out = append(out, s.headed("Proportions", alert, outside(c.GetProportions())...)...)
	out = append(out, s.headed("Cautions", alert, c.GetWarnings()...)...)
	out = append(out, s.headed("Rights", black, c.GetRights())...)
	out = append(out, s.headed("Why", black, reasons(c))...)
	out = append(out, s.headed("Verified so far", black, st.GetChecked()...)...)
	return append(out, s.headed("Could serve too", black, others(st)...)...)
}

// headed is lines under a small head, nothing if there are none.
func (s *sheets) headed(head string, color ink, lines ...string) []para {
	var out []para
	for _, l := range lines {
		if l != "" {
			out = append(out, para{text: l, size: s.pt(8), ink: color, gap: 0.3})
		}
	}
	if out == nil {
		return nil
	}
	return append([]para{{text: head, size: s.pt(6.5), ink: gray, gap: 2.4}}, out...)
}

func (s *sheets) scaleWords(p *piece) []string {
	sc := p.candidate.GetScale()
	var out []string
	if positive(sc.GetMmPerPixel()) {
		basis := sc.GetBasis()
		if u := sc.GetUncertainty(); positive(u) {
			basis += fmt.Sprintf(", ± %s %%", figure(100*u, 2))
		}
		out = append(out, basis)
	}
	if positive(sc.GetFactor()) {
		out = append(out, times(sc.GetFactor())+" from the original to print")
	}
	if p.lack == "" {
		out = append(out, figure(p.effectivePPI(), 3)+" pixels per inch in print")
		if sc.GetProblem() != "" {
			out = append(out, "doubtful: "+sc.GetProblem())
		}
	} else {
		out = append(out, p.lack)
	}
	return append(out, sc.GetWarnings()...)
}

func outside(all []*pb.ProportionVerdict) []string {
	var out []string
	for _, v := range all {
		if v.GetVerdict() == "outside" {
			out = append(out, joined(": ", v.GetLength()+" over "+v.GetOver(), v.GetExplanation()))
		}
	}
	return out
}

// others are candidates that weren't chosen, best first.
func others(st *pb.PlanStructure) []string {
	const most = 4
	var out []string
	for _, c := range st.GetCandidates() {
		if !c.GetChosen() && len(out) < most {
			out = append(out, joined(", ", title(c.GetPicture()), c.GetAcceptedName(), completenessOf(c.GetCompleteness())))
		}
	}
	return out
}

func (s *sheets) expectedOf(structure string) []string {
	var out []string
	for _, e := range s.job.Plan.GetExpected() {
		if e.GetStructure() == structure {
			out = append(out, expected(e))
		}
	}
	return out
}

func expected(e *pb.ExpectedCount) string {
	t := joined(" ", e.GetText(), led("after ", e.GetSource()))
	if e.GetFromRelative() {
		t += "; of a relative, so a hint only"
	}
	return t
}

func led(label, s string) string {
	if s == "" {
		return ""
	}
	return label + s
}
