package commission

import (
	"errors"
	"fmt"

	pb "platarium/proto/platarium/v1"
	"platarium/server/scale"
)

// size is how large the animal is and how large it is to be printed: standard lengths, mm; 0 if unknown.
type size struct {
	animal  float64
	basis   string
	printed float64
}

func (s size) magnification() float64 {
	if s.animal == 0 {
		return 0
	}
	return s.printed / s.animal
}

// lengthsOf lists the lengths measured on a specimen that are known here.
func lengthsOf(s *pb.Specimen) []scale.Known {
	var out []scale.Known
	for _, m := range s.GetMeasurements() {
		k, err := scale.ParseMeasurement(m.GetMeasurement())
		if err != nil || !(m.GetValueMm() > 0) {
			continue // of another kind than landmarks measure
		}
		out = append(out, scale.Known{Measurement: k, MM: m.GetValueMm(), Uncertainty: m.GetUncertaintyMm() / m.GetValueMm()})
	}
	return out
}

func lengthOf(s *pb.Specimen, m scale.Measurement) (mm float64, ok bool) {
	for _, k := range lengthsOf(s) {
		if k.Measurement == m {
			return k.MM, true
		}
	}
	return 0, false
}

// standardLength is that of a specimen: as measured, else told from another length by a published relation of its species; 0 if it can't be told.
func standardLength(s *pb.Specimen, species string) (mm float64, basis string) {
	if mm, ok := lengthOf(s, scale.SL); ok {
		return mm, "measured on " + s.GetName()
	}
	for _, m := range []scale.Measurement{scale.FL, scale.TL} {
		if mm, ok := lengthOf(s, m); ok {
			if c, err := scale.Convert(scale.PublishedRelations(), species, m, mm, scale.SL); err == nil && !c.Hint {
				return c.MM, c.Basis
			}
		}
	}
	return 0, ""
}

// measure settles the size of the animal and of the drawing.
func (j *job) measure() {
	s := &j.size
	if j.specimen != nil {
		s.animal, s.basis = standardLength(j.specimen, j.taxon.GetScientificName())
		if s.animal == 0 {
			j.remark("%s has no standard length, nor one that a published relation of its species converts: measure it", j.specimen.GetName())
		} else if s.basis != "measured on "+j.specimen.GetName() {
			j.remark("standard length %.4g mm was told from another: %s", s.animal, s.basis)
		}
		if _, note := scale.ShrinkageNote(j.specimen.GetPreservation(), s.animal); note != "" {
			j.remark("%s: %s", j.specimen.GetName(), note)
		}
	}
	if s.animal == 0 && j.body != nil {
		if s.animal = j.body.scaled.standardLength; s.animal > 0 {
			s.basis = "of the animal in " + j.body.GetName()
			j.remark("the size of the animal is taken from the body, %s", j.body.GetName())
		}
	}
	if s.animal == 0 {
		j.remark("the true size is unknown: name a specimen with its standard length, or a body with a scale")
	}
	j.measurePrint()
}

// measurePrint tells the standard length in print from the length that the brief gives.
func (j *job) measurePrint() {
	p := j.brief.GetPrinted()
	if p == nil {
		j.remark("the printed size is not given: give the length in print, such as TL 180 mm, to have magnification, factors and resolution in print")
		return
	}
	m := scale.TL
	if p.GetMeasurement() != "" {
		m = scale.Measurement(p.GetMeasurement())
	}
	if m == scale.SL {
		j.size.printed = p.GetLengthMm()
		return
	}
	share, basis := j.standardShare(m)
	if share == 0 {
		j.remark("standard length in print can't be told from %s %.4g mm: give the size in print as SL, measure SL and %s of the specimen, or set the landmarks of both on the body", m, p.GetLengthMm(), m)
		return
	}
	j.size.printed = share * p.GetLengthMm()
	j.remark("%s %.4g mm in print is SL %.4g mm: %s", m, p.GetLengthMm(), j.size.printed, basis)
}

// standardShare is standard length over another length of the animal: from the specimen, from a published relation of its species, or from the body.
func (j *job) standardShare(m scale.Measurement) (share float64, basis string) {
	sl, okSL := lengthOf(j.specimen, scale.SL)
	if other, ok := lengthOf(j.specimen, m); ok && okSL {
		return sl / other, "both measured on " + j.specimen.GetName()
	}
	if j.size.animal > 0 {
		c, err := scale.Convert(scale.PublishedRelations(), j.taxon.GetScientificName(), scale.SL, j.size.animal, m)
		if err == nil && !c.Hint {
			return j.size.animal / c.MM, c.Basis
		}
	}
	if j.body != nil {
		if r, err := scale.ProportionOf(j.body.scaled.picture, scale.SL, m, j.tolerances); err == nil {
			return r.Value, "both measured on " + j.body.GetName()
		}
	}
	return 0, ""
}

// size message of the plan.
func (s size) message() *pb.PlanSize {
	return &pb.PlanSize{StandardLengthMm: s.animal, Basis: s.basis, PrintedStandardLengthMm: s.printed, Magnification: s.magnification()}
}

