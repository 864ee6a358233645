package archive

import (
	"context"
	"errors"
	"fmt"
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
	build := func(v *View) error {
		if err := validParty(next); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Party), name)
	}
	if err := a.prepareParty(ctx, name, next); err != nil {
		build = refusal(err)
	}
	made, err := first[*pb.Party](a.submit(ctx, "CreateParty", by, []proto.Message{withoutContact(p), &pb.GetPartyRequest{Name: id}}, build))
	return a.opened(ctx, made, err)
}

// UpdateParty changes the masked fields of a party. A contact is replaced whole.
func (a *Archive) UpdateParty(ctx context.Context, by Caller, p *pb.Party, mask []string) (*pb.Party, error) {
	paths, contact, err := partyPaths(mask)
	if err != nil {
		return nil, err
	}
	given := proto.Clone(p).(*pb.Party)
	given.SealedContact = nil
	build := func(v *View) error {
		return update(v, given, paths, map[string]bool{"forgotten": true, "contact": true}, func(_ *View, next, old *pb.Party) error {
			if old.GetForgotten() && contact && len(next.GetSealedContact()) > 0 {
				return wrapName(ErrForgotten, old.GetName())
			}
			return validParty(next)
		})
	}
	if !contact {
		given.Contact = nil
	} else if err := a.prepareParty(ctx, p.GetName(), given); err != nil {
		build = refusal(err)
	}
	made, err := first[*pb.Party](a.submit(ctx, "UpdateParty", by, []proto.Message{withoutContact(p), maskMessage(mask)}, build))
	return a.opened(ctx, made, err)
}

// partyPaths turns a mask into that of the stored record, where the contact is sealed, and says whether it names the contact.
func partyPaths(mask []string) (paths []string, contact bool, err error) {
	for _, path := range mask {
		switch {
		case path == "*":
			contact = true
			paths = append(paths, "display_name", "role", "notes", "lender_policy")
		case path == "contact":
			contact = true
		case strings.HasPrefix(path, "contact."):
			return nil, false, &InvalidError{[]Violation{{"update_mask", "names " + path + "; a contact is replaced whole: want contact"}}}
		case path == "sealed_contact":
			return nil, false, &InvalidError{[]Violation{{"update_mask", `names "sealed_contact", which only the server sets`}}}
		default:
			paths = append(paths, path)
		}
	}
	if contact {
		paths = append(paths, "sealed_contact")
	}
	return paths, contact, nil
}

// withoutContact is what a request's fingerprint is made from: a digest of a contact in the journal would let one guess what was forgotten.
func withoutContact(p *pb.Party) *pb.Party {
	p = proto.Clone(p).(*pb.Party)
	p.Contact = nil
	return p
}

// DeleteParty deletes a party that no grant, use, key or picture names, and the key to its contact: nobody could ask for that to be forgotten any more.
func (a *Archive) DeleteParty(ctx context.Context, by Caller, name, etag string) error {
	_, err := a.submit(ctx, "DeleteParty", by, []proto.Message{&pb.DeletePartyRequest{Name: name, Etag: etag}}, func(v *View) error {
		return deletion(v, name, etag, func(v *View, _ *pb.Party) error { return v.unused(name) })
	})
	if err != nil {
		return err
	}
	return a.forgetUnless(ctx, name, func(p *pb.Party) bool { return p != nil }) // a replay may come when the id is in use again
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
	return p, a.forgetUnless(ctx, name, func(p *pb.Party) bool { return p != nil && !p.GetForgotten() }) // a replay may come when the id is in use again
}

func validParty(p *pb.Party) error {
	var c checks
	if strings.TrimSpace(p.GetDisplayName()) == "" {
		c.add("display_name", "is missing")
	}
	c.text("display_name", p.GetDisplayName(), maxTitle)
	c.text("role", p.GetRole(), maxWord)
	c.text("notes", p.GetNotes(), maxText)
	c.lenderPolicy(p.GetLenderPolicy())
	return c.err()
}

func validContact(contact *pb.Contact) error {
	var c checks
	c.text("contact.person", contact.GetPerson(), maxWord)
	c.text("contact.email", contact.GetEmail(), maxWord)
	c.text("contact.telephone", contact.GetTelephone(), maxWord)
	c.text("contact.address", contact.GetAddress(), 2000)
	return c.err()
}

// prepareParty verifies a party as given and moves its open contact into its sealed form.
func (a *Archive) prepareParty(ctx context.Context, name string, p *pb.Party) error {
	contact := p.GetContact()
	if err := validContact(contact); err != nil {
		return err
	}
	p.Contact, p.SealedContact = nil, nil
	if contact == nil || proto.Size(contact) == 0 {
		return nil
	}
	if old, err := get[*pb.Party](a, name); err == nil && old.GetForgotten() {
		return wrapName(ErrForgotten, name) // and make no new key
	}
	sealed, err := a.seals.seal(ctx, name, contact)
	p.SealedContact = sealed
	return err
}

// opened returns a party as staff may see it, with the contact in the clear. One whose key is gone was forgotten, even if this server doesn't know yet.
func (a *Archive) opened(ctx context.Context, p *pb.Party, err error) (*pb.Party, error) {
	if err != nil || len(p.GetSealedContact()) == 0 {
		return p, err
	}
	p = proto.Clone(p).(*pb.Party)
	p.Contact, err = a.seals.unseal(ctx, p.GetName(), p.GetSealedContact())
	p.SealedContact = nil
	if errors.Is(err, ErrForgotten) {
		p.Forgotten, err = true, nil
	}
	return p, err
}

// forgetUnless destroys a party's key unless the record as it stands, nil if there is none, is to keep it.
func (a *Archive) forgetUnless(ctx context.Context, name string, keep func(*pb.Party) bool) error {
	p, err := get[*pb.Party](a, name)
	if err := ignoreNotFound(err); err != nil || keep(p) {
		return err
	}
	return a.seals.forget(ctx, name)
}

// FinishForgetting destroys the keys that a server left when it stopped between the record of a forgetting or deletion and the deed. It returns how many.
func (a *Archive) FinishForgetting(ctx context.Context) (n int, err error) {
	if _, err := a.log.Sync(ctx); err != nil { // others may have made parties that this server doesn't know yet
		return 0, err
	}
	for info, err := range a.conf.Bucket.List(ctx, sealPrefix, "") {
		if err != nil {
			return n, fmt.Errorf("list the keys of contacts: %w", err)
		}
		name := Parties + "/" + strings.TrimPrefix(info.Key, sealPrefix)
		p, err := get[*pb.Party](a, name)
		gone := errors.Is(err, ErrNotFound) && a.wasDeleted(name) && info.Modified.Before(a.now().Add(-sweepAfter)) // a young key may be for the id's next bearer
		switch {
		case err != nil && !errors.Is(err, ErrNotFound):
			return n, err
		case !gone && !p.GetForgotten():
			continue
		}
		if err := a.conf.Bucket.Delete(ctx, info.Key); err != nil {
			return n, fmt.Errorf("delete the key of a contact: %w", err)
		}
		n++
	}
	return n, nil
}
