package archive

import (
	"bytes"
	"context"
	"crypto/sha256"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/journal"
	"platarium/storage/original"
)

func digest(t testing.TB, hex string) storage.Digest {
	t.Helper()
	return must[storage.Digest](t)(storage.ParseDigest(hex))
}

// original stores a text as if it had been sent so long ago, and gives its sha256.
func (s *studio) original(t testing.TB, text string, ago time.Duration) string {
	t.Helper()
	sum := storage.Digest(sha256.Sum256([]byte(text)))
	if _, err := s.StoreOriginal(t.Context(), strings.NewReader(text), int64(len(text)), sum); err != nil {
		t.Fatal(err)
	}
	s.age(t, sum.String(), ago)
	return sum.String()
}

func (s *studio) path(hex string) string {
	return filepath.Join(s.folder, "originals", hex[:2], hex)
}

func (s *studio) age(t testing.TB, hex string, ago time.Duration) {
	t.Helper()
	at := time.Now().Add(-ago)
	if err := os.Chtimes(s.path(hex), at, at); err != nil {
		t.Fatal(err)
	}
}

func (s *studio) has(t testing.TB, hex string) bool {
	t.Helper()
	_, err := os.Stat(s.path(hex))
	return err == nil
}

func (s *studio) naming(t testing.TB, hex, id string) error {
	t.Helper()
	p := plate()
	p.Original = &pb.Original{Sha256: hex}
	_, err := s.CreatePicture(t.Context(), owner, p, id)
	return err
}

const (
	oldEnough = sweepAfter + time.Hour
	notYet    = sweepAfter - time.Hour
)

// Rule 5: originals are there before the commit that names them; what no commit names after seven days is swept, and nothing else.
func TestRule05OriginalsComeFirst(t *testing.T) {
	s := newStudio(t)
	s.clock.set(time.Now())
	seq := s.Journal().Position().Seq
	wantIs(t, s.naming(t, strings.Repeat("0", 64), "too-early"), ErrNoOriginal)
	if s.Journal().Position().Seq != seq {
		t.Error("a commit names an original that isn't there")
	}
	named, forgotten, young := s.original(t, "named", oldEnough), s.original(t, "forgotten", oldEnough), s.original(t, "young", notYet)
	evidence, contract := s.original(t, "voucher", oldEnough), s.original(t, "contract", oldEnough)
	if err := s.naming(t, named, "shown"); err != nil {
		t.Fatal(err)
	}
	client := s.party(t, "client")
	g := licence(client, "pictures/shown")
	g.DocumentSha256 = contract
	must[*pb.Grant](t)(s.CreateGrant(t.Context(), owner, g, ""))
	u := printed(client, "", "pictures/shown")
	u.EvidenceSha256 = evidence
	must[*pb.Use](t)(s.CreateUse(t.Context(), owner, u, ""))
	s.picture(t, "once-shown", func(p *pb.Picture) {
		p.Original = &pb.Original{Sha256: s.original(t, "of a deleted record", oldEnough)}
	})
	if err := s.DeletePicture(t.Context(), owner, "pictures/once-shown", ""); err != nil {
		t.Fatal(err)
	}
	if n := must[int](t)(s.Sweep(t.Context())); n != 1 || s.has(t, forgotten) {
		t.Errorf("swept %d, the forgotten one is there: %v", n, s.has(t, forgotten))
	}
	for _, hex := range []string{named, young, evidence, contract} {
		if !s.has(t, hex) {
			t.Errorf("%s was swept", hex)
		}
	}
	if n := must[int](t)(s.Sweep(t.Context())); n != 0 {
		t.Errorf("swept %d at once again", n)
	}
	s.age(t, young, oldEnough)
	if n := must[int](t)(s.Sweep(t.Context())); n != 1 {
		t.Errorf("swept %d when the young one was old", n)
	}
}

func (s *studio) announced(t testing.TB) []string {
	t.Helper()
	var all []string
	for seq := int64(1); seq <= s.Journal().Position().Seq; seq++ {
		all = append(all, must[*journal.Stored](t)(s.Journal().Read(t.Context(), seq)).Commit.GetSweep()...)
	}
	return all
}

