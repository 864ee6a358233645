package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// Marks are written as text, one a line, in pixels of the scan from its upper left corner: so they can be entered and mended without a script, and the script writes the same text.
//
//	landmark:   opercle edge: 1023.5, 411
//	structure:  opercle; complete; 812, 340, 220, 310; seen from outside

// pixelDigits are the digits behind the point: a thousandth of a pixel is far below what a hand can place.
const pixelDigits = 3

// slip is a line that can't be read.
type slip struct {
	line       int
	found      string
	wantedForm string
}

// Error says which line, what was found and what is wanted.
func (s *slip) Error() string {
	return fmt.Sprintf("line %d: found %q; want %s", s.line, s.found, s.wantedForm)
}

// paper is the extent of a scan in pixels, by which fractions become pixels.
type paper struct{ width, height float64 }

func paperOf(p *pb.Picture) paper {
	o := p.GetOriginal()
	if o.GetWidth() <= 0 || o.GetHeight() <= 0 {
		return paper{1000, 1000} // without a scan, marks are in thousandths of its sides
	}
	return paper{float64(o.GetWidth()), float64(o.GetHeight())}
}

func pixels(fraction, of float64) string {
	s := strconv.FormatFloat(fraction*of, 'f', pixelDigits, 64)
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// landmarkText writes landmarks.
func (s paper) landmarkText(list []*pb.Landmark) string {
	var b strings.Builder
	for _, m := range list {
		fmt.Fprintf(&b, "%s: %s, %s\n", m.GetLandmark(), pixels(m.GetX(), s.width), pixels(m.GetY(), s.height))
	}
	return b.String()
}

// readLandmarks reads landmarks. One that is written as a known one was keeps its exact place.
func (s paper) readLandmarks(text string, known []*pb.Landmark) ([]*pb.Landmark, error) {
	var out []*pb.Landmark
	for n, line := range lines(text) {
		name, place, ok := strings.Cut(line, ":")
		at, err := s.points(place, 2)
		name = strings.TrimSpace(name)
		if !ok || err != nil || name == "" {
			return nil, &slip{n, line, `a name, a colon and two numbers within the scan, such as "snout tip: 120, 433.5"`}
		}
		m := &pb.Landmark{Landmark: name, X: at[0], Y: at[1]}
		for _, k := range known {
			if k.GetLandmark() == name && pixels(k.GetX(), s.width) == pixels(m.GetX(), s.width) && pixels(k.GetY(), s.height) == pixels(m.GetY(), s.height) {
				m.X, m.Y = k.GetX(), k.GetY()
			}
		}
		out = append(out, m)
	}
	return out, nil
}

// structureText writes structures.
func (s paper) structureText(list []*pb.Structure) string {
	var b strings.Builder
	for _, t := range list {
		parts := []string{t.GetStructure(), word(t.GetCompleteness()), s.regionText(t.GetRegion()), t.GetNote()}
		for len(parts) > 1 && parts[len(parts)-1] == "" {
			parts = parts[:len(parts)-1]
		}
		b.WriteString(strings.Join(parts, "; ") + "\n")
	}
	return b.String()
}

func (s paper) regionText(r *pb.Region) string {
	if r == nil {
		return ""
	}
	return strings.Join([]string{pixels(r.GetX(), s.width), pixels(r.GetY(), s.height), pixels(r.GetWidth(), s.width), pixels(r.GetHeight(), s.height)}, ", ")
}

// readStructures reads structures. A region that is written as a known one was stays exactly as it was.
func (s paper) readStructures(text string, known []*pb.Structure) ([]*pb.Structure, error) {
	var out []*pb.Structure
	for n, line := range lines(text) {
		parts := append(strings.SplitN(line, ";", 4), "", "", "")
		for i := range parts {
			parts[i] = strings.TrimSpace(parts[i])
		}
		t := &pb.Structure{Structure: parts[0], Completeness: valueOf[pb.Completeness](parts[1]), Note: parts[3]}
		bad := &slip{n, line, `a name, how complete it is, and four numbers within the scan (left, top, width, height), such as "opercle; complete; 812, 340, 220, 310"`}
		if t.GetStructure() == "" || parts[1] != "" && t.GetCompleteness() == 0 {
			return nil, bad
		}
		if parts[2] != "" {
			at, err := s.points(parts[2], 4)
			if err != nil || at[2] <= 0 || at[3] <= 0 {
				return nil, bad
			}
			t.Region = &pb.Region{X: at[0], Y: at[1], Width: min(at[2], 1-at[0]), Height: min(at[3], 1-at[1])}
			for _, k := range known {
				if k.GetStructure() == t.GetStructure() && s.regionText(k.GetRegion()) == s.regionText(t.GetRegion()) {
					t.Region = k.GetRegion()
				}
			}
		}
		out = append(out, t)
	}
	return out, nil
}

// points reads numbers in pixels, across and down in turn, as fractions.
func (s paper) points(text string, want int) ([]float64, error) {
	parts := strings.Split(text, ",")
	if len(parts) != want {
		return nil, strconv.ErrSyntax
	}
	out := make([]float64, want)
	for i, p := range parts {
		x, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		of := s.width
		if i%2 == 1 {
			of = s.height
		}
		if out[i] = x / of; err != nil || math.IsNaN(x) || out[i] < 0 || out[i] > 1 {
			return nil, strconv.ErrRange
		}
	}
	return out, nil
}

// lines yields the lines of a text that hold something, with their numbers from 1.
func lines(text string) func(func(int, string) bool) {
	return func(yield func(int, string) bool) {
		n := 0
		for line := range strings.Lines(text) {
			n++
			if line = strings.TrimSpace(line); line != "" && !yield(n, line) {
				return
			}
		}
	}
}