// scaled is what is known of a picture's scale.
type scaled struct {
	picture scale.Picture
	scale   scale.Scale // zero if unknown
	problem string      // why it is unknown or doubtful
	// standardLength of the animal shown, mm, and in pixels; 0 if unknown.
	standardLength float64
	pixels         float64
}

// pictureOf converts a picture's pixels and landmarks.
func pictureOf(p *pb.Picture) scale.Picture {
	o := p.GetOriginal()
	out := scale.Picture{
		Frame:     scale.Frame{Width: int(o.GetWidth()), Height: int(o.GetHeight()), PPIX: o.GetPpiX(), PPIY: o.GetPpiY()},
		Landmarks: map[string]scale.Point{},
	}
	for _, l := range p.GetLandmarks() {
		out.Landmarks[l.GetLandmark()] = scale.Point{X: l.GetX(), Y: l.GetY()}
	}
	return out
}

// scaleOf settles the scale of a picture, once.
func (p *Planner) scaleOf(s *sight) *scaled {
	if s.scaled != nil {
		return s.scaled
	}
	out := &scaled{picture: pictureOf(s.Picture)}
	s.scaled = out
	var err error
	out.scale, err = scale.Calibrate(out.picture, evidenceOf(s, out.picture, p.tolerances), p.tolerances)
	switch {
	case errors.Is(err, scale.ErrNoPixels):
		out.problem = "the record has no scan, or its size in pixels is unknown"
	case err != nil:
		out.problem = err.Error()
	}
	if l, err := scale.Measure(out.picture, scale.SL, p.tolerances); err == nil {
		out.pixels = l.Pixels
	}
	out.standardLength, _ = standardLength(s.specimen, s.animal)
	mm := out.scale.MMPerPixel
	switch {
	case mm == 0:
	case out.standardLength == 0:
		out.standardLength = out.pixels * mm
	case out.pixels == 0:
		out.pixels = out.standardLength / mm
	}
	return out
}

// evidenceOf gathers what can give a picture its scale: its bar, and the lengths of its specimen as far as landmarks show them. If neither is of use, all
// lengths are kept, so that the error names the landmarks that would help.
func evidenceOf(s *sight, pic scale.Picture, t scale.Tolerances) scale.Evidence {
	var e scale.Evidence
	if c := s.GetCalibration(); c != nil {
		e.Bars = []scale.Bar{{
			A: scale.Point{X: c.GetX1(), Y: c.GetY1()}, B: scale.Point{X: c.GetX2(), Y: c.GetY2()}, LengthMM: c.GetLengthMm(), Basis: c.GetBasis(),
		}}
	}
	all := lengthsOf(s.specimen)
	for _, k := range all {
		if _, err := scale.Measure(pic, k.Measurement, t); err == nil {
			e.Known = append(e.Known, k)
		}
	}
	if len(e.Bars)+len(e.Known) == 0 {
		e.Known = all[:min(1, len(all))]
	}
	return e
}

// scaleMessage says what becomes of a picture at the size of the drawing.
func (j *job) scaleMessage(s *sight) *pb.PictureScale {
	k := j.scaleOf(s)
	out := k.message()
	if k.pixels == 0 && k.problem == "" {
		out.Problem = "its standard length is unknown, so that it can't be brought to the size of the drawing: set the landmarks “snout tip” and “hypural end”, or name its specimen with the standard length"
	}
	if k.pixels == 0 {
		return out
	}
	out.ToSizeMmPerPixel = j.size.animal / k.pixels
	if j.size.printed == 0 {
		return out
	}
	r, err := scale.Reproduce(k.picture.Frame, k.pixels, j.size.printed, scale.Rendering(j.brief.GetRendering()), j.tolerances)
	if err != nil {
		out.Warnings = append(out.Warnings, err.Error())
		return out
	}
	out.Factor, out.EffectivePpi = r.Factor, r.EffectivePPI
	for _, w := range r.Warnings {
		out.Warnings = append(out.Warnings, w.Text)
	}
	if weight := lineWeight(j.brief.GetRendering(), r); weight != "" && s.GetStage() != pb.Stage_STAGE_REFERENCE_PHOTOGRAPH { // which has no drawn lines
		out.Warnings = append(out.Warnings, weight)
	}
	return out
}

// usualPen is the width of a line that much line art is drawn with, mm (one of the widths of ISO 9175-1, from memory).
const usualPen = 0.25

// lineWeight says what becomes of lines that are printed smaller than they were drawn; nothing of those that aren't.
func lineWeight(as pb.Rendering, r scale.Reproduction) string {
	if as != pb.Rendering_RENDERING_LINE && as != pb.Rendering_RENDERING_COMBINATION || r.Factor == 0 || r.Factor >= 1 {
		return ""
	}
	printed, hairline, thin := r.Line(usualPen)
	if thin {
		return hairline.Text
	}
	return fmt.Sprintf("a line of %.2g mm on the original prints at %.2g mm; one below %.2g mm may break up", usualPen, printed, r.FinestLine())
}

// message is the scale alone.
func (k *scaled) message() *pb.PictureScale {
	return &pb.PictureScale{MmPerPixel: k.scale.MMPerPixel, Uncertainty: k.scale.Uncertainty, Basis: k.scale.Basis, Problem: k.problem, Warnings: k.scale.Remarks}
}
