package archive

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"platarium/indexer"
	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/journal"
)

// dump is every byte of a record store, by bucket and key.
func dump(t testing.TB, db *bolt.DB) map[string]string {
	t.Helper()
	var out map[string]string
	if err := db.View(func(tx *bolt.Tx) error { out = dumpTx(tx); return nil }); err != nil {
		t.Fatal(err)
	}
	return out
}

func dumpTx(tx *bolt.Tx) map[string]string {
	out := map[string]string{}
	for _, name := range allBuckets {
		c := tx.Bucket(name).Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			out[fmt.Sprintf("%s %q", name, k)] = string(v)
		}
	}
	return out
}

func sameDump(t testing.TB, what string, got, want map[string]string) {
	t.Helper()
	shown := 0
	for k := range maps.Keys(want) {
		if g, ok := got[k]; (!ok || g != want[k]) && shown < 5 {
			t.Errorf("%s: %s is %q; want %q", what, k, g, want[k])
			shown++
		}
	}
	for k := range maps.Keys(got) {
		if _, ok := want[k]; !ok && shown < 5 {
			t.Errorf("%s: %s is there and shouldn't be", what, k)
			shown++
		}
	}
}

// busy makes many changes of all kinds from several sides at once: some are refused, some made undone, some repeated.
func busy(t testing.TB, s *studio, seed uint64, each int) {
	t.Helper()
	ctx := context.Background()
	var wg sync.WaitGroup
	for side := range uint64(4) {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(seed, side))
			id := func() string { return fmt.Sprint("busy-", r.IntN(12)) }
			for i := range each {
				by := as(fmt.Sprint("busy-", seed, "-", side, "-", r.IntN(each)))
				s.clock.forward(time.Duration(r.IntN(100)) * time.Minute)
				switch k := kinds()[r.IntN(len(kinds()))]; r.IntN(6) {
				case 0, 1, 2:
					_, _ = k.create(ctx, s.Archive, by, k.fresh(i), id())
				case 3:
					if k.update != nil {
						rec := k.fresh(i)
						setName(rec, k.collection+"/"+id())
						_, _ = k.update(ctx, s.Archive, by, rec, []string{k.mask})
					}
				case 4:
					if k.remove != nil {
						_ = k.remove(ctx, s.Archive, by, k.collection+"/"+id(), "")
					}
				default:
					wrong := plate()
					wrong.Title = ""
					_, _ = s.BatchCreatePictures(ctx, by.Actor, []Creation[*pb.Picture]{{Record: plate(), ID: id(), RequestID: by.RequestID}, {Record: wrong}}, r.IntN(2) == 0, false)
				}
			}
		})
	}
	wg.Wait()
}

// unchecked is a bucket that shows no checkpoints, so that whoever opens it replays the whole journal.
type unchecked struct{ *hooks }

func (u unchecked) List(ctx context.Context, prefix, after string) iter.Seq2[storage.Info, error] {
	if strings.HasPrefix(prefix, "checkpoints/") {
		return func(func(storage.Info, error) bool) {}
	}
	return u.hooks.List(ctx, prefix, after)
}