// Rule 13: sweeping is announced in the journal first; who names an announced original sends it again.
func TestRule13SweepingIsAnnouncedFirst(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	s.clock.set(time.Now())
	ctx := t.Context()
	hex := s.original(t, "never named", oldEnough)
	must[*pb.Original](t)(other.DescribeOriginal(ctx, digest(t, hex), "")) // so that its header is remembered
	s.bucket.hook(func(call, key string) error {
		if call == "delete" && strings.HasPrefix(key, "originals/") && !slices.Contains(s.announced(t), hex) {
			t.Errorf("%s is deleted before it is announced", key)
		}
		return nil
	})
	if n := must[int](t)(s.Sweep(ctx)); n != 1 {
		t.Fatalf("swept %d", n)
	}
	s.bucket.hook(nil)
	for _, a := range []*studio{s, other} { // the other hasn't followed yet
		wantIs(t, a.naming(t, hex, "named-late"), ErrNoOriginal)
		if _, ok, err := a.HasOriginal(ctx, digest(t, hex)); ok || err != nil {
			t.Errorf("it counts as there: %v, %v", ok, err)
		}
	}
	other.original(t, "never named", 0)
	if err := s.naming(t, hex, "named-late"); err != nil {
		t.Errorf("sent again, it can't be named: %v", err)
	}
	s.age(t, hex, oldEnough)
	if n := must[int](t)(s.Sweep(ctx)); n != 0 || !s.has(t, hex) {
		t.Errorf("a named one was swept, %d", n)
	}
	if err := other.naming(t, hex, "named-twice"); err != nil {
		t.Errorf("named and old, it can't be named again: %v", err)
	}
}

// Rule 13: what is announced but still there, and old, counts as gone, since its sweeper is about to delete it; what was sent again in between stays.
func TestRule13SentAgainBetweenAnnouncementAndDeletion(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	s.clock.set(time.Now())
	hex := s.original(t, "contested", oldEnough)
	asked := false
	s.bucket.hook(func(call, key string) error {
		if call != "stat" || key != original.Key(digest(t, hex)) || asked || !slices.Contains(s.announced(t), hex) {
			return nil
		}
		asked = true // the sweeper looks whether it is young
		wantIs(t, other.naming(t, hex, "too-late"), ErrNoOriginal)
		other.original(t, "contested", 0)
		if err := other.naming(t, hex, "in-time"); err != nil {
			t.Error(err)
		}
		return nil
	})
	n, err := s.Sweep(context.Background())
	s.bucket.hook(nil)
	if err != nil || n != 0 || !s.has(t, hex) || !asked {
		t.Errorf("swept %d, error %v, still there %v; want it kept", n, err, s.has(t, hex))
	}
	if _, err := s.DescribeOriginal(t.Context(), digest(t, hex), ""); err != nil {
		t.Error(err)
	}
}

// Rule 13: a commit may name an original after the sweeper listed it and before it announces: then it isn't announced.
func TestRule13NamedBeforeTheAnnouncement(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	s.clock.set(time.Now())
	hex, bystander := s.original(t, "claimed at the last moment", oldEnough), s.original(t, "bystander", oldEnough)
	claimed := false
	s.bucket.hook(func(call, key string) error {
		if call == "create" && strings.HasPrefix(key, "journal/") && !claimed {
			claimed = true // the announcement is on its way, and loses the race
			if err := other.naming(t, hex, "claimed"); err != nil {
				t.Error(err)
			}
		}
		return nil
	})
	n := must[int](t)(s.Sweep(t.Context()))
	s.bucket.hook(nil)
	if n != 1 || !s.has(t, hex) || s.has(t, bystander) || !slices.Equal(s.announced(t), []string{bystander}) {
		t.Errorf("swept %d, announced %v; want the bystander alone", n, s.announced(t))
	}
	hex = s.original(t, "claimed, alone", oldEnough)
	claimed = false
	s.bucket.hook(func(call, key string) error {
		if call == "create" && strings.HasPrefix(key, "journal/") && !claimed {
			claimed = true
			return other.naming(t, hex, "claimed-alone")
		}
		return nil
	})
	n = must[int](t)(s.Sweep(t.Context()))
	s.bucket.hook(nil)
	if n != 0 || !s.has(t, hex) {
		t.Errorf("swept %d; want none", n)
	}
}

