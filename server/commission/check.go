package commission

import (
	"errors"
	"fmt"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/scale"
)

// CheckPicture holds a picture's counts and proportions against what is published of its animal. Error: archive.ErrNotFound.
func (p *Planner) CheckPicture(name string) (*pb.PictureCheck, error) {
	pic, err := p.records.GetPicture(name)
	if err != nil {
		return nil, err
	}
	s, err := p.sightOf(pic)
	if err != nil {
		return nil, err
	}
	out := &pb.PictureCheck{}
	remark := func(format string, args ...any) { out.Remarks = append(out.Remarks, fmt.Sprintf(format, args...)) }
	k := p.scaleOf(s)
	out.Scale = k.message()
	lengths, lacking := scale.MeasureAll(k.picture, k.scale, p.tolerances)
	for _, l := range lengths {
		out.Lengths = append(out.Lengths, &pb.MeasuredLength{Measurement: string(l.Measurement), Pixels: l.Pixels, Mm: l.MM, UncertaintyMm: l.UncertaintyMM})
	}
	for _, err := range lacking {
		if !errors.Is(err, scale.ErrMissing) || len(pic.GetLandmarks()) > 0 { // none at all are told once, with the scale
			remark("%s", err)
		}
	}
	t, err := p.taxonOf(pic.GetIdentification())
	if err != nil {
		return nil, err
	}
	switch {
	case t == nil:
		remark("the animal isn't identified: nothing published can be held against it")
		return out, nil
	case len(t.GetDiagnoses()) == 0:
		remark("%s has no diagnosis on record: enter one with its citation", t.GetScientificName())
	}
	if len(s.counts) > 0 {
		out.Counts = CountVerdicts(t, s.counts)
	} else if len(t.GetDiagnoses()) > 0 {
		remark("neither the picture nor its specimen has counts")
	}
	p.checkProportions(s, t, out)
	return out, nil
}

// checkProportions adds the verdicts on proportions, and the signs of a deformed body.
func (p *Planner) checkProportions(s *sight, t *pb.Taxon, out *pb.PictureCheck) {
	if !inProfile(s) {
		out.Remarks = append(out.Remarks, fmt.Sprintf("seen %s: proportions along the body are compared in a lateral view alone", s.rank.View))
		return
	}
	wants, doubts := published(t)
	out.Remarks = append(out.Remarks, doubts...)
	k := p.scaleOf(s)
	held := scale.ComparePublished(k.picture, wants, p.tolerances)
	out.Proportions = verdicts(held, true)
	for _, d := range scale.Deformations(k.picture, held, p.tolerances) {
		out.Remarks = append(out.Remarks, d.Explanation)
	}
	if _, note := scale.ShrinkageNote(s.specimen.GetPreservation(), k.standardLength); note != "" {
		out.Remarks = append(out.Remarks, "specimen "+note)
	}
}

// taxonOf is the record of the accepted taxon of an identification; nil if it has none.
func (p *Planner) taxonOf(id *pb.Identification) (*pb.Taxon, error) {
	accepted, ok := p.records.Taxa().Accepted(strings.TrimPrefix(id.GetTaxon(), taxaPrefix))
	if !ok {
		return nil, nil // none is an answer here
	}
	return found(p.records.GetTaxon(taxaPrefix + accepted.ID))
}
