package archive

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// write is one call that changes something, told by its answer.
type write struct {
	name  string
	do    func(ctx context.Context, a *Archive, by Caller) (proto.Message, error)
	other func(ctx context.Context, a *Archive, by Caller) (proto.Message, error) // the same method, asked for something else
}

// writes are all methods that take a request id, in an order in which each succeeds, over what prepare makes.
func writes() []write {
	var out []write
	for _, k := range kinds() {
		if k.collection == Keys {
			continue // a secret is shown once: there is no request id to repeat it by
		}
		name := k.collection + "/replayed"
		creation := func(n int, id string) func(context.Context, *Archive, Caller) (proto.Message, error) {
			return func(ctx context.Context, a *Archive, by Caller) (proto.Message, error) {
				return k.create(ctx, a, by, k.fresh(n), id)
			}
		}
		out = append(out, write{"create " + k.collection, creation(1, "replayed"), creation(2, "replayed")},
			write{"create unnamed " + k.collection, creation(3, ""), creation(3, "named-now")})
		if k.update != nil {
			change := func(times int) func(context.Context, *Archive, Caller) (proto.Message, error) {
				return func(ctx context.Context, a *Archive, by Caller) (proto.Message, error) {
					r := k.fresh(1)
					setName(r, name)
					for range times {
						k.change(r)
					}
					return k.update(ctx, a, by, r, []string{k.mask})
				}
			}
			out = append(out, write{"update " + k.collection, change(1), change(2)})
		}
	}
	forget := func(name string) func(context.Context, *Archive, Caller) (proto.Message, error) {
		return func(ctx context.Context, a *Archive, by Caller) (proto.Message, error) {
			return a.ForgetParty(ctx, by, name)
		}
	}
	end := func(day string) func(context.Context, *Archive, Caller) (proto.Message, error) {
		return func(ctx context.Context, a *Archive, by Caller) (proto.Message, error) {
			return a.EndGrant(ctx, by, "grants/replayed", day, "reverted")
		}
	}
	out = append(out, write{"end a grant", end("2026-03-01"), end("2026-03-02")}, write{"forget a party", forget("parties/replayed"), forget("parties/client")})
	for _, k := range kinds() {
		if k.remove == nil {
			continue
		}
		removal := func(etag string) func(context.Context, *Archive, Caller) (proto.Message, error) {
			return func(ctx context.Context, a *Archive, by Caller) (proto.Message, error) {
				return &pb.Change{}, k.remove(ctx, a, by, k.collection+"/replayed", etag)
			}
		}
		out = append(out, write{"delete " + k.collection, removal(""), removal("1")})
	}
	return out
}

// A repeated request is answered as the first time: by the same server, by one opened again, and by another over the bucket; one asked for something else, or
// by somebody else, under the same id is refused.
func TestReplays(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	ctx := t.Context()
	other := s.join(t, nil)
	answers := map[string]proto.Message{}
	for i, w := range writes() {
		by := as(fmt.Sprint("request-", i))
		answers[w.name] = must[proto.Message](t)(w.do(ctx, s.Archive, by))
	}
	seq := s.Journal().Position().Seq
	repeat := func(t *testing.T, a *Archive) {
		for i, w := range writes() {
			by := as(fmt.Sprint("request-", i))
			got, err := w.do(ctx, a, by)
			if err != nil {
				t.Errorf("%s again: %v", w.name, err)
				continue
			}
			same(t, w.name+" again", got, answers[w.name])
			_, err = w.other(ctx, a, by)
			if !errors.Is(err, ErrRequestReused) {
				t.Errorf("%s: another request under the same id gave %v; want %v", w.name, err, ErrRequestReused)
			}
			_, err = w.do(ctx, a, Caller{Actor: "somebody-else", RequestID: by.RequestID})
			if !errors.Is(err, ErrRequestReused) {
				t.Errorf("%s: somebody else's request under the same id gave %v; want %v", w.name, err, ErrRequestReused)
			}
		}
		if got := a.Journal().Position().Seq; got != seq {
			t.Errorf("replays made commits %d to %d", seq+1, got)
		}
	}
	t.Run("same server", func(t *testing.T) { repeat(t, s.Archive) })
	t.Run("another server", func(t *testing.T) { repeat(t, other.Archive) })
	s = s.reopen(t)
	t.Run("opened again", func(t *testing.T) { repeat(t, s.Archive) })
}

