package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// rayRoom is the height of a drawn map of ray bases, mm of A4.
const rayRoom = 34.0

// rayMap is the map of a structure, nil if there is none that can be drawn.
func (s *sheets) rayMap(structure string) *pb.RayMap {
	for _, m := range s.job.Plan.GetRayMaps() {
		if m.GetStructure() == structure && len(m.GetBases()) > 1 {
			return m
		}
	}
	return nil
}

// baseLength is the length of a fin's base in print, mm: from its first to its last base. 0 if the printed size is unknown.
func (s *sheets) baseLength(m *pb.RayMap) float64 {
	sl := s.job.Plan.GetSize().GetPrintedStandardLengthMm()
	if !positive(sl) {
		mag, _ := s.job.magnification()
		sl = s.job.Plan.GetSize().GetStandardLengthMm() * mag
	}
	if !positive(sl) {
		return 0
	}
	b := m.GetBases()
	first, last := b[0], b[len(b)-1]
	return sl * math.Hypot(last.GetOfStandardLength()-first.GetOfStandardLength(), last.GetAboveMidline()-first.GetAboveMidline())
}

// rayFigure draws the bases of a fin as ticks along a line: spines long and heavy, rays short and fine, each with its number as far as there is room.
func (s *sheets) rayFigure(m *pb.RayMap, x, y float64, room extent) {
	length, caption := room.w*0.96, "Bases of spines and rays along the fin's base; not to scale"
	if base := s.baseLength(m); positive(base) {
		factor := 1.0
		for _, f := range []float64{10, 5, 4, 3, 2, 1, 0.5, 0.2, 0.1} {
			if factor = f; base*f <= length {
				break
			}
		}
		if base*factor <= length {
			length = base * factor
			caption = fmt.Sprintf("Bases of spines and rays along the fin's base of %s mm in print, drawn %s", figure(base, 3), times(factor))
		}
	}
	y += 3
	s.rule2(x, y, room.w)
	s.lineAt(para{text: caption, size: s.pt(7.5)}, x, y+2, "L")
	from := joined(", ", led("carried over from ", m.GetAcceptedName()), m.GetPicture(), joined("; ", m.GetRemarks()...))
	note := s.quiet(from)
	note.text = s.within(note, room.w)
	s.lineAt(note, x, y+2+4*s.zoom, "L")
	s.ticks(m.GetBases(), x+1, y+room.h-9*s.zoom, length-2)
}

func (s *sheets) rule2(x, y, width float64) {
	s.pdf.SetDrawColor(200, 200, 200)
	s.pdf.SetLineWidth(0.15)
	s.pdf.Line(x, y, x+width, y)
}

// ticks draws the bases over a line of a length, from the front at the left.
func (s *sheets) ticks(bases []*pb.RayBase, x, y, length float64) {
	p := s.pdf
	p.SetDrawColor(0, 0, 0)
	p.SetLineWidth(0.25)
	p.Line(x, y, x+length, y)
	free := math.Inf(-1) // where the label before ends
	for i, b := range bases {
		at := x + length*min(max(b.GetOfBase(), 0), 1)
		tall, width := 4.0*s.zoom, 0.2
		if b.GetSpine() {
			tall, width = 7.0*s.zoom, 0.45
		}
		p.SetLineWidth(width)
		p.Line(at, y, at, y-tall)
		label := para{text: baseLabel(b), size: s.pt(5.5)}
		s.font(label)
		w := p.GetStringWidth(label.text)
		last := i == len(bases)-1 || bases[i+1].GetSpine() != b.GetSpine()
		if at-w/2 < free+0.6 && !last || at-w/2 < free {
			continue
		}
		s.lineAt(label, at, y+1, "C")
		free = at + w/2
	}
}

// baseLabel is the number as ichthyologists write it: Roman for spines, Arabic for rays.
func baseLabel(b *pb.RayBase) string {
	if b.GetSpine() {
		return roman(int(b.GetNumber()))
	}
	return fmt.Sprint(b.GetNumber())
}

func roman(n int) string {
	if n <= 0 || n > 399 { // no fin has so many spines
		return fmt.Sprint(n)
	}
	var out strings.Builder
	for _, d := range []struct {
		value int
		digit string
	}{{100, "C"}, {90, "XC"}, {50, "L"}, {40, "XL"}, {10, "X"}, {9, "IX"}, {5, "V"}, {4, "IV"}, {1, "I"}} {
		for ; n >= d.value; n -= d.value {
			out.WriteString(d.digit)
		}
	}
	return out.String()
}

// rayTable is the maps in figures, for those who measure.
func (s *sheets) rayTable() {
	maps := slices.DeleteFunc(slices.Clone(s.job.Plan.GetRayMaps()), func(m *pb.RayMap) bool { return len(m.GetBases()) == 0 })
	if len(maps) == 0 {
		return
	}
	y := s.newPage("bases of spines and rays", "")
	f := &flow{s: s, x: margin, width: s.width(), y: y, again: func() float64 { return s.newPage("bases of spines and rays", "continued") }}
	f.add(para{text: "Way along the fin's base in hundredths of it; along the midline from the snout tip, and above it, in hundredths of the standard length.", size: s.pt(7.5), ink: gray})
	for _, m := range maps {
		if f.y+30*s.zoom > s.bottom() {
			f.y = f.again()
		}
		f.add(worded([]para{{text: m.GetStructure(), face: "B", size: s.pt(9), gap: 3},
			s.quiet(joined(", ", led("from ", m.GetAcceptedName()), m.GetPicture(), joined("; ", m.GetRemarks()...)))})...)
		s.rayRows(f, m.GetBases())
	}
}

// rayRows sets the bases in as many columns as fit, each a line of four figures.
func (s *sheets) rayRows(f *flow, bases []*pb.RayBase) {
	head, block := 14*s.zoom, 13*s.zoom
	line := 3.6 * s.zoom
	per := max(1, int((s.width()-head)/block))
	for len(bases) > 0 {
		n := min(per, len(bases))
		if f.y+4.5*line > s.bottom() {
			f.y = f.again()
		}
		f.y += 1
		for r, label := range []string{"", "of base", "of SL", "above"} {
			s.lineAt(para{text: label, size: s.pt(6.5), ink: gray}, f.x, f.y+float64(r)*line, "L")
		}
		for i, b := range bases[:n] {
			x := f.x + head + float64(i+1)*block - 3
			for r, t := range []string{baseLabel(b), hundredths(b.GetOfBase()), hundredths(b.GetOfStandardLength()), hundredths(b.GetAboveMidline())} {
				face := ""
				if r == 0 {
					face = "B"
				}
				s.lineAt(para{text: t, face: face, size: s.pt(7)}, x, f.y+float64(r)*line, "R")
			}
		}
		f.y += 4 * line
		bases = bases[n:]
	}
}

func hundredths(f float64) string { return fmt.Sprintf("%.1f", 100*f) }
