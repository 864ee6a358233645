package archive

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
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
	given.Name = id // so that the fingerprint covers the id wanted
	build := func(v *View) error {
		if err := v.validPicture(next, name); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Picture), name)
	}
	if err := a.preparePicture(ctx, next); err != nil {
		build = refusal(err)
	}
	return newMutation("CreatePicture", by, []proto.Message{given}, build)
}

// UpdatePicture changes the masked fields of a picture.
func (a *Archive) UpdatePicture(ctx context.Context, by Caller, p *pb.Picture, mask []string) (*pb.Picture, error) {
	given := only(p, mask)
	build := func(v *View) error {
		return update(v, given, mask, nil, func(v *View, next, _ *pb.Picture) error { return v.validPicture(next, next.GetName()) })
	}
	if err := a.preparePicture(ctx, given); err != nil {
		build = refusal(err)
	}
	return first[*pb.Picture](a.submit(ctx, "UpdatePicture", by, []proto.Message{p, maskMessage(mask)}, build))
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
	p.RightsStatement = rights.CanonicalURI(p.GetRightsStatement())
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
	if err := v.consents(&c, p); err != nil {
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
		c.text(field+".source", d.GetSource(), maxTitle)
		c.known(field+".role", int32(d.GetRole()), pb.DerivationRole_name)
		if err := v.sourcePermission(c, field, d); err != nil {
			return err
		}
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

// maskMessage makes a mask part of a request's fingerprint.
func maskMessage(mask []string) proto.Message {
	return &pb.ListRevisionsRequest{Name: fmt.Sprintf("%q", mask)}
}
