package sheet

// tableColumn is a column of a table.
type tableColumn struct {
	head  string
	width float64 // share of the page
}

// cell is what stands in one column of a row.
type cell []para

// table sets rows from y on, with rules between them, and tells where it ends. A row isn't parted; the head stands again on each page. A row that is taller than a page is cut, and says so.
func (s *sheets) table(y float64, section string, columns []tableColumn, rows [][]cell) float64 {
	all := 0.0
	for _, c := range columns {
		all += c.width
	}
	const between, space = 3.0, 1.6 // mm, columns and above and below a row
	widths := make([]float64, len(columns))
	for i, c := range columns {
		widths[i] = c.width / all * s.width()
	}
	head := func(y float64) float64 {
		x := margin
		for i, c := range columns {
			s.lineAt(para{text: c.head, size: s.pt(6.5), ink: gray}, x, y, "L")
			x += widths[i]
		}
		return y + 3.6*s.zoom
	}
	y = head(y)
	for _, row := range rows {
		h := 0.0
		top := margin + 12*s.zoom
		for i := range row {
			row[i] = s.trimmed(row[i], widths[i]-between, s.bottom()-top-2*space-6*s.zoom)
			h = max(h, s.height(row[i], widths[i]-between))
		}
		if y+h+2*space > s.bottom() {
			y = head(s.newPage(section, "continued"))
		}
		s.rule(y, 0.15)
		x := margin
		for i, c := range row {
			s.column(c, x, y+space, widths[i]-between)
			x += widths[i]
		}
		y += h + 2*space
	}
	s.rule(y, 0.15)
	return y
}

// trimmed drops what doesn't fit a height, and says that there is more.
func (s *sheets) trimmed(ps []para, width, height float64) []para {
	for n := range ps {
		if s.height(ps[:n+1], width) <= height {
			continue
		}
		return append(append([]para{}, ps[:n]...), para{text: "… and more, in the plan itself", size: s.pt(7), ink: gray})
	}
	return ps
}

// flow sets paragraphs one after another, and goes on where again says when a page is full.
type flow struct {
	s        *sheets
	x, width float64
	y        float64
	again    func() float64
}

// add sets paragraphs. A paragraph is parted only where it wouldn't fit an empty page.
func (f *flow) add(ps ...para) {
	fresh := false
	for _, p := range ps {
		f.y += p.gap
		if h := f.s.height([]para{p}, f.width); f.y+h > f.s.bottom() && !fresh {
			f.y = f.again()
		}
		fresh = false
		for _, l := range f.s.lines(p, f.width) {
			if f.y+p.leading() > f.s.bottom() {
				f.y = f.again()
			}
			f.s.lineAt(para{text: l, face: p.face, size: p.size, ink: p.ink}, f.x, f.y, "L")
			f.y += p.leading()
		}
	}
}
