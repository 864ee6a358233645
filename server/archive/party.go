package archive

import (
	"context"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// partyOwned are the fields of a party that only the server sets. The contact isn't among them: it comes in open and is stored sealed.
var partyOwned = map[string]bool{"sealed_contact": true, "forgotten": true}

// CreateParty makes a party under id, or under an id of its own making.
func (a *Archive) CreateParty(ctx context.Context, by Caller, p *pb.Party, id string) (*pb.Party, error) {
	name, err := a.newName(Parties, id)
	if err != nil {
		return nil, err
	}
	next := proto.Clone(p).(*pb.Party)
	clearOwned(next, partyOwned)
	if err := validParty(next); err != nil {
		return nil, err
	}
	if err := a.sealContact(ctx, name, next); err != nil {
		return nil, err
	}
	made, err := first[*pb.Party](a.submit(ctx, "CreateParty", by, []proto.Message{p, &pb.GetPartyRequest{Name: id}}, func(v *View) error {
		return v.create(proto.Clone(next).(*pb.Party), name)
	}))
	return a.opened(ctx, made, err)
}

// UpdateParty changes the masked fields of a party.
func (a *Archive) UpdateParty(ctx context.Context, by Caller, p *pb.Party, mask []string) (*pb.Party, error) {
	given := proto.Clone(p).(*pb.Party)
	given.SealedContact = nil
	paths := make([]string, 0, len(mask)+1)
	touchesContact := false
	for _, path := range mask {
		switch {
		case path == "*":
			touchesContact = true
			paths = append(paths, "display_name", "role", "notes")
		case path == "contact":
			touchesContact = true
		case strings.HasPrefix(path, "contact."):
			return nil, &InvalidError{[]Violation{{"update_mask", "names " + path + "; a contact is replaced whole: want contact"}}}
		default:
			paths = append(paths, path)
		}
	}
	if touchesContact {
		if err := a.sealContact(ctx, p.GetName(), given); err != nil {
			return nil, err
		}
		paths = append(paths, "sealed_contact")
	}
	owned := map[string]bool{"forgotten": true, "contact": true}
	made, err := first[*pb.Party](a.submit(ctx, "UpdateParty", by, []proto.Message{p, maskMessage(mask)}, func(v *View) error {
		return update(v, given, paths, owned, func(_ *View, next, old *pb.Party) error {
			if old.GetForgotten() && touchesContact && len(next.GetSealedContact()) > 0 {
				return wrapName(ErrForgotten, old.GetName())
			}
			return validParty(next)
		})
	}))
	return a.opened(ctx, made, err)
}

// DeleteParty deletes a party that no grant, use, key or picture names.
func (a *Archive) DeleteParty(ctx context.Context, by Caller, name, etag string) error {
	_, err := a.submit(ctx, "DeleteParty", by, []proto.Message{&pb.DeletePartyRequest{Name: name, Etag: etag}}, func(v *View) error {
		return deletion(v, name, etag, func(v *View, _ *pb.Party) error { return v.unused(name) })
	})
	return err
}

// ForgetParty destroys the key to a party's contact for good; the journal's chain stays whole. The record says so first: whoever sees the key
// missing knows why.
func (a *Archive) ForgetParty(ctx context.Context, by Caller, name string) (*pb.Party, error) {
	p, err := first[*pb.Party](a.submit(ctx, "ForgetParty", by, []proto.Message{&pb.GetPartyRequest{Name: name}}, func(v *View) error {
		old, ok, err := record[*pb.Party](v, name)
		if err != nil {
			return err
		}
		if !ok {
			return wrapName(ErrNotFound, name)
		}
		next := proto.Clone(old).(*pb.Party)
		next.Forgotten, next.SealedContact = true, nil
		return v.replace(next, old)
	}))
	if err != nil {
		return nil, err
	}
	return p, a.seals.forget(ctx, name)
}

func validParty(p *pb.Party) error {
	var c checks
	if strings.TrimSpace(p.GetDisplayName()) == "" {
		c.add("display_name", "is missing")
	}
	c.text("display_name", p.GetDisplayName(), maxTitle)
	c.text("role", p.GetRole(), maxWord)
	c.text("notes", p.GetNotes(), maxText)
	c.text("contact.person", p.GetContact().GetPerson(), maxWord)
	c.text("contact.email", p.GetContact().GetEmail(), maxWord)
	c.text("contact.telephone", p.GetContact().GetTelephone(), maxWord)
	c.text("contact.address", p.GetContact().GetAddress(), 2000)
	return c.err()
}

// sealContact moves the open contact of p into its sealed form.
func (a *Archive) sealContact(ctx context.Context, name string, p *pb.Party) error {
	contact := p.GetContact()
	p.Contact, p.SealedContact = nil, nil
	if contact == nil || proto.Size(contact) == 0 {
		return nil
	}
	sealed, err := a.seals.seal(ctx, name, contact)
	p.SealedContact = sealed
	return err
}

// opened returns a party as staff may see it, with the contact in the clear.
func (a *Archive) opened(ctx context.Context, p *pb.Party, err error) (*pb.Party, error) {
	if err != nil || len(p.GetSealedContact()) == 0 {
		return p, err
	}
	p = proto.Clone(p).(*pb.Party)
	p.Contact, err = a.seals.unseal(ctx, p.GetName(), p.GetSealedContact())
	p.SealedContact = nil
	return p, err
}
