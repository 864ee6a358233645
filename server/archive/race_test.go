package archive

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	pb "platarium/proto/platarium/v1"
)

// meeting holds up the first commit of each of two archives until both have planned theirs, so that they really race for one number.
func meeting(s *studio) {
	var mu sync.Mutex
	both := make(chan struct{})
	waiting := 0
	number := ""
	s.bucket.hook(func(call, key string) error {
		if call != "create" || !strings.HasPrefix(key, "journal/") {
			return nil
		}
		mu.Lock()
		if number == "" {
			number = key
		}
		mine := key == number && waiting < 2
		if mine {
			if waiting++; waiting == 2 {
				close(both)
			}
		}
		mu.Unlock()
		if mine {
			<-both
		}
		return nil
	})
}

// race runs two changes on two archives that plan them on the same state, and gives their errors.
func race(t *testing.T, s, other *studio, one, two func(*studio) error) (errs [2]error) {
	t.Helper()
	other.sync(t)
	s.sync(t)
	meeting(s)
	defer s.bucket.hook(nil)
	var wg sync.WaitGroup
	wg.Go(func() { errs[0] = one(s) })
	wg.Go(func() { errs[1] = two(other) })
	wg.Wait()
	s.sync(t)
	other.sync(t)
	return errs
}

// Rule 1: what was validated before a race was lost is validated again after it: of two changes that exclude each other exactly one comes about.
func TestRule01LoserValidatesAgain(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	ctx := t.Context()
	one := func(t *testing.T, errs [2]error, reason func(error) bool) {
		t.Helper()
		if (errs[0] == nil) == (errs[1] == nil) {
			t.Fatalf("errors %v and %v; want exactly one", errs[0], errs[1])
		}
		if err := errors.Join(errs[0], errs[1]); !reason(err) {
			t.Errorf("the loser was told %v", err)
		}
	}
	for i := range 3 {
		t.Run("two changes at one etag", func(t *testing.T) {
			p := s.picture(t, fmt.Sprint("etag-", i), nil)
			change := func(title string) func(*studio) error {
				return func(a *studio) error {
					_, err := a.UpdatePicture(ctx, owner, &pb.Picture{Name: p.GetName(), Etag: p.GetEtag(), Title: title}, []string{"title"})
					return err
				}
			}
			errs := race(t, s, other, change("one"), change("two"))
			one(t, errs, func(err error) bool { return errors.Is(err, ErrStale) })
			if got := must[*pb.Picture](t)(other.GetPicture(p.GetName())); got.GetRevision() != 2 || got.GetTitle() != map[bool]string{true: "one", false: "two"}[errs[0] == nil] {
				t.Errorf("record is %v", got)
			}
		})
		t.Run("deletion and derivation", func(t *testing.T) {
			p := s.picture(t, fmt.Sprint("source-", i), nil)
			errs := race(t, s, other,
				func(a *studio) error { return a.DeletePicture(ctx, owner, p.GetName(), "") },
				func(a *studio) error {
					d := plate()
					from(p.GetName())(d)
					_, err := a.CreatePicture(ctx, owner, d, fmt.Sprint("derived-", i))
					return err
				})
			one(t, errs, func(err error) bool {
				var use *InUseError
				var bad *InvalidError
				return errors.As(err, &use) || errors.As(err, &bad)
			})
		})
		t.Run("one id twice", func(t *testing.T) {
			make := func(a *studio) error {
				_, err := a.CreatePicture(ctx, owner, plate(), fmt.Sprint("same-", i))
				return err
			}
			one(t, race(t, s, other, make, make), func(err error) bool { return errors.Is(err, ErrExists) })
		})
		t.Run("a circle from both ends", func(t *testing.T) {
			a, b := s.picture(t, fmt.Sprint("end-a-", i), nil).GetName(), s.picture(t, fmt.Sprint("end-b-", i), nil).GetName()
			derive := func(name, source string) func(*studio) error {
				return func(st *studio) error {
					p := &pb.Picture{Name: name}
					from(source)(p)
					_, err := st.UpdatePicture(ctx, owner, p, []string{"derived_from"})
					return err
				}
			}
			one(t, race(t, s, other, derive(a, b), derive(b, a)), func(err error) bool { return strings.Contains(err.Error(), "closes a circle") })
		})
	}
}