// Rule 12: a store restored from a checkpoint and brought on is, to the byte, the one that a full replay makes, and the one that lived through it all.
func TestRule12CheckpointAndTailEqualReplay(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	prepare(t, s)
	s.clock.set(time.Now())
	gone := s.original(t, "swept and never named", 8*24*time.Hour)
	kept := s.original(t, "named", 8*24*time.Hour)
	s.picture(t, "with-file", func(p *pb.Picture) { p.Original = &pb.Original{Sha256: kept} })
	if n := must[int](t)(s.Sweep(ctx)); n != 1 {
		t.Fatalf("swept %d; want 1", n)
	}
	s.clock.forward(-20 * 24 * time.Hour) // requests before this are forgotten further on
	busy(t, s, 1, 30)
	s.clock.forward(25 * 24 * time.Hour)
	busy(t, s, 2, 30)
	at := must[journal.Position](t)(s.Journal().Checkpoint(ctx))
	busy(t, s, 3, 12)
	s.clock.forward(9 * 24 * time.Hour)
	s.party(t, "last-one")

	replayed := s.join(t, func(c *Config) { c.Bucket = unchecked{s.bucket} })
	first := fmt.Sprintf("journal/%020d.json", 1)
	s.bucket.hook(func(call, key string) error {
		if call == "open" && key == first {
			return errors.New("commit 1 was read: the checkpoint isn't used")
		}
		return nil
	})
	restored := s.join(t, nil)
	s.bucket.hook(nil)
	live := dump(t, s.db)
	t.Logf("%d entries, checkpoint at %d of %d", len(live), at.Seq, s.Journal().Position().Seq)
	sameDump(t, "replayed", dump(t, replayed.db), live)
	sameDump(t, "restored", dump(t, restored.db), live)
	again := s.reopen(t)
	sameDump(t, "opened again", dump(t, again.db), live)
	for _, a := range []*studio{replayed, restored, again} {
		if got := must[string](t)(a.StandingText("pictures/subject", false)); got != must[string](t)(again.StandingText("pictures/subject", false)) {
			t.Errorf("standing %q differs", got)
		}
		if a.named(digest(t, gone)) || !a.named(digest(t, kept)) {
			t.Error("named originals differ")
		}
	}
	sum := must[journal.Summary](t)(journal.Verify(ctx, s.bucket, journal.VerifyOptions{Schema: Schema}))
	if len(sum.Findings) > 0 || sum.Checkpoints != 1 {
		t.Errorf("verify found %v in %d checkpoints", sum.Findings, sum.Checkpoints)
	}
}

// What a refused request did in a plan is undone to the byte, so that those after it see nothing of it.
func TestRollbackLeavesNothing(t *testing.T) {
	s := newStudio(t)
	s.clock.set(time.Now())
	swept := s.original(t, "announced", 8*24*time.Hour)
	must[int](t)(s.Sweep(t.Context()))
	prepare(t, s)
	busy(t, s, 7, 15)
	err := s.db.Update(func(tx *bolt.Tx) error {
		before := dumpTx(tx)
		r := rand.New(rand.NewPCG(5, 5))
		for range 50 {
			v := &View{state: state{tx}, archive: s.Archive, now: s.clock.read()}
			for range 1 + r.IntN(8) {
				name := fmt.Sprint("pictures/busy-", r.IntN(14))
				old, err := v.state.get(name)
				if err != nil {
					return err
				}
				next := plate()
				if r.IntN(2) == 0 {
					next.Original = &pb.Original{Sha256: swept}
				}
				next.Specimen = fmt.Sprint("specimens/busy-", r.IntN(3))
				switch {
				case old == nil:
					err = v.create(next, name)
				case r.IntN(2) == 0:
					err = v.remove(name)
				default:
					err = v.replace(next, old)
				}
				if err != nil {
					return err
				}
			}
			if err := v.rollback(0); err != nil {
				return err
			}
			sameDump(t, "after a rollback", dumpTx(tx), before)
		}
		return errors.New("leave it")
	})
	if err == nil || err.Error() != "leave it" {
		t.Fatal(err)
	}
}

// Rule 11: a commit that is stored but can't be brought into the index isn't called failed, isn't passed over, and is there once the index works again.
func TestRule11StoredButNotIndexed(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	if err := s.index.Close(); err != nil {
		t.Fatal(err)
	}
	_, err := s.CreatePicture(ctx, as("r-1"), titled("Bream over gravel"), "bream")
	wantIs(t, err, journal.ErrUnknownOutcome)
	if s.Journal().ReadOnly() == nil {
		t.Error("the server goes on writing")
	}
	s.index, err = indexer.Open(ctx, filepath.Join(s.conf.Cache, "index"), s.Archive, indexer.Options{})
	if err != nil {
		t.Fatal(err)
	}
	first := must[*pb.Picture](t)(s.CreatePicture(ctx, as("r-1"), titled("Bream over gravel"), "bream")) // asks for the outcome
	if first.GetRevision() != 1 {
		t.Errorf("the outcome is %v", first)
	}
	must[*pb.Picture](t)(s.CreatePicture(ctx, as("r-2"), titled("Pike in reeds"), "pike-reeds"))
	s.wantFound(t, "bream", "pictures/bream")
	s.wantFound(t, "pike", "pictures/pike-reeds")
	if err := s.Journal().ReadOnly(); err != nil {
		t.Error(err)
	}
	sameDump(t, "replayed", dump(t, s.join(t, nil).db), dump(t, s.db))
}

