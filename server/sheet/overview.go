package sheet

import (
	"fmt"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// overview is the plan in words: what is to be drawn and how large, what serves each structure, and what is missing.
func (s *sheets) overview() {
	s.pdf.AddPage()
	y := s.opening()
	y = s.table(y, "the plan", []tableColumn{
		{"", 8}, {"structure", 31}, {"picture", 50}, {"why", 56}, {"in print", 25}, {"not to be copied; damage", 50}, {"rights", 53},
	}, s.planRows())
	f := &flow{s: s, x: margin, width: s.width(), y: y + 2, again: func() float64 { return s.newPage("the plan", "continued") }}
	s.listed(f, "Left out of the composite", len(s.left), func(i int) string {
		return s.left[i].structure + ": " + s.left[i].picture + ": " + s.left[i].why
	})
	remarks := s.job.Plan.GetRemarks()
	if _, stated := s.job.magnification(); !stated {
		remarks = append([]string{"No size in print is known: what has a scale stands at natural size."}, remarks...)
	}
	s.listed(f, "Remarks", len(remarks), func(i int) string { return remarks[i] })
	used := s.job.Plan.GetChosen()
	s.listed(f, "Pictures used", len(used), func(i int) string {
		return fmt.Sprintf("%s, %s (%s): %s", used[i].GetTitle(), used[i].GetAcceptedName(), used[i].GetPicture(), strings.Join(used[i].GetStructures(), ", "))
	})
}

func (s *sheets) listed(f *flow, head string, n int, item func(int) string) {
	if n == 0 {
		return
	}
	first := []para{{text: head, face: "B", size: s.pt(8), gap: 3}}
	for i := range n {
		p := para{text: item(i), size: s.pt(7.5), gap: 0.6}
		if i == 0 { // a head isn't left alone at the end of a page
			if f.y+first[0].gap+s.height(append(first, p), f.width) > s.bottom() {
				f.y = f.again()
			}
			f.add(first[0])
		}
		f.add(p)
	}
}

// opening is the head of the first page, with the body beside it.
func (s *sheets) opening() float64 {
	p, width, under := s.job.Plan, s.width(), margin
	if s.body != nil && s.body.file != "" {
		room := extent{88 * s.zoom, 40 * s.zoom}
		mm, _ := fit(s.body, room.w, room.h)
		w, h := s.body.at(mm)
		x := s.page.w - margin - w
		s.image(s.body, x, margin, w, h)
		caption := para{text: "the body: " + pictureTitle(s.body.candidate.GetPicture()), size: s.pt(6.5), ink: gray}
		caption.text = s.within(caption, room.w)
		s.lineAt(caption, s.page.w-margin, margin+h+1, "R")
		width -= max(w, room.w) + gutter
		under += h + 6*s.zoom
	}
	y := s.column([]para{
		{text: "Reference plan", size: s.pt(8), ink: gray},
		{text: s.title(), face: "B", size: s.pt(17), gap: 0.5},
		{text: p.GetAcceptedName(), face: italic("", p.GetAcceptedName()), size: s.pt(12), gap: 0.5},
	}, margin, margin, width)
	y += 2.5
	label := 24 * s.zoom
	for _, f := range s.facts() {
		if f[1] == "" {
			continue
		}
		s.lineAt(para{text: f[0], size: s.pt(8), ink: gray}, margin, y, "L")
		y = s.text(para{text: f[1], size: s.pt(8)}, margin+label, y, width-label) + 0.4
	}
	return max(y, under) + 5
}

// facts are the lines under the title.
func (s *sheets) facts() [][2]string {
	p, b := s.job.Plan, s.job.Brief
	size, printed := p.GetSize(), ""
	animal := "size unknown"
	if sl := size.GetStandardLengthMm(); positive(sl) {
		animal = "SL " + figure(sl, 4) + " mm, " + size.GetBasis()
	}
	m, stated := s.job.magnification()
	switch {
	case stated && positive(size.GetPrintedStandardLengthMm()):
		printed = fmt.Sprintf("SL %s mm, %s", figure(size.GetPrintedStandardLengthMm(), 4), times(m))
	case stated:
		printed = times(m)
	default:
		printed = "no size stated; natural size here"
	}
	use := b.GetUse()
	term := joined(" to ", use.GetFrom(), use.GetTo())
	return [][2]string{
		{"Animal", animal},
		{"In print", joined(", ", printed, rendering(b.GetRendering()))},
		{"Use", joined(" · ", strings.Join(use.GetMedia(), ", "), strings.Join(use.GetTerritories(), ", "), strings.Join(use.GetLanguages(), ", "), strings.Join(use.GetPurposes(), ", "), term)},
		{"Job", b.GetJob()},
		{"Due", b.GetDueOn()},
	}
}

func rendering(r pb.Rendering) string {
	switch r {
	case pb.Rendering_RENDERING_LINE:
		return "line"
	case pb.Rendering_RENDERING_TONE:
		return "tone"
	case pb.Rendering_RENDERING_COMBINATION:
		return "line over tone"
	default:
		return ""
	}
}

// planRows are the rows of the plan: one a picture chosen, or one that says that there is none.
func (s *sheets) planRows() [][]cell {
	var rows [][]cell
	for i, st := range s.job.Plan.GetStructures() {
		number := cell{{text: fmt.Sprint(i + 1), face: "B", size: s.pt(8)}}
		name := cell{{text: st.GetStructure(), face: "B", size: s.pt(8)}, s.quiet(st.GetNote())}
		var found bool
		for _, c := range st.GetCandidates() {
			if !c.GetChosen() {
				continue
			}
			rows = append(rows, append([]cell{number, name}, s.planCells(c, st.GetGap())...))
			found, number, name = true, nil, nil
		}
		if !found {
			gap := st.GetGap()
			if gap == "" {
				gap = "no picture chosen"
			}
			rows = append(rows, []cell{number, name, {{text: "none", size: s.pt(8), ink: alert}}, {{text: gap, size: s.pt(7.5), ink: alert}}, nil, nil, nil})
		}
	}
	return compact(rows)
}

func (s *sheets) planCells(c *pb.PlanCandidate, gap string) []cell {
	small := s.pt(7.5)
	pic := cell{
		{text: title(c.GetPicture()), size: small},
		{text: c.GetAcceptedName(), face: italic("", c.GetAcceptedName()), size: small},
		s.quiet(joined(", ", c.GetPicture().GetName(), mirrored(c))),
	}
	why := cell{{text: reasons(c), size: small}, {text: gap, size: small, ink: alert, gap: 0.5}}
	return []cell{pic, why, s.printCell(c.GetScale()), s.cautions(c, small), {{text: c.GetRights(), size: small}}}
}

// printCell says what becomes of a picture in print.
func (s *sheets) printCell(sc *pb.PictureScale) cell {
	if !positive(sc.GetToSizeMmPerPixel()) {
		return cell{{text: "no scale", size: s.pt(7.5), ink: alert}}
	}
	out := cell{}
	if f := sc.GetFactor(); positive(f) {
		out = append(out, para{text: times(f), size: s.pt(7.5)})
	}
	if e := sc.GetEffectivePpi(); positive(e) {
		out = append(out, para{text: figure(e, 3) + " ppi", size: s.pt(7.5)})
	}
	for _, w := range sc.GetWarnings() {
		out = append(out, para{text: w, size: s.pt(6.5), ink: alert})
	}
	return out
}

// cautions are the differences and the damage of a candidate.
func (s *sheets) cautions(c *pb.PlanCandidate, size float64) cell {
	var out cell
	for _, d := range c.GetDifferences() {
		out = append(out, para{text: d, size: size, ink: alert, gap: 0.4})
	}
	if d := c.GetDamage(); d != "" {
		out = append(out, para{text: d, size: size, gap: 0.4})
	}
	return out
}

func (s *sheets) quiet(t string) para { return para{text: t, size: s.pt(6.5), ink: gray} }

// compact drops paragraphs without words.
func compact(rows [][]cell) [][]cell {
	for _, row := range rows {
		for i, c := range row {
			row[i] = worded(c)
		}
	}
	return rows
}