// Of a hundred overlapping exclusive grants made at once on two servers over one bucket exactly one comes about.
func TestHundredExclusiveGrantsAtOnce(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	s.picture(t, "wanted", nil)
	const parties = 100
	var made sync.WaitGroup
	for i := range parties {
		made.Go(func() {
			if _, err := s.CreateParty(t.Context(), owner, press(), fmt.Sprintf("party-%02d", i)); err != nil {
				t.Error(err)
			}
		})
	}
	made.Wait()
	other.sync(t)
	meeting(s)
	defer s.bucket.hook(nil)
	start := make(chan struct{})
	var errs [parties]error
	var wg sync.WaitGroup
	for i := range parties {
		wg.Go(func() {
			<-start
			a := s
			if i%2 == 1 {
				a = other
			}
			g := exclusive(fmt.Sprintf("parties/party-%02d", i), "pictures/wanted")
			g.Scope.From = fmt.Sprintf("2026-%02d-01", 1+i%12) // all meet in 2027
			_, errs[i] = a.CreateGrant(t.Context(), as(fmt.Sprint("grant-", i)), g, "")
		})
	}
	close(start)
	wg.Wait()
	won := 0
	for _, err := range errs {
		var collision *CollisionError
		switch {
		case err == nil:
			won++
		case !errors.As(err, &collision):
			t.Errorf("refused with %v; want a collision", err)
		}
	}
	if won != 1 {
		t.Errorf("%d grants came about; want 1", won)
	}
	for _, a := range []*studio{s, other, s.join(t, nil)} {
		a.sync(t)
		if n := must[int64](t)(a.Count(Grants)); n != 1 {
			t.Errorf("%d grants on record; want 1", n)
		}
	}
}

// Two servers over one bucket see each other's commits: records, index, classification, ledger.
func TestTwoServersSeeEachOther(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	ctx := t.Context()
	prepare(t, s)
	must[*pb.Taxon](t)(s.CreateTaxon(ctx, owner, ownSpecies(), "own-perch"))
	p := s.picture(t, "seen", func(p *pb.Picture) { p.Identification = &pb.Identification{ScientificName: "Perca imaginaria"} })
	if _, err := other.GetPicture(p.GetName()); !errors.Is(err, ErrNotFound) {
		t.Fatalf("seen before following: %v", err)
	}
	seq := other.sync(t)
	same(t, "record on the other server", must[*pb.Picture](t)(other.GetPicture(p.GetName())), p)
	if got := other.Index().Sequence(); got != seq || seq != s.Journal().Position().Seq {
		t.Errorf("index of the other server at %d, journal at %d; want %d", got, seq, s.Journal().Position().Seq)
	}
	if name := other.AcceptedName(p.GetIdentification()); name != "Perca imaginaria" {
		t.Errorf("the other server calls it %q", name)
	}
	must[*pb.Grant](t)(other.CreateGrant(ctx, owner, exclusive("parties/client", p.GetName()), ""))
	s.party(t, "late") // a write reads what came before it
	_, err := s.CreateGrant(ctx, owner, licence("parties/late", p.GetName()), "")
	var collision *CollisionError
	if !errors.As(err, &collision) {
		t.Errorf("a grant that collides with the other server's gave %v", err)
	}
	if a, b := must[string](t)(s.StandingText(p.GetName(), false)), must[string](t)(other.StandingText(p.GetName(), false)); a != b || !strings.HasPrefix(a, "exclusive") {
		t.Errorf("standings %q and %q", a, b)
	}
}