func titled(title string) *pb.Picture {
	p := plate()
	p.Title = title
	return p
}

// wantFound searches for a word.
func (s *studio) wantFound(t testing.TB, word string, want ...string) {
	t.Helper()
	a, err := s.Index().Search(t.Context(), indexer.Query{Request: &pb.SearchPicturesRequest{Text: word, PageSize: 200}})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]bool{}
	for _, h := range a.Hits {
		got[h.Name] = true
	}
	ok := len(got) == len(want)
	for _, w := range want {
		ok = ok && got[w]
	}
	if !ok {
		t.Errorf("%q finds %v; want %v", word, got, want)
	}
}

// indexed counts the pictures in the index.
func (s *studio) indexed(t testing.TB) int64 {
	t.Helper()
	a, err := s.Index().Search(t.Context(), indexer.Query{Request: &pb.SearchPicturesRequest{}})
	if err != nil {
		t.Fatal(err)
	}
	return a.Total
}

// Rule 2: who was answered finds the change at once: in the bucket, by name, in lists, in the index.
func TestRule02AuthorSeesItAtOnce(t *testing.T) {
	s := newStudio(t)
	for i := range 10 {
		word := fmt.Sprintf("zander%d", i)
		p := s.picture(t, word, func(p *pb.Picture) { p.Title = word })
		seq := s.Journal().Position().Seq
		if _, ok := s.stored(t, fmt.Sprintf("journal/%020d.json", seq))[fmt.Sprintf("journal/%020d.json", seq)]; !ok {
			t.Errorf("commit %d isn't in the bucket", seq)
		}
		same(t, "record", must[*pb.Picture](t)(s.GetPicture(p.GetName())), p)
		if s.Index().Sequence() != seq {
			t.Errorf("index at %d; want %d", s.Index().Sequence(), seq)
		}
		s.wantFound(t, word, p.GetName())
	}
}

// Snapshots may be taken while commits go on: each is of one position.
func TestCheckpointWhileWriting(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	var wg sync.WaitGroup
	wg.Go(func() { busy(t, s, 11, 25) })
	for range 3 {
		must[journal.Position](t)(s.Journal().Checkpoint(t.Context()))
	}
	wg.Wait()
	sum := must[journal.Summary](t)(journal.Verify(t.Context(), s.bucket, journal.VerifyOptions{Schema: Schema}))
	if len(sum.Findings) > 0 {
		t.Errorf("verify found %v", sum.Findings)
	}
	sameDump(t, "joined", dump(t, s.join(t, nil).db), dump(t, s.db))
}

// The lines of a checkpoint hold every kind of thing that the store holds.
func TestCheckpointLines(t *testing.T) {
	s := newStudio(t)
	s.clock.set(time.Now())
	prepare(t, s)
	s.original(t, "never named", 8*24*time.Hour)
	must[int](t)(s.Sweep(t.Context()))
	s.picture(t, "gone-soon", func(p *pb.Picture) { p.Original = &pb.Original{Sha256: s.original(t, "named", 0)} })
	if err := s.DeletePicture(t.Context(), owner, "pictures/gone-soon", ""); err != nil {
		t.Fatal(err)
	}
	_, lines, release, err := (&machine{archive: s.Archive, db: s.db}).Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer release()
	seen := map[string]int{}
	for line, err := range lines {
		if err != nil {
			t.Fatal(err)
		}
		seen[strings.TrimPrefix(fmt.Sprintf("%T", line.GetLine()), "*platariumv1.CheckpointLine_")]++
	}
	want := map[string]int{"Record": 2, "Tombstone": 1, "Answered": 4, "History": 3, "Originals": 2}
	if !maps.Equal(seen, want) {
		t.Errorf("lines %v; want %v", seen, want)
	}
}
