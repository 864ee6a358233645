package sheet

import (
	"fmt"
	"slices"
	"strings"
)

// spot is a piece in the composite, with the structures that it serves.
type spot struct {
	*piece
	label   []para
	labelH  float64
	at      point // of the cell, in the field
	outline []outlined
}

// outlined is a structure that the body's own picture serves: it is outlined there rather than shown twice.
type outlined struct {
	number     int
	x, y, w, h float64 // mm from the picture's upper left corner
}

// narrow is the least width of a cell, so that its label can be read.
const narrow = 30.0

// composite is everything at one scale, in print as on paper.
func (s *sheets) composite() {
	spots := s.spots()
	if len(spots) == 0 {
		y := s.newPage("composite", "")
		s.text(para{text: "There is no composite: nothing that was chosen has a scale. The first pages say what would give it one.", size: s.pt(10)}, margin, y, s.width())
		return
	}
	tile := s.tile()
	cells := make([]extent, len(spots))
	for i, sp := range spots {
		w, h := sp.size()
		cells[i] = extent{max(w, narrow), sp.labelH + h}
	}
	places, g := arrange(cells, tile.extent)
	if n := g.cols * g.rows; n > mostTile {
		y := s.newPage("composite", "")
		s.text(para{text: fmt.Sprintf("There is no composite: at the size stated it would take %d pages. Is the size right, or would larger paper do?", n), size: s.pt(10)}, margin, y, s.width())
		return
	}
	for i := range spots {
		spots[i].at = places[i]
	}
	for row := range g.rows {
		for col := range g.cols {
			s.tilePage(g, tile, col, row, spots)
		}
	}
}

// tileBox is where a page shows its part of the field.
type tileBox struct {
	x, y float64
	extent
}

// barRoom is the band for the scale bar under a tile, mm.
const barRoom = 9.0

func (s *sheets) tile() tileBox {
	y := margin + 4.2*s.zoom + 3
	return tileBox{margin, y, extent{s.width(), s.bottom() - y - barRoom}}
}

// spots are the body, then the other pieces with a scale, the taller first so that rows fill well.
func (s *sheets) spots() []*spot {
	var out []*spot
	if b := s.body; b != nil && b.lack == "" {
		out = append(out, &spot{piece: b})
	}
	var rest []*spot
	for _, p := range s.chosen {
		if p.lack != "" {
			continue
		}
		if same := shown(out, rest, p); same != nil {
			same.take(p)
			continue
		}
		rest = append(rest, &spot{piece: p})
	}
	slices.SortStableFunc(rest, func(a, b *spot) int {
		_, ha := a.size()
		_, hb := b.size()
		switch {
		case ha > hb:
			return -1
		case ha < hb:
			return 1
		}
		return 0
	})
	out = append(out, rest...)
	for _, sp := range out {
		w, _ := sp.size()
		sp.label = s.spotLabel(sp)
		sp.labelH = s.height(sp.label, max(w, narrow)) + 1
	}
	return out
}

// shown is the spot that shows a piece already: the body's picture, if the piece lies within it and looks the same way, or the same part of the same picture.
func shown(body, rest []*spot, p *piece) *spot {
	for _, sp := range body {
		if sp.samePicture(p) && sp.part.holds(p.part) {
			return sp
		}
	}
	for _, sp := range rest {
		if sp.samePicture(p) && sp.part == p.part {
			return sp
		}
	}
	return nil
}

func (p *piece) samePicture(q *piece) bool {
	return p.candidate.GetPicture().GetName() == q.candidate.GetPicture().GetName() && p.candidate.GetMirror() == q.candidate.GetMirror() && p.print == q.print
}

func (b box) holds(c box) bool {
	return c.x >= b.x && c.y >= b.y && c.x+c.width <= b.x+b.width && c.y+c.height <= b.y+b.height
}

// take notes a structure that this spot shows, and where.
func (sp *spot) take(p *piece) {
	o := outlined{number: p.number}
	w, h := float64(p.part.width), float64(p.part.height)
	x := float64(p.part.x - sp.part.x)
	if p.candidate.GetMirror() {
		x = float64(sp.part.width) - x - w
	}
	y := float64(p.part.y - sp.part.y)
	o.x, o.w, o.y, o.h = x*sp.print, w*sp.print, y*sp.print*sp.aspect, h*sp.print*sp.aspect
	sp.outline = append(sp.outline, o)
}

