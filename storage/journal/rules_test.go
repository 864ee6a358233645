package journal

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"platarium/storage"
)

// Rule 1: the loser of a race reads the winner, applies it, plans its own request again and takes the next number.
func TestRule01LoserPlansAgain(t *testing.T) {
	b := newMemory()
	m1, m2 := newRegisters(), newRegisters()
	one, two := open(t, b, m1, quick()), open(t, b, m2, quick())
	submit(t, one, op{id: "a", kind: "add", names: []string{"parties/n"}})
	planned := m2.planned
	r := submit(t, two, op{id: "b", kind: "add", names: []string{"parties/n"}})
	if r.Seq != 2 || m2.value("parties/n") != "2" {
		t.Errorf("loser got commit %d and counts %s, want 2 and 2", r.Seq, m2.value("parties/n"))
	}
	if got := m2.planned - planned; got != 2 {
		t.Errorf("planned %d times, want 2", got)
	}
	if _, err := one.Sync(t.Context()); err != nil || m1.state() != m2.state() {
		t.Errorf("states differ after Sync (error %v)", err)
	}
}

// Rule 1: a refusal rests on the newest state, not on one that others have left behind.
func TestRule01RefusalIsNotStale(t *testing.T) {
	b := newMemory()
	one, two := open(t, b, newRegisters(), quick()), open(t, b, newRegisters(), quick())
	submit(t, one, set("a", "1", "parties/r"))
	r, err := two.Submit(t.Context(), op{id: "b", kind: "cas", names: []string{"parties/r"}, want: "1", value: "2"})
	if err != nil || r.Seq != 2 {
		t.Errorf("receipt %+v, error %v: want commit 2", r, err)
	}
}

// A lone commit costs one Create and nothing else.
func TestRule01LoneCommitIsOneCall(t *testing.T) {
	b := newMemory()
	l := open(t, b, newRegisters(), quick())
	submit(t, l, set("a", "1", "parties/r"))
	b.calledAndReset()
	submit(t, l, set("b", "1", "parties/r"))
	if calls := b.calledAndReset(); calls["create"] != 1 || len(calls) != 1 {
		t.Errorf("calls %v, want one create", calls)
	}
}

// Rule 2: submissions that wait together share a commit, up to its limits, in order and none split.
func TestRule02GroupCommit(t *testing.T) {
	many := func(n int) (names []string) {
		for i := range n {
			names = append(names, fmt.Sprintf("parties/%d", i))
		}
		return names
	}
	cases := []struct {
		name string
		opts Options
		ops  []op
		want []int64 // commit of each
	}{
		{"all share", Options{}, []op{set("a", "1", "parties/a"), set("b", "2", "parties/a"), set("c", "3", "parties/c")}, []int64{1, 1, 1}},
		{"changes", Options{MaxChanges: 4}, []op{set("a", "1", many(3)...), set("b", "1", many(2)...), set("c", "1", many(2)...)}, []int64{1, 2, 2}},
		{"one larger than the group limit", Options{MaxChanges: 4}, []op{set("a", "1", "parties/a"), set("b", "1", many(9)...), set("c", "1", "parties/c")}, []int64{1, 2, 3}},
		{"bytes", Options{MaxBytes: 1000}, []op{set("a", strings.Repeat("x", 700), "parties/a"), set("b", strings.Repeat("y", 700), "parties/b")}, []int64{1, 2}},
		{"default changes", Options{}, []op{set("a", "1", many(600)...), set("b", "1", many(400)...), set("c", "1", "parties/c")}, []int64{1, 1, 2}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			b := newMemory()
			c.opts.CheckpointMin = -1
			l := open(t, b, newRegisters(), c.opts)
			var payloads []any
			for _, o := range c.ops {
				payloads = append(payloads, o)
			}
			var got []int64
			for _, a := range l.SubmitAll(t.Context(), payloads) {
				if a.Err != nil {
					t.Error(a.Err)
				}
				got = append(got, a.Receipt.Seq)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("commits %v, want %v", got, c.want)
			}
			checkVerified(t, b, c.want[len(c.want)-1])
		})
	}
}

// Rule 3: after a lost reply the token tells whose commit it is.
func TestRule03LostReply(t *testing.T) {
	cases := []struct {
		name          string
		before, after error
		fails         int   // how many Creates of commits fail so
		want          error // of Submit
		commits       int64
	}{
		{"stored, doubtful reply", nil, storage.ErrDoubtful, 1, nil, 1},
		{"stored, a retry inside the client says that it exists", nil, storage.ErrExist, 1, nil, 1},
		{"not stored, doubtful reply", storage.ErrDoubtful, nil, 1, nil, 1},
		{"not stored, doubtful for ever", storage.ErrDoubtful, nil, 1000, ErrUnknownOutcome, 0},
		{"not stored, clear reply", errors.New("disk full"), nil, 1, nil, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			inner, fails := newMemory(), c.fails
			fail := func(reply error) func(string, string) error {
				return func(call, key string) error {
					if reply == nil || call != "create" || !strings.HasPrefix(key, journalPrefix) || fails == 0 {
						return nil
					}
					fails--
					return reply
				}
			}
			l := open(t, &faulty{inner: inner, t: t, before: fail(c.before), after: fail(c.after)}, newRegisters(), quick())
			_, err := l.Submit(t.Context(), set("a", "1", "parties/a"))
			want := c.want
			if c.name == "not stored, clear reply" {
				want = c.before
			}
			if !errors.Is(err, want) {
				t.Errorf("error %v, want %v", err, want)
			}
			checkVerified(t, inner, c.commits)
		})
	}
}

