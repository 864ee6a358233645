package archive

import (
	"math"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// picture verifies what can be seen from the record alone.
func (c *checks) picture(p *pb.Picture) {
	if p.GetKind() == pb.Kind_KIND_UNSPECIFIED {
		c.add("kind", "is missing; want plate, study or reference")
	}
	c.known("kind", int32(p.GetKind()), pb.Kind_name)
	c.known("view", int32(p.GetView()), pb.View_name)
	c.known("stage", int32(p.GetStage()), pb.Stage_name)
	if strings.TrimSpace(p.GetTitle()) == "" {
		c.add("title", "is missing")
	}
	c.text("title", p.GetTitle(), maxTitle)
	c.text("notes", p.GetNotes(), maxText)
	c.text("technique", p.GetTechnique(), maxWord)
	c.text("job", p.GetJob(), maxWord)
	c.text("rights_holder", p.GetRightsHolder(), maxWord)
	c.text("provenance.file_name", p.GetProvenance().GetFileName(), maxWord)
	c.text("provenance.import_id", p.GetProvenance().GetImportId(), maxWord)
	c.identification("identification", p.GetIdentification())
	c.edtf("created", p.GetCreated())
	c.list("creators", p.GetCreators())
	c.list("keywords", p.GetKeywords())
	c.list("credit_parts", p.GetCreditParts())
	if len(p.GetDerivedFrom()) > maxList {
		c.add("derived_from", "has %d entries; want at most %d", len(p.GetDerivedFrom()), maxList)
	}
	c.rightsStatement("rights_statement", p.GetRightsStatement())
	c.structures(p.GetStructures())
	c.landmarks(p.GetLandmarks())
	c.calibration(p.GetCalibration())
}

// identification verifies the words of an identification.
func (c *checks) identification(field string, id *pb.Identification) {
	c.text(field+".scientific_name", id.GetScientificName(), maxWord)
	c.text(field+".qualifier", id.GetQualifier(), maxWord)
	c.text(field+".identified_by", id.GetIdentifiedBy(), maxWord)
	c.edtf(field+".identified_on", id.GetIdentifiedOn())
}

func (c *checks) list(field string, list []string) {
	if len(list) > maxList {
		c.add(field, "has %d entries; want at most %d", len(list), maxList)
		return
	}
	for i, s := range list {
		if strings.TrimSpace(s) == "" {
			c.add(indexed(field, i), "is empty")
		}
		c.text(indexed(field, i), s, maxWord)
	}
}

func (c *checks) structures(list []*pb.Structure) {
	if len(list) > maxStructures {
		c.add("structures", "has %d entries; want at most %d", len(list), maxStructures)
		return
	}
	for i, s := range list {
		field := indexed("structures", i)
		c.text(field+".structure", s.GetStructure(), maxWord)
		if strings.ContainsAny(s.GetStructure(), "=;@") {
			c.add(field+".structure", "found %q; want a name without = ; @", s.GetStructure())
		}
		c.text(field+".note", s.GetNote(), maxText)
		c.known(field+".completeness", int32(s.GetCompleteness()), pb.Completeness_name)
		if r := s.GetRegion(); r != nil {
			c.region(field+".region", r)
		}
	}
}

// region verifies a rectangle in fractions; a hair of rounding beyond the edge is taken.
func (c *checks) region(field string, r *pb.Region) {
	const hair = 1e-6
	c.fraction(field+".x", r.GetX())
	c.fraction(field+".y", r.GetY())
	if !(r.GetWidth() > 0) || r.GetX()+r.GetWidth() > 1+hair {
		c.add(field+".width", "found %v from x %v; want above 0 and not beyond the right edge (x + width at most 1)", r.GetWidth(), r.GetX())
	}
	if !(r.GetHeight() > 0) || r.GetY()+r.GetHeight() > 1+hair {
		c.add(field+".height", "found %v from y %v; want above 0 and not beyond the lower edge (y + height at most 1)", r.GetHeight(), r.GetY())
	}
}

func (c *checks) fraction(field string, x float64) {
	if !(x >= 0 && x <= 1) { // also refuses NaN
		c.add(field, "found %v; want a fraction from 0 to 1", x)
	}
}

func (c *checks) landmarks(list []*pb.Landmark) {
	if len(list) > maxLandmarks {
		c.add("landmarks", "has %d entries; want at most %d", len(list), maxLandmarks)
		return
	}
	for i, l := range list {
		if strings.TrimSpace(l.GetLandmark()) == "" {
			c.add(indexed("landmarks", i)+".landmark", "is empty; want a name such as snout tip")
		}
		c.text(indexed("landmarks", i)+".landmark", l.GetLandmark(), maxWord)
		c.fraction(indexed("landmarks", i)+".x", l.GetX())
		c.fraction(indexed("landmarks", i)+".y", l.GetY())
	}
}

func (c *checks) calibration(k *pb.Calibration) {
	if k == nil {
		return
	}
	c.fraction("calibration.x1", k.GetX1())
	c.fraction("calibration.y1", k.GetY1())
	c.fraction("calibration.x2", k.GetX2())
	c.fraction("calibration.y2", k.GetY2())
	c.text("calibration.basis", k.GetBasis(), maxWord)
	if math.Hypot(k.GetX2()-k.GetX1(), k.GetY2()-k.GetY1()) == 0 {
		c.add("calibration", "both ends are the same point; want the two ends of the bar or length")
	}
	if !(k.GetLengthMm() > 0) || math.IsInf(k.GetLengthMm(), 0) {
		c.add("calibration.length_mm", "found %v; want the true length, above 0", k.GetLengthMm())
	}
}

// rightsStatement takes a URI of RightsStatements.org or Creative Commons; other statements belong in words into notes or grants.
func (c *checks) rightsStatement(field, s string) {
	if s == "" {
		return
	}
	rest := strings.TrimPrefix(strings.TrimPrefix(s, "https://"), "http://")
	if rest == s || !strings.HasPrefix(rest, "rightsstatements.org/") && !strings.HasPrefix(rest, "creativecommons.org/") {
		c.add(field, "found %q; want the URI of a statement at rightsstatements.org or a licence at creativecommons.org, or nothing", s)
	}
	c.text(field, s, maxWord)
}
