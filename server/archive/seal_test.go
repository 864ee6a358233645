package archive

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/journal"
)

// Words of a contact that must stand nowhere in the clear.
var contactWords = []string{"Quintilla Reedmace", "quintilla@reedmace.example", "+43-555-0199", "Sedge Lane 7"}

func reachable() *pb.Party {
	p := press()
	p.Contact = &pb.Contact{Person: contactWords[0], Email: contactWords[1], Telephone: contactWords[2], Address: contactWords[3]}
	return p
}

// keyThere says whether the key of a party is in the bucket.
func (s *studio) keyThere(t testing.TB, id string) bool {
	t.Helper()
	_, err := s.bucket.Bucket.Stat(t.Context(), "sealed/"+id)
	if err != nil && !errors.Is(err, storage.ErrNotExist) {
		t.Fatal(err)
	}
	return err == nil
}

// Rule 16: contacts stand sealed in the journal, under a key of their own.
func TestRule16ContactsAreSealed(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	ctx := t.Context()
	made := must[*pb.Party](t)(s.CreateParty(ctx, owner, reachable(), "reedmace"))
	same(t, "what its maker gets", made.GetContact(), reachable().GetContact())
	next := reachable()
	next.Name, next.Notes = made.GetName(), "paid late"
	must[*pb.Party](t)(s.UpdateParty(ctx, owner, next, []string{"*"}))
	must[journal.Position](t)(s.Journal().Checkpoint(ctx))
	other.sync(t)
	for _, a := range []*studio{s, other, s.join(t, nil)} {
		same(t, "contact", must[*pb.Party](t)(a.GetParty(ctx, made.GetName())).GetContact(), reachable().GetContact())
		list, _, err := a.ListParties("", 10)
		if err != nil || len(list) != 1 || list[0].GetContact() != nil || list[0].GetSealedContact() != nil {
			t.Errorf("list %v, %v", list, err)
		}
	}
	s.shut(t)
	other.shut(t)
	searched := 0
	see := func(where, text string) {
		searched++
		for _, w := range contactWords {
			if strings.Contains(text, w) {
				t.Errorf("%s holds %q", where, w)
			}
		}
	}
	for key, text := range s.stored(t, "") {
		see(key, text)
		if strings.HasSuffix(key, ".gz") {
			see(key, unzip(t, text))
		}
	}
	for _, cache := range []string{s.conf.Cache, other.conf.Cache} {
		err := filepath.WalkDir(cache, func(path string, d os.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			b, err := os.ReadFile(path)
			see(path, string(b))
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if searched < 8 {
		t.Errorf("searched only %d files", searched)
	}
}

// Rule 16: forgetting makes a contact unreadable everywhere, also for whoever hasn't followed yet, and the chain still verifies.
func TestRule16Forget(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	ctx := t.Context()
	name := must[*pb.Party](t)(s.CreateParty(ctx, owner, reachable(), "reedmace")).GetName()
	other.sync(t)
	before := s.stored(t, "journal/")
	if p := must[*pb.Party](t)(s.ForgetParty(ctx, owner, name)); !p.GetForgotten() || p.GetContact() != nil {
		t.Errorf("forgotten as %v", p)
	}
	if s.keyThere(t, "reedmace") {
		t.Error("the key is still there")
	}
	for _, a := range []*studio{s, other, s.join(t, nil)} {
		if p := must[*pb.Party](t)(a.GetParty(ctx, name)); !p.GetForgotten() || p.GetContact() != nil || p.GetSealedContact() != nil || p.GetDisplayName() != "Reed Press" {
			t.Errorf("read as %v", p)
		}
	}
	for key, text := range before {
		if s.stored(t, key)[key] != text {
			t.Errorf("%s was changed", key)
		}
	}
	sum := must[journal.Summary](t)(journal.Verify(ctx, s.bucket, journal.VerifyOptions{Schema: Schema}))
	if len(sum.Findings) > 0 {
		t.Errorf("verify found %v", sum.Findings)
	}
	// For good: nothing new is sealed, other fields still change.
	_, err := s.UpdateParty(ctx, owner, &pb.Party{Name: name, Contact: &pb.Contact{Email: "again@example.org"}}, []string{"contact"})
	wantIs(t, err, ErrForgotten)
	if s.keyThere(t, "reedmace") {
		t.Error("a refused contact made a new key")
	}
	if p := must[*pb.Party](t)(s.UpdateParty(ctx, owner, &pb.Party{Name: name, DisplayName: "formerly Reed"}, []string{"display_name"})); !p.GetForgotten() {
		t.Errorf("changed to %v", p)
	}
	must[*pb.Party](t)(s.ForgetParty(ctx, owner, name)) // twice is no harm
	_, err = s.ForgetParty(ctx, owner, "parties/none-such")
	wantIs(t, err, ErrNotFound)
}

// Rule 16: a server that stops between the record and the deed leaves the deed to others.
func TestRule16ForgettingIsFinished(t *testing.T) {
	s := newStudio(t)
	s.clock.set(time.Now())
	ctx := t.Context()
	for _, id := range []string{"forgotten", "deleted", "standing"} {
		must[*pb.Party](t)(s.CreateParty(ctx, owner, reachable(), id))
	}
	cut := errors.New("the line is cut")
	s.bucket.hook(func(call, _ string) error {
		if call == "delete" {
			return cut
		}
		return nil
	})
	_, err := s.ForgetParty(ctx, as("forget"), "parties/forgotten")
	wantIs(t, err, cut)
	wantIs(t, s.DeleteParty(ctx, owner, "parties/deleted", ""), cut)
	s.bucket.hook(nil)
	other := s.join(t, nil)
	if n := must[int](t)(other.FinishForgetting(ctx)); n != 1 || s.keyThere(t, "forgotten") || !s.keyThere(t, "standing") {
		t.Errorf("finished %d", n)
	}
	s.clock.forward(oldEnough)
	if n := must[int](t)(other.FinishForgetting(ctx)); n != 1 || s.keyThere(t, "deleted") || !s.keyThere(t, "standing") {
		t.Errorf("finished %d a week later", n)
	}
	must[*pb.Party](t)(s.ForgetParty(ctx, as("forget"), "parties/forgotten")) // the repetition is answered
}

// Who deletes a party, deletes the key; a late repetition does nothing to the id's next bearer.
func TestDeletedPartysKey(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	name := must[*pb.Party](t)(s.CreateParty(ctx, owner, reachable(), "reedmace")).GetName()
	must[*pb.Party](t)(s.ForgetParty(ctx, as("forget"), name))
	if err := s.DeleteParty(ctx, as("delete"), name, ""); err != nil {
		t.Fatal(err)
	}
	must[*pb.Party](t)(s.CreateParty(ctx, owner, reachable(), "reedmace"))
	must[*pb.Party](t)(s.ForgetParty(ctx, as("forget"), name))
	if err := s.DeleteParty(ctx, as("delete"), name, ""); err != nil {
		t.Fatal(err)
	}
	if p := must[*pb.Party](t)(s.GetParty(ctx, name)); p.GetContact().GetPerson() != contactWords[0] || p.GetForgotten() {
		t.Errorf("the next bearer reads %v", p)
	}
	if err := s.DeleteParty(ctx, owner, name, ""); err != nil {
		t.Fatal(err)
	}
	if s.keyThere(t, "reedmace") {
		t.Error("the key outlives its party")
	}
}

// Nothing in the journal lets one test a guess at a contact: the fingerprint of a request is made without it.
func TestFingerprintsKnowNoContact(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	first := must[*pb.Party](t)(s.CreateParty(ctx, as("r-1"), reachable(), "reedmace"))
	guess := reachable()
	guess.Contact.Email = "another@example.org"
	same(t, "answer", must[*pb.Party](t)(s.CreateParty(ctx, as("r-1"), guess, "reedmace")), first)
	change := func(email string) string {
		id := NewID()
		must[*pb.Party](t)(s.UpdateParty(ctx, as(id), &pb.Party{Name: first.GetName(), Contact: &pb.Contact{Email: email}}, []string{"contact"}))
		c := must[*journal.Stored](t)(s.Journal().Read(ctx, s.Journal().Position().Seq))
		return c.Commit.GetTransactions()[0].GetFingerprint()
	}
	if change("one@example.org") != change("two@example.org") {
		t.Error("fingerprints of two contacts differ")
	}
}