func (s *sheets) spotLabel(sp *spot) []para {
	name := sp.structure
	if sp.number > 0 {
		name = fmt.Sprintf("%d  %s", sp.number, sp.structure)
	}
	var whole []string
	for _, o := range sp.outline {
		if w, h := sp.size(); o.w >= w && o.h >= h {
			whole = append(whole, fmt.Sprintf("%d  %s", o.number, s.job.Plan.GetStructures()[o.number-1].GetStructure()))
		}
	}
	c := sp.candidate
	return worded([]para{
		{text: strings.Join(append([]string{name}, whole...), ", "), face: "B", size: s.pt(7)},
		{text: c.GetAcceptedName(), face: italic("", c.GetAcceptedName()), size: s.pt(6.5)},
		{text: joined(", ", mirrored(c), ppi(sp.effectivePPI())), size: s.pt(6), ink: gray},
	})
}

func ppi(f float64) string {
	if !positive(f) {
		return ""
	}
	return figure(f, 3) + " ppi"
}

// tilePage draws one tile of the composite.
func (s *sheets) tilePage(g grid, box tileBox, col, row int, spots []*spot) {
	m, stated := s.job.magnification()
	section := "composite at printed size, " + times(m)
	if !stated {
		section = "composite at natural size"
	}
	where := ""
	if g.cols*g.rows > 1 {
		where = fmt.Sprintf("sheet %s of %s: row %d of %d, column %d of %d", tileName(col, row), tileName(g.cols-1, g.rows-1), row+1, g.rows, col+1, g.cols)
	}
	s.newPage(section, where)
	o := g.origin(col, row)
	p := s.pdf
	p.ClipRect(box.x, box.y, box.w, box.h, false)
	for _, sp := range spots {
		s.spot(sp, box.x+sp.at.x-o.x, box.y+sp.at.y-o.y)
	}
	for _, x := range g.marks(g.cols, g.tile.w) {
		for _, y := range g.marks(g.rows, g.tile.h) {
			s.mark(box.x+x-o.x, box.y+y-o.y)
		}
	}
	p.ClipEnd()
	y := box.y + box.h + 3
	s.bar(barFor(m, 0.3*s.page.w), margin, y)
	s.lineAt(para{text: "Print at 100 %: the bar tells whether the printer kept the size. Sheets overlap by the marks.", size: s.pt(6.5), ink: gray}, s.page.w-margin, y, "R")
}

// tileName is a tile's place: a letter for the row, a number for the column.
func tileName(col, row int) string {
	letters := ""
	for row++; row > 0; row = (row - 1) / 26 {
		letters = string(rune('A'+(row-1)%26)) + letters
	}
	return fmt.Sprintf("%s%d", letters, col+1)
}

// spot draws a piece with its label above it. What lies off the page is left to the clip.
func (s *sheets) spot(sp *spot, x, y float64) {
	w, h := sp.size()
	if x > s.page.w || y > s.page.h || x+max(w, narrow) < 0 || y+sp.labelH+h < 0 {
		return
	}
	s.column(sp.label, x, y, max(w, narrow))
	y += sp.labelH
	s.image(sp.piece, x, y, w, h)
	for _, o := range sp.outline {
		if o.w >= w && o.h >= h {
			continue
		}
		s.pdf.SetDrawColor(alert.r, alert.g, alert.b)
		s.pdf.SetLineWidth(0.15)
		s.pdf.SetDashPattern([]float64{1.2, 0.8}, 0)
		s.pdf.Rect(x+o.x, y+o.y, o.w, o.h, "D")
		s.pdf.SetDashPattern(nil, 0)
		s.tag(o.number, x+o.x, y+o.y)
	}
}

// tag is a structure's number at the corner of its outline.
func (s *sheets) tag(n int, x, y float64) {
	t := para{text: fmt.Sprint(n), face: "B", size: s.pt(6), ink: ink{255, 255, 255}}
	s.font(t)
	w, h := s.pdf.GetStringWidth(t.text)+1.4, 2.9*s.zoom
	s.pdf.SetFillColor(alert.r, alert.g, alert.b)
	s.pdf.Rect(x, y, w, h, "F")
	s.lineAt(t, x+0.7, y+0.35*s.zoom, "L")
}

// mark is a registration mark: a cross in a circle.
func (s *sheets) mark(x, y float64) {
	const arm, radius = 3.2, 1.6
	s.pdf.SetDrawColor(0, 0, 0)
	s.pdf.SetLineWidth(0.1)
	s.pdf.Line(x-arm, y, x+arm, y)
	s.pdf.Line(x, y-arm, x, y+arm)
	s.pdf.Circle(x, y, radius, "D")
}

// bar draws a scale bar whose left end is x, with what it stands for beside it.
func (s *sheets) bar(b bar, x, y float64) {
	if b == (bar{}) {
		return
	}
	const thick = 1.2
	s.pdf.SetFillColor(0, 0, 0)
	s.pdf.Rect(x, y, b.paperMM, thick, "F")
	s.bars = append(s.bars, placed{s.pdf.PageNo(), x, y + thick/2, b})
	s.lineAt(para{text: b.String(), size: s.pt(7)}, x, y+thick+1, "L")
}
