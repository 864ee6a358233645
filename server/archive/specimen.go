package archive

import (
	"context"
	"math"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// CreateSpecimen makes a specimen under id, or under an id of its own making.
func (a *Archive) CreateSpecimen(ctx context.Context, by Caller, s *pb.Specimen, id string) (*pb.Specimen, error) {
	name, err := a.newName(Specimens, id)
	if err != nil {
		return nil, err
	}
	next := proto.Clone(s).(*pb.Specimen)
	clearOwned(next, nil)
	build := func(v *View) error {
		if err := v.validSpecimen(next); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Specimen), name)
	}
	if err := a.prepareSpecimen(next); err != nil {
		build = refusal(err)
	}
	return first[*pb.Specimen](a.submit(ctx, "CreateSpecimen", by, []proto.Message{s, &pb.GetSpecimenRequest{Name: id}}, build))
}

// UpdateSpecimen changes the masked fields of a specimen.
func (a *Archive) UpdateSpecimen(ctx context.Context, by Caller, s *pb.Specimen, mask []string) (*pb.Specimen, error) {
	given := only(s, mask)
	build := func(v *View) error {
		return update(v, given, mask, nil, func(v *View, next, _ *pb.Specimen) error { return v.validSpecimen(next) })
	}
	if err := a.prepareSpecimen(given); err != nil {
		build = refusal(err)
	}
	return first[*pb.Specimen](a.submit(ctx, "UpdateSpecimen", by, []proto.Message{s, maskMessage(mask)}, build))
}

// DeleteSpecimen deletes a specimen that no picture shows.
func (a *Archive) DeleteSpecimen(ctx context.Context, by Caller, name, etag string) error {
	_, err := a.submit(ctx, "DeleteSpecimen", by, []proto.Message{&pb.DeleteSpecimenRequest{Name: name, Etag: etag}}, func(v *View) error {
		return deletion(v, name, etag, func(v *View, _ *pb.Specimen) error { return v.unused(name) })
	})
	return err
}

func (a *Archive) prepareSpecimen(s *pb.Specimen) error {
	var c checks
	a.resolveIdentification(&c, "identification", s.Identification)
	readCounts(&c, "counts", s.Counts)
	return c.err()
}

func (v *View) validSpecimen(s *pb.Specimen) error {
	var c checks
	if strings.TrimSpace(s.GetCatalogNumber()) == "" {
		c.add("catalog_number", "is missing; want the number under which the specimen is kept, or one of the studio's own")
	}
	c.text("catalog_number", s.GetCatalogNumber(), maxWord)
	c.text("institution", s.GetInstitution(), maxWord)
	c.text("sex", s.GetSex(), maxWord)
	c.text("life_stage", s.GetLifeStage(), maxWord)
	c.text("collected_by", s.GetCollectedBy(), maxWord)
	c.text("type_status", s.GetTypeStatus(), maxWord)
	c.text("notes", s.GetNotes(), maxText)
	c.text("preservation", s.GetPreservation(), maxText)
	c.text("damage", s.GetDamage(), maxText)
	c.text("locality", s.GetLocality(), maxText)
	c.text("permits", s.GetPermits(), maxText)
	c.identification("identification", s.GetIdentification())
	c.edtf("collected_on", s.GetCollectedOn())
	if s.GetSensitivity() < 0 || s.GetSensitivity() > 4 {
		c.add("sensitivity", "found %d; want 0 (none) to 4, with 1 the most sensitive (Chapman 2020)", s.GetSensitivity())
	}
	if len(s.GetMeasurements()) > maxList {
		c.add("measurements", "has %d entries; want at most %d", len(s.GetMeasurements()), maxList)
	}
	for i, m := range s.GetMeasurements() {
		field := indexed("measurements", i)
		if strings.TrimSpace(m.GetMeasurement()) == "" {
			c.add(field+".measurement", "is empty; want which length, such as SL")
		}
		c.text(field+".measurement", m.GetMeasurement(), maxWord)
		if !(m.GetValueMm() > 0) || math.IsInf(m.GetValueMm(), 0) {
			c.add(field+".value_mm", "found %v; want millimeters above 0", m.GetValueMm())
		}
		if !(m.GetUncertaintyMm() >= 0) || math.IsInf(m.GetUncertaintyMm(), 0) {
			c.add(field+".uncertainty_mm", "found %v; want millimeters, 0 or more", m.GetUncertaintyMm())
		}
	}
	if err := v.mustExist(&c, "identification.taxon", s.GetIdentification().GetTaxon(), Taxa, false); err != nil {
		return err
	}
	if err := v.mustExist(&c, "lender", s.GetLender(), Parties, false); err != nil {
		return err
	}
	return c.err()
}
