package archive

import (
	"context"
	"fmt"
	"slices"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// briefOwned are the fields of a brief that only a delivery sets.
var briefOwned = map[string]bool{"plate": true, "delivered_on": true}

// CreateBrief makes a brief under id, or under an id of its own making.
func (a *Archive) CreateBrief(ctx context.Context, by Caller, b *pb.Brief, id string) (*pb.Brief, error) {
	name, err := a.newName(Briefs, id)
	if err != nil {
		return nil, err
	}
	next := proto.Clone(b).(*pb.Brief)
	clearOwned(next, briefOwned)
	build := func(v *View) error {
		if err := v.validBrief(next); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Brief), name)
	}
	if err := a.prepareBrief(next); err != nil {
		build = refusal(err)
	}
	return first[*pb.Brief](a.submit(ctx, "CreateBrief", by, []proto.Message{b, &pb.GetBriefRequest{Name: id}}, build))
}

// UpdateBrief changes the masked fields of a brief.
func (a *Archive) UpdateBrief(ctx context.Context, by Caller, b *pb.Brief, mask []string) (*pb.Brief, error) {
	given := only(b, mask)
	build := func(v *View) error {
		return update(v, given, mask, briefOwned, func(v *View, next, _ *pb.Brief) error { return v.validBrief(next) })
	}
	if err := a.prepareBrief(given); err != nil {
		build = refusal(err)
	}
	return first[*pb.Brief](a.submit(ctx, "UpdateBrief", by, []proto.Message{b, maskMessage(mask)}, build))
}

// DeleteBrief deletes a brief, unless a plate was delivered on it: then it is part of that plate's past.
func (a *Archive) DeleteBrief(ctx context.Context, by Caller, name, etag string) error {
	_, err := a.submit(ctx, "DeleteBrief", by, []proto.Message{&pb.DeleteBriefRequest{Name: name, Etag: etag}}, func(v *View) error {
		return deletion(v, name, etag, func(_ *View, b *pb.Brief) error {
			if b.GetPlate() != "" {
				return fmt.Errorf("%w: %s was delivered as %s on %s, and stays with it", ErrDelivered, name, b.GetPlate(), b.GetDeliveredOn())
			}
			return nil
		})
	})
	return err
}

// DeliverBrief records the plate delivered on a brief and derives it from the brief's studies and chosen pictures, in one commit, so that whoever
// finds the one later finds the other. Of pictures that aren't among the copied only facts were taken; what the plate says already stays.
func (a *Archive) DeliverBrief(ctx context.Context, by Caller, req *pb.DeliverBriefRequest) (*pb.Brief, error) {
	same, _ := proto.Clone(req).(*pb.DeliverBriefRequest)
	same.RequestId = ""
	return first[*pb.Brief](a.submit(ctx, "DeliverBrief", by, []proto.Message{same}, func(v *View) error { return v.deliverBrief(req) }))
}

func (v *View) deliverBrief(req *pb.DeliverBriefRequest) error {
	old, ok, err := record[*pb.Brief](v, req.GetName())
	if err != nil {
		return err
	}
	if !ok {
		return wrapName(ErrNotFound, req.GetName())
	}
	if e := req.GetEtag(); e != "" && e != old.GetEtag() {
		return fmt.Errorf("%w: %s is at etag %s, not %s", ErrStale, old.GetName(), old.GetEtag(), e)
	}
	if old.GetPlate() != "" {
		return fmt.Errorf("%w: %s was delivered as %s on %s", ErrDelivered, old.GetName(), old.GetPlate(), old.GetDeliveredOn())
	}
	plate, ok, err := record[*pb.Picture](v, req.GetPlate())
	if err != nil {
		return err
	}
	var c checks
	switch {
	case !ok:
		c.add("plate", "found %q; want a picture of the archive, pictures/{id}", req.GetPlate())
	case plate.GetKind() != pb.Kind_KIND_PLATE:
		c.add("plate", "found %s of another kind; want a plate", req.GetPlate())
	}
	from := servedBy(old)
	for i, name := range req.GetCopied() {
		if !slices.Contains(from, name) {
			c.add(indexed("copied", i), "found %q; want one of the brief's studies or chosen pictures", name)
		}
	}
	if err := c.err(); err != nil {
		return err
	}
	delivered, _ := proto.Clone(old).(*pb.Brief)
	delivered.Plate, delivered.DeliveredOn = plate.GetName(), v.today().Format("2006-01-02")
	if err := v.replace(delivered, old); err != nil {
		return err
	}
	return v.deriveFrom(plate, from, req.GetCopied())
}

// deriveFrom adds to a picture what it was made from and doesn't name yet.
func (v *View) deriveFrom(p *pb.Picture, from, copied []string) error {
	next, _ := proto.Clone(p).(*pb.Picture)
	for _, name := range from {
		known := slices.ContainsFunc(next.GetDerivedFrom(), func(d *pb.Derivation) bool { return d.GetPicture() == name })
		if known || name == p.GetName() {
			continue
		}
		role := pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE
		if slices.Contains(copied, name) {
			role = pb.DerivationRole_DERIVATION_ROLE_COPIED
		}
		next.DerivedFrom = append(next.DerivedFrom, &pb.Derivation{Picture: name, Role: role})
	}
	if len(next.GetDerivedFrom()) == len(p.GetDerivedFrom()) {
		return nil
	}
	if err := v.validPicture(next, next.GetName()); err != nil {
		return err
	}
	return v.replace(next, p)
}

// servedBy lists the pictures that served a brief: its body, choices and studies, once each.
func servedBy(b *pb.Brief) []string {
	var names []string
	if b.GetBody() != "" {
		names = append(names, b.GetBody())
	}
	for _, c := range b.GetChoices() {
		if !c.GetLeftOut() {
			names = append(names, c.GetPicture())
		}
	}
	for _, s := range b.GetStudies() {
		names = append(names, s.GetPicture())
	}
	return unique(names)
}