// A replay is answered even when what the request rests on is gone since.
func TestReplayAfterTheGroundsAreGone(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	must[*pb.Taxon](t)(s.CreateTaxon(ctx, owner, ownSpecies(), "imaginary"))
	p := plate()
	p.Identification = &pb.Identification{ScientificName: "Perca imaginaria"}
	first := must[*pb.Picture](t)(s.CreatePicture(ctx, as("r-1"), p, "shown"))
	if err := s.DeletePicture(ctx, owner, first.GetName(), ""); err != nil {
		t.Fatal(err)
	}
	if err := s.DeleteTaxon(ctx, owner, "taxa/imaginary", ""); err != nil {
		t.Fatal(err)
	}
	same(t, "replay", must[*pb.Picture](t)(s.CreatePicture(ctx, as("r-1"), p, "shown")), first)
	_, err := s.CreatePicture(ctx, as("r-2"), p, "shown-2")
	wantViolation(t, err, "identification.scientific_name")
}

// Many at once under one id make one record, whether they share a commit or not, on one server and on two.
func TestTwinsAtOnce(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	const twins = 12
	var made [twins]*pb.Picture
	var errs [twins]error
	var wg sync.WaitGroup
	for i := range twins {
		wg.Go(func() {
			a := s
			if i%2 == 1 {
				a = other
			}
			made[i], errs[i] = a.CreatePicture(t.Context(), as("twin"), plate(), "")
		})
	}
	wg.Wait()
	for i := range twins {
		if errs[i] != nil {
			t.Fatal(errs[i])
		}
		same(t, "answer", made[i], made[0])
	}
	s.sync(t)
	if n := must[int64](t)(s.Count(Pictures)); n != 1 {
		t.Errorf("%d pictures; want 1", n)
	}
	batch := []Creation[*pb.Picture]{{Record: plate(), RequestID: "in-batch"}, {Record: plate(), RequestID: "in-batch"}, {Record: rich(), RequestID: "in-batch"}}
	out, _ := s.BatchCreatePictures(t.Context(), "owner-key", batch, false, false)
	if out[0].Err != nil || out[1].Err != nil {
		t.Fatal(out[0].Err, out[1].Err)
	}
	same(t, "twin in one batch", out[1].Record, out[0].Record)
	wantIs(t, out[2].Err, ErrRequestReused)
}

func TestRequestIDs(t *testing.T) {
	s := newStudio(t)
	for _, id := range []string{"a b", "ümlaut", "tab\t", string(make([]byte, 3)), "this-one-has-more-than-sixty-four-characters-which-is-more-than-allowed"} {
		_, err := s.CreatePicture(t.Context(), as(id), plate(), "")
		wantViolation(t, err, "request_id")
	}
	must[*pb.Picture](t)(s.CreatePicture(t.Context(), as("~!x"), plate(), ""))
}

// A request id is remembered for 30 days.
func TestRequestsAreForgottenAfterThirtyDays(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	must[*pb.Picture](t)(s.CreatePicture(ctx, as("r-old"), plate(), "one-old"))
	s.clock.forward(answeredFor - time.Minute)
	must[*pb.Picture](t)(s.CreatePicture(ctx, as("r-new"), plate(), ""))
	same(t, "replay just in time", must[*pb.Picture](t)(s.CreatePicture(ctx, as("r-old"), plate(), "one-old")), must[*pb.Picture](t)(s.GetPicture("pictures/one-old")))
	s.clock.forward(2 * time.Minute)
	must[*pb.Picture](t)(s.CreatePicture(ctx, as("r-newer"), plate(), ""))
	_, err := s.CreatePicture(ctx, as("r-old"), plate(), "one-old")
	wantIs(t, err, ErrExists)
	must[*pb.Picture](t)(s.CreatePicture(ctx, as("r-old"), plate(), "one-new")) // the id is free again
}