// Rule 13: announcement and naming may share a commit, in either order, and then the original is named.
func TestRule13AnnouncedAndNamedInOneCommit(t *testing.T) {
	for name, sweepFirst := range map[string]bool{"announced first": true, "named first": false} {
		t.Run(name, func(t *testing.T) {
			s := newStudio(t)
			s.clock.set(time.Now())
			hex := s.original(t, "both at once", time.Hour) // young: as sent again
			p := plate()
			p.Original = &pb.Original{Sha256: hex}
			mut := must[*mutation](t)(s.pictureCreation(t.Context(), owner, p, "both"))
			payloads := []any{mut, &sweeping{unnamed: []storage.Digest{digest(t, hex)}}}
			if sweepFirst {
				slices.Reverse(payloads)
			}
			for _, a := range s.log.SubmitAll(t.Context(), payloads) {
				if a.Err != nil {
					t.Fatal(a.Err)
				}
			}
			if seq := s.Journal().Position().Seq; seq != 1 {
				t.Fatalf("%d commits: the case proves nothing", seq)
			}
			for _, a := range []*studio{s, s.join(t, nil)} {
				if !a.named(digest(t, hex)) {
					t.Error("it counts as unnamed, and would be swept")
				}
			}
			if got := len(s.announced(t)) == 1; got != sweepFirst {
				t.Errorf("announced %v", s.announced(t))
			}
		})
	}
}

// Uploads of one file at once never delete what the other has stored.
func TestUploadsOfOneFileAtOnce(t *testing.T) {
	s := newStudio(t)
	s.clock.set(time.Now())
	hex := s.original(t, "swept once", oldEnough)
	must[int](t)(s.Sweep(t.Context()))
	s.bucket.hook(func(call, key string) error {
		if call == "delete" && strings.HasPrefix(key, "originals/") {
			t.Errorf("an upload deletes %s", key)
		}
		return nil
	})
	defer s.bucket.hook(nil)
	for _, text := range []string{"swept once", "quite new"} {
		sum := storage.Digest(sha256.Sum256([]byte(text)))
		var wg sync.WaitGroup
		for range 8 {
			wg.Go(func() {
				if _, err := s.StoreOriginal(t.Context(), strings.NewReader(text), int64(len(text)), sum); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
	}
	// What is wrong leaves what is there.
	sum := digest(t, hex)
	s.age(t, hex, oldEnough)
	for _, body := range []string{"swept onc", "swept onceee", "swapt once"} {
		_, err := s.StoreOriginal(t.Context(), strings.NewReader(body), int64(len("swept once")), sum)
		wantIs(t, err, storage.ErrChecksum)
	}
	if b, err := os.ReadFile(s.path(hex)); err != nil || !bytes.Equal(b, []byte("swept once")) {
		t.Errorf("what is there is %q, %v", b, err)
	}
}

// Every original is verified, and one that a commit names must be there.
func TestVerifyOriginals(t *testing.T) {
	s := newStudio(t)
	sound, damaged, lost := s.original(t, "sound", 0), s.original(t, "damaged", 0), s.original(t, "lost", 0)
	for i, hex := range []string{sound, damaged, lost} {
		if err := s.naming(t, hex, []string{"is-sound", "is-damaged", "is-lost"}[i]); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(s.path(damaged), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(s.path(damaged), []byte("demaged"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(s.path(lost)); err != nil {
		t.Fatal(err)
	}
	var problems []error
	seen, bytes := 0, int64(0)
	err := s.VerifyOriginals(t.Context(), func(size int64, err error) error {
		seen++
		bytes += size
		if err != nil {
			problems = append(problems, err)
		}
		return nil
	})
	if err != nil || seen != 3 || bytes != int64(len("sound")+len("damaged")) || len(problems) != 2 {
		t.Fatalf("%d seen, %d bytes, problems %v, error %v", seen, bytes, problems, err)
	}
	wantIs(t, problems[0], original.ErrDamaged)
	wantIs(t, problems[1], ErrNoOriginal)
	if !strings.Contains(problems[1].Error(), lost) {
		t.Errorf("%v doesn't name the lost one", problems[1])
	}
}