// Rule 4: the journal tells who changed what and when.
func TestRule04Audit(t *testing.T) {
	b := newMemory()
	o := quick()
	o.Clock = func() time.Time { return time.Date(2031, 5, 6, 7, 8, 9, 123456789, time.FixedZone("", 3600)) }
	l := open(t, b, newRegisters(), o)
	submit(t, l, set("req-1", "1", "parties/a"))
	c, err := l.Read(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	tx := c.Commit.GetTransactions()[0]
	if tx.GetActor() != "keys/test" || tx.GetRequestId() != "req-1" || tx.GetChanges()[0].GetName() != "parties/a" {
		t.Errorf("transaction %v", tx)
	}
	if got, want := c.Commit.GetTime().AsTime(), time.Date(2031, 5, 6, 6, 8, 9, 123456000, time.UTC); !got.Equal(want) {
		t.Errorf("time %v, want %v", got, want)
	}
	if _, err := l.Read(t.Context(), 2); !errors.Is(err, storage.ErrNotExist) {
		t.Errorf("reading commit 2: %v, want %v", err, storage.ErrNotExist)
	}
}

// Rule 7: a machine that is behind is replayed from where it is, one that has nothing from the start.
func TestRule07ReplayFromAppliedOn(t *testing.T) {
	b, m := newMemory(), newRegisters()
	first, err := Open(t.Context(), b, m, quick())
	if err != nil {
		t.Fatal(err)
	}
	submit(t, first, set("a", "1", "parties/a"))
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	other := newRegisters()
	l := open(t, b, other, quick())
	for i := range 30 {
		submit(t, l, set(fmt.Sprint(i), fmt.Sprint(i), "parties/a"))
	}
	open(t, b, m, quick())
	if m.state() != other.state() || m.restores != 0 {
		t.Errorf("state after replay differs, or was restored %d times", m.restores)
	}
	lost := newRegisters() // the cache folder was deleted
	open(t, b, lost, quick())
	if lost.state() != other.state() {
		t.Error("state built anew differs")
	}
}

// Rule 7: local state of another journal is told apart.
func TestRule07ForeignState(t *testing.T) {
	m := newRegisters()
	l := open(t, newMemory(), m, quick())
	submit(t, l, set("a", "1", "parties/a"))
	if _, err := Open(t.Context(), newMemory(), m, quick()); !errors.Is(err, ErrForeign) {
		t.Errorf("empty bucket: error %v, want %v", err, ErrForeign)
	}
	other := newMemory()
	submit(t, open(t, other, newRegisters(), quick()), set("b", "1", "parties/a"))
	if _, err := Open(t.Context(), other, m, quick()); !errors.Is(err, ErrForeign) {
		t.Errorf("other archive: error %v, want %v", err, ErrForeign)
	}
}

// Rule 9: hashes are over stored bytes, so that a commit written with other spacing is as good.
func TestRule09HashOfStoredBytes(t *testing.T) {
	b := newMemory()
	l := open(t, b, newRegisters(), quick())
	submit(t, l, set("a", "1", "parties/a"))
	prev := sha256.Sum256(b.objects[commitKey(1)])
	if got := l.Position().Head; got != prev {
		t.Errorf("head %v, want sha256 of the object %x", got, prev)
	}
	byHand := fmt.Sprintf("{\n  \"prev\": \"%x\",\n\n  \"time\": %q, \"token\": \"t\", \"schema\": 1,\t\"seq\": 2,\n  \"transactions\": []\n}",
		prev, l.Position().Time.Format(time.RFC3339Nano))
	if err := b.Create(t.Context(), commitKey(2), []byte(byHand)); err != nil {
		t.Fatal(err)
	}
	submit(t, l, set("b", "1", "parties/b"))
	checkVerified(t, b, 3)
	c, err := l.Read(t.Context(), 3)
	if err != nil || c.Commit.GetPrev() != fmt.Sprintf("%x", sha256.Sum256([]byte(byHand))) {
		t.Errorf("commit 3 follows %s (error %v)", c.Commit.GetPrev(), err)
	}
}

// Rule 10: a server that meets a higher schema level reads on, refuses writes, and says which level is wanted.
func TestRule10OldServerReadsOnly(t *testing.T) {
	b, m := newMemory(), newRegisters()
	old := open(t, b, m, quick())
	submit(t, old, set("a", "1", "parties/a"))
	o := quick()
	o.Schema = 2
	young := open(t, b, newRegisters(), o)
	submit(t, young, set("b", "2", "parties/a"))
	// The younger program writes what the older doesn't know.
	prev := young.Position()
	future := fmt.Sprintf(`{"seq":"3","prev":"%v","time":%q,"token":"t","schema":2,"novelty":{"x":1},"transactions":[{"requestId":"c","changes":[{"name":"parties/a","party":{"notes":"3","scent":"fishy"}}]}]}`,
		prev.Head, prev.Time.Format(time.RFC3339Nano))
	if err := b.Create(t.Context(), commitKey(3), []byte(future)); err != nil {
		t.Fatal(err)
	}
	for _, o := range []op{set("d", "4", "parties/a"), set("e", "5", "parties/a")} {
		if _, err := old.Submit(t.Context(), o); !errors.Is(err, ErrReadOnly) || !strings.Contains(err.Error(), "level 2") {
			t.Errorf("error %v, want %v with the level", err, ErrReadOnly)
		}
	}
	if seq, err := old.Sync(t.Context()); err != nil || seq != 3 || m.value("parties/a") != "3" {
		t.Errorf("old server reads commit %d, value %s (error %v), want 3 and 3", seq, m.value("parties/a"), err)
	}
	if _, err := old.Checkpoint(t.Context()); !errors.Is(err, ErrReadOnly) {
		t.Errorf("checkpoint by the old server: %v, want %v", err, ErrReadOnly)
	}
	again := open(t, b, newRegisters(), quick())
	if err := again.ReadOnly(); !errors.Is(err, ErrReadOnly) {
		t.Errorf("opened anew: %v, want %v", err, ErrReadOnly)
	}
}

// Rule 10: an unknown field at a known level is damage, not the future.
func TestRule10UnknownFieldAtKnownLevel(t *testing.T) {
	b := newMemory()
	open(t, b, newRegisters(), quick())
	if err := b.Create(t.Context(), commitKey(1), []byte(`{"seq":"1","time":"2031-01-01T00:00:00Z","schema":1,"novelty":1}`)); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), b, newRegisters(), quick()); !errors.Is(err, ErrBroken) {
		t.Errorf("error %v, want %v", err, ErrBroken)
	}
}

