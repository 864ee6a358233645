package sheet

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
)

func (s *sheets) rule(y, width float64) {
	s.pdf.SetDrawColor(150, 150, 150)
	s.pdf.SetLineWidth(width)
	s.pdf.Line(margin, y, s.page.w-margin, y)
}

func (s *sheets) font(p para) {
	s.pdf.SetFont("go", p.face, p.size)
	s.pdf.SetTextColor(p.ink.r, p.ink.g, p.ink.b)
}

// lineAt sets one line whose upper edge is y, unbroken, beginning, centered or ending at x.
func (s *sheets) lineAt(p para, x, y float64, align string) {
	s.font(p)
	if p.box {
		side := p.size * 0.3528 * 0.85
		s.pdf.SetDrawColor(0, 0, 0)
		s.pdf.SetLineWidth(0.25)
		s.pdf.Rect(x, y+0.2, side, side, "D")
		return
	}
	t := clean(p.text)
	switch align {
	case "R":
		x -= s.pdf.GetStringWidth(t)
	case "C":
		x -= s.pdf.GetStringWidth(t) / 2
	}
	s.pdf.Text(x, y+p.size*0.3528, t)
}

// within shortens a line to a width.
func (s *sheets) within(p para, width float64) string {
	s.font(p)
	t := []rune(clean(p.text))
	if s.pdf.GetStringWidth(string(t)) <= width {
		return string(t)
	}
	for len(t) > 0 && s.pdf.GetStringWidth(string(t)+"…") > width {
		t = t[:len(t)-1]
	}
	return strings.TrimRight(string(t), " ,;") + "…"
}

func (s *sheets) lines(p para, width float64) []string {
	s.font(p)
	return s.pdf.SplitText(clean(p.text), width)
}

// height is what paragraphs take in a column, mm.
func (s *sheets) height(ps []para, width float64) float64 {
	h := 0.0
	for i, p := range ps {
		h += float64(len(s.lines(p, width))) * p.leading()
		if i > 0 {
			h += p.gap
		}
	}
	return h
}

// text sets one paragraph from y on and tells where it ends.
func (s *sheets) text(p para, x, y, width float64) float64 {
	for _, l := range s.lines(p, width) {
		s.lineAt(para{text: strings.TrimRight(l, " "), face: p.face, size: p.size, ink: p.ink, box: p.box}, x, y, "L")
		y += p.leading()
	}
	return y
}

// column sets paragraphs from y on and tells where they end.
func (s *sheets) column(ps []para, x, y, width float64) float64 {
	for i, p := range ps {
		if i > 0 {
			y += p.gap
		}
		y = s.text(p, x, y, width)
	}
	return y
}

// image draws a cut; while pages are counted, only where it would be.
func (s *sheets) image(p *piece, x, y, w, h float64) {
	if s.pages > 0 && p.file != "" {
		o := fpdf.ImageOptions{ImageType: p.kind, AllowNegativePosition: true}
		name := filepath.Base(p.file)
		if s.pdf.GetImageInfo(name) == nil {
			b, err := os.ReadFile(p.file)
			if err != nil {
				s.pdf.SetError(fmt.Errorf("read a cut: %w", err))
				return
			}
			s.pdf.RegisterImageOptionsReader(name, o, bytes.NewReader(b))
		}
		s.pdf.ImageOptions(name, x, y, w, h, false, o, 0, "")
	}
	s.pdf.SetDrawColor(185, 185, 185)
	s.pdf.SetLineWidth(0.1)
	s.pdf.Rect(x, y, w, h, "D")
}

// clean takes out what no line can hold.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case unicode.IsControl(r) || r == '\u200b' || r == '\ufeff' || unicode.Is(unicode.Bidi_Control, r):
			return -1
		}
		return r
	}, s)
}
