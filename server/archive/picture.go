package archive

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// Limits of a picture record. They keep a record far below the size of a commit.
const (
	maxTitle      = 500    // bytes
	maxText       = 20_000 // bytes, of notes
	maxWord       = 300    // bytes, of names and short texts
	maxStructures = 200
	maxLandmarks  = 1000
	maxList       = 100 // creators, keywords, sources
)

// CreatePicture makes a picture under id, or under an id of its own making.
func (a *Archive) CreatePicture(ctx context.Context, by Caller, p *pb.Picture, id string) (*pb.Picture, error) {
	mut, err := a.pictureCreation(ctx, by, p, id)
	if err != nil {
		return nil, err
	}
	outcomes := a.submitEach(ctx, []*mutation{mut})
	return first[*pb.Picture](outcomes[0].result, outcomes[0].err)
}

// pictureCreation prepares a creation: all that needs no lock is done here, what depends on other records when the commit is built.
func (a *Archive) pictureCreation(ctx context.Context, by Caller, p *pb.Picture, id string) (*mutation, error) {
	name, err := a.newName(Pictures, id)
	if err != nil {
		return nil, err
	}
	given := proto.Clone(p).(*pb.Picture)
	clearOwned(given, nil)
	next := proto.Clone(given).(*pb.Picture)
	if err := a.preparePicture(ctx, next); err != nil {
		return nil, err
	}
	given.Name = id // so that the fingerprint covers the id wanted
	return newMutation("CreatePicture", by, []proto.Message{given}, func(v *View) error {
		if err := v.validPicture(next, name); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Picture), name)
	})
}

// UpdatePicture changes the masked fields of a picture.
func (a *Archive) UpdatePicture(ctx context.Context, by Caller, p *pb.Picture, mask []string) (*pb.Picture, error) {
	given := proto.Clone(p).(*pb.Picture)
	if err := a.preparePicture(ctx, given); err != nil {
		return nil, err
	}
	return first[*pb.Picture](a.submit(ctx, "UpdatePicture", by, []proto.Message{p, maskMessage(mask)}, func(v *View) error {
		return update(v, given, mask, nil, func(v *View, next, _ *pb.Picture) error { return v.validPicture(next, next.GetName()) })
	}))
}

// DeletePicture deletes a picture that nothing derives from and no grant or use names.
func (a *Archive) DeletePicture(ctx context.Context, by Caller, name, etag string) error {
	_, err := a.submit(ctx, "DeletePicture", by, []proto.Message{&pb.DeletePictureRequest{Name: name, Etag: etag}}, func(v *View) error {
		return deletion(v, name, etag, func(v *View, _ *pb.Picture) error { return v.unused(name) })
	})
	return err
}

// preparePicture fills what the server finds out by itself: the taxon of a name, the reading of the counts, the header of the original.
func (a *Archive) preparePicture(ctx context.Context, p *pb.Picture) error {
	var c checks
	a.resolveIdentification(&c, "identification", p.Identification)
	readCounts(&c, "counts", p.Counts)
	for i, s := range p.GetStructures() {
		s.Structure = normalStructure(s.GetStructure())
		if s.GetStructure() == "" {
			c.add(indexed("structures", i)+".structure", "is empty; want the part's name, such as first dorsal fin")
		}
	}
	if err := a.describeOriginal(ctx, &c, p); err != nil {
		return err
	}
	return c.err()
}

// normalStructure folds case and space, so that one structure has one name.
func normalStructure(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// validPicture verifies a whole picture against its own rules and the records it names.
func (v *View) validPicture(p *pb.Picture, name string) error {
	var c checks
	c.picture(p)
	if err := v.mustExist(&c, "identification.taxon", p.GetIdentification().GetTaxon(), Taxa, false); err != nil {
		return err
	}
	if err := v.mustExist(&c, "specimen", p.GetSpecimen(), Specimens, false); err != nil {
		return err
	}
	if strings.HasPrefix(p.GetRightsHolder(), Parties+"/") {
		if err := v.mustExist(&c, "rights_holder", p.GetRightsHolder(), Parties, false); err != nil {
			return err
		}
	}
	if err := v.validDerivations(&c, p, name); err != nil {
		return err
	}
	if err := c.err(); err != nil {
		return err
	}
	return v.originalsPresent(p)
}

// validDerivations verifies that sources exist and that no picture derives from itself by any way round.
func (v *View) validDerivations(c *checks, p *pb.Picture, name string) error {
	for i, d := range p.GetDerivedFrom() {
		field := indexed("derived_from", i)
		if (d.GetPicture() == "") == (d.GetSource() == "") {
			c.add(field, "want either picture or source")
			continue
		}
		if d.GetPicture() == name {
			c.add(field+".picture", "names the picture itself")
			continue
		}
		if err := v.mustExist(c, field+".picture", d.GetPicture(), Pictures, false); err != nil {
			return err
		}
		path, err := v.pathTo(d.GetPicture(), name, map[string]bool{})
		if err != nil {
			return err
		}
		if path != nil {
			c.add(field+".picture", "closes a circle: %s", strings.Join(append([]string{name}, path...), " from "))
		}
	}
	return nil
}

// pathTo follows derivations from one picture to another; nil if there is no way.
func (v *View) pathTo(from, target string, seen map[string]bool) ([]string, error) {
	if from == target {
		return []string{target}, nil
	}
	if from == "" || seen[from] {
		return nil, nil
	}
	seen[from] = true
	p, ok, err := record[*pb.Picture](v, from)
	if !ok || err != nil {
		return nil, err
	}
	for _, d := range p.GetDerivedFrom() {
		rest, err := v.pathTo(d.GetPicture(), target, seen)
		if rest != nil || err != nil {
			return slices.Insert(rest, 0, from), err
		}
	}
	return nil, nil
}

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
	for field, s := range map[string]string{"technique": p.GetTechnique(), "job": p.GetJob(), "rights_holder": p.GetRightsHolder(),
		"identification.identified_by": p.GetIdentification().GetIdentifiedBy(), "identification.scientific_name": p.GetIdentification().GetScientificName()} {
		c.text(field, s, maxWord)
	}
	c.edtf("created", p.GetCreated())
	c.edtf("identification.identified_on", p.GetIdentification().GetIdentifiedOn())
	for field, list := range map[string][]string{"creators": p.GetCreators(), "keywords": p.GetKeywords(), "credit_parts": p.GetCreditParts()} {
		c.list(field, list)
	}
	if len(p.GetDerivedFrom()) > maxList {
		c.add("derived_from", "has %d entries; want at most %d", len(p.GetDerivedFrom()), maxList)
	}
	c.rightsStatement("rights_statement", p.GetRightsStatement())
	c.structures(p.GetStructures())
	c.landmarks(p.GetLandmarks())
	c.calibration(p.GetCalibration())
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
		c.fraction(indexed("landmarks", i)+".x", l.GetX())
		c.fraction(indexed("landmarks", i)+".y", l.GetY())
	}
}

func (c *checks) calibration(k *pb.Calibration) {
	if k == nil {
		return
	}
	for field, x := range map[string]float64{"x1": k.GetX1(), "y1": k.GetY1(), "x2": k.GetX2(), "y2": k.GetY2()} {
		c.fraction("calibration."+field, x)
	}
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

// maskMessage makes a mask part of a request's fingerprint.
func maskMessage(mask []string) proto.Message {
	return &pb.ListRevisionsRequest{Name: fmt.Sprintf("%q", mask)}
}