// Rule 13: sweeping is announced in the journal.
func TestRule13SweepIsAnnounced(t *testing.T) {
	l := open(t, newMemory(), newRegisters(), quick())
	sum := strings.Repeat("ab", sha256.Size)
	r := submit(t, l, op{kind: "sweep", value: sum})
	c, err := l.Read(t.Context(), r.Seq)
	if err != nil || !slices.Equal(c.Commit.GetSweep(), []string{sum}) {
		t.Errorf("commit announces %v (error %v), want %s", c.Commit.GetSweep(), err, sum)
	}
}

// Rule 14: time never goes back.
func TestRule14TimeNeverGoesBack(t *testing.T) {
	now := time.Date(2031, 1, 1, 12, 0, 0, 0, time.UTC)
	o := quick()
	o.Clock = func() time.Time { return now }
	b := newMemory()
	l := open(t, b, newRegisters(), o)
	for i, step := range []time.Duration{0, -time.Hour, time.Minute, -time.Second} {
		before := l.Position().Time
		now = time.Date(2031, 1, 1, 12, 0, 0, 0, time.UTC).Add(step)
		r := submit(t, l, set(fmt.Sprint(i), "1", "parties/a"))
		want := now
		if want.Before(before) {
			want = before
		}
		if !r.Time.Equal(want) {
			t.Errorf("commit %d at %v, want %v", r.Seq, r.Time, want)
		}
	}
	checkVerified(t, b, 4)
}

// A submitter who leaves before the request is taken up leaves nothing behind; one who leaves later doesn't learn the outcome.
func TestSubmitterLeaves(t *testing.T) {
	b := newMemory()
	hold, held := make(chan struct{}), make(chan struct{})
	slow := &faulty{inner: b, t: t}
	l := open(t, slow, newRegisters(), quick())
	slow.before = func(call, _ string) error {
		if call == "create" {
			close(held)
			<-hold
		}
		return nil
	}
	ctx, cancel := context.WithCancel(t.Context())
	inFlight, waiting := make(chan error, 1), make(chan error, 1)
	go func() { _, err := l.Submit(ctx, set("a", "1", "parties/a")); inFlight <- err }()
	<-held
	go func() { _, err := l.Submit(ctx, set("b", "1", "parties/b")); waiting <- err }()
	waitForQueue(t, l, 1)
	cancel()
	if err := <-waiting; !errors.Is(err, context.Canceled) || errors.Is(err, ErrUnknownOutcome) {
		t.Errorf("waiting: %v, want only %v", err, context.Canceled)
	}
	if err := <-inFlight; !errors.Is(err, ErrUnknownOutcome) {
		t.Errorf("in flight: %v, want %v", err, ErrUnknownOutcome)
	}
	slow.before = nil
	close(hold)
	if err := l.WaitFor(t.Context(), 1); err != nil {
		t.Fatal(err)
	}
	checkVerified(t, b, 1)
}
