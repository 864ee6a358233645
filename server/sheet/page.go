package sheet

import (
	"context"
	"fmt"
	"io"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gobolditalic"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/imaging"
)

// Measures of a page, mm.
const (
	margin = 12.0
	foot   = 11.0 // above the lower margin
	gutter = 8.0  // between columns
)

// ink is a color of text, 0 to 255.
type ink struct{ r, g, b int }

var (
	black = ink{0, 0, 0}
	gray  = ink{105, 105, 105}
	alert = ink{158, 42, 30} // what must not be missed: gaps, differences
)

// para is a paragraph: its lines break where the column ends.
type para struct {
	text string
	face string // "", B, I or BI
	size float64
	ink  ink
	gap  float64 // before it, mm
	box  bool    // a box to tick instead of words, since the fonts have none; text is a space
}

func (p para) leading() float64 { return p.size * 0.3528 * 1.32 }

// sheets is one run of typesetting.
type sheets struct {
	pdf    *fpdf.Fpdf
	job    Job
	body   *piece
	chosen []*piece
	left   []left
	page   extent // mm
	zoom   float64
	pages  int // 0 while they are being counted; nothing is drawn then but words
	bars   []placed
}

// placed is a scale bar as drawn, mm from the page's upper left corner.
type placed struct {
	page int
	x, y float64
	bar  bar
}

// PDF sets a plan for print. Crops that can't be made are told on the pages; the error is the context's, the Cutter's or the writer's.
func PDF(ctx context.Context, j Job, cutter Cutter, w io.Writer) error {
	s, err := prepared(ctx, j, cutter)
	if err != nil {
		return err
	}
	return s.set(ctx, w)
}

// prepared has cut the crops and counted the pages.
func prepared(ctx context.Context, j Job, cutter Cutter) (*sheets, error) {
	if err := j.check(); err != nil {
		return nil, err
	}
	s := newSheets(j)
	all := s.chosen
	if s.body != nil {
		all = append([]*piece{s.body}, all...)
	}
	if err := cutAll(ctx, cutter, j.Dir, batches(all, func(p *piece) imaging.Cut { return sheetCut(p, s.largest(p)) })); err != nil {
		return nil, err
	}
	s.left = leftOut(j, s.body, s.chosen)
	if err := s.set(ctx, io.Discard); err != nil {
		return nil, err
	}
	s.pages = s.pdf.PageCount()
	return s, nil
}

func newSheets(j Job) *sheets {
	s := &sheets{job: j, page: extent{297, 210}, zoom: 1}
	if j.Paper == pb.Paper_PAPER_A3 {
		s.page, s.zoom = extent{420, 297}, 1.2
	}
	s.body, s.chosen = pieces(j)
	return s
}

func (s *sheets) set(ctx context.Context, w io.Writer) error {
	p := fpdf.New("L", "mm", paperName(s.job.Paper), "")
	s.pdf, s.bars = p, nil
	p.SetCatalogSort(true)
	p.SetCreationDate(s.job.Made)
	p.SetModificationDate(s.job.Made)
	p.SetTitle(clean(s.title()), true)
	p.SetSubject(clean(s.job.Plan.GetBrief()), true)
	p.SetMargins(margin, margin, margin)
	p.SetCellMargin(0)
	p.SetAutoPageBreak(false, 0)
	p.AddUTF8FontFromBytes("go", "", goregular.TTF)
	p.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	p.AddUTF8FontFromBytes("go", "I", goitalic.TTF)
	p.AddUTF8FontFromBytes("go", "BI", gobolditalic.TTF)
	p.SetFooterFunc(s.foot)
	for _, part := range []func(){s.overview, s.composite, s.structures, s.rayTable, s.checklist} {
		if err := ctx.Err(); err != nil {
			return err
		}
		part()
	}
	if s.pages == 0 && p.Ok() {
		return nil // counted
	}
	if err := p.Output(w); err != nil {
		return fmt.Errorf("set the sheets: %w", err)
	}
	return nil
}

func paperName(p pb.Paper) string {
	if p == pb.Paper_PAPER_A3 {
		return "A3"
	}
	return "A4"
}

func (s *sheets) title() string {
	if t := s.job.Plan.GetTitle(); t != "" {
		return t
	}
	return "Plan for " + s.job.Plan.GetAcceptedName()
}

// newPage begins a page of a section, with a line that says which, and what at the right.
func (s *sheets) newPage(section, right string) (y float64) {
	s.pdf.AddPage()
	line := 4.2 * s.zoom
	title := para{text: s.title(), face: "B", size: s.pt(8)}
	title.text = s.within(title, s.page.w*0.38-margin)
	s.lineAt(title, margin, margin, "L")
	s.lineAt(para{text: section, size: s.pt(8), ink: gray}, s.page.w/2, margin, "C")
	s.lineAt(para{text: right, size: s.pt(8)}, s.page.w-margin, margin, "R")
	s.rule(margin+line+0.6, 0.25)
	return margin + line + 4
}

// bottom is where what a page holds must end.
func (s *sheets) bottom() float64 { return s.page.h - margin - foot }

func (s *sheets) width() float64 { return s.page.w - 2*margin }

// pt is a size of type for the paper in use, points.
func (s *sheets) pt(size float64) float64 { return size * s.zoom }

// foot stands on every page: caution, plan, number.
func (s *sheets) foot() {
	y := s.page.h - margin - foot + 3.5
	s.rule(y, 0.15)
	small := func(t string) para { return para{text: t, size: s.pt(6.5), ink: gray} }
	from := "plan at commit " + fmt.Sprint(s.job.Plan.GetSequence())
	if b := s.job.Plan.GetBrief(); b != "" {
		from = b + " · " + from
	}
	s.lineAt(small(caution), margin, y+1.2, "L")
	s.lineAt(small(from+" · "+s.job.Made.Format("2 January 2006")), margin, y+1.2+3.2*s.zoom, "L")
	s.lineAt(small(fmt.Sprintf("page %d of %d", s.pdf.PageNo(), s.pages)), s.page.w-margin, y+1.2, "R")
}
