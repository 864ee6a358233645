package journal

import (
	"errors"
	"strings"
	"sync"
	"testing"

	"platarium/storage"
)

// Rule 11: each change is validated after its predecessors in the same commit, and one that fails is refused alone.
func TestRule11RefusedAlone(t *testing.T) {
	b := newMemory()
	l := open(t, b, newRegisters(), quick())
	cas := func(id, want, value string) op {
		return op{id: id, kind: "cas", names: []string{"parties/r"}, want: want, value: value}
	}
	answers := l.SubmitAll(t.Context(), []any{cas("a", "", "1"), cas("b", "", "2"), cas("c", "1", "3"), cas("a", "", "1"), cas("d", "3", "4")})
	for i, want := range []error{nil, errMismatch, nil, nil, nil} {
		if a := answers[i]; !errors.Is(a.Err, want) || a.Err == nil && a.Receipt.Seq != 1 {
			t.Errorf("answer %d: %+v, want error %v and commit 1", i, a, want)
		}
	}
	if !answers[3].Receipt.Replayed {
		t.Error("the twin wasn't answered as a replay")
	}
	checkVerified(t, b, 1)
}

// Rule 11: one request that doesn't fit into an object is refused clearly, and those behind it go on.
func TestRule11TooLarge(t *testing.T) {
	b := newMemory()
	l := open(t, b, newRegisters(), quick())
	huge := set("huge", strings.Repeat("x", storage.MaxCreate), "parties/huge")
	unwritable := set("bad", "\xff", "parties/bad") // not UTF-8, so it can't be rendered
	answers := l.SubmitAll(t.Context(), []any{set("a", "1", "parties/a"), huge, unwritable, set("b", "1", "parties/b")})
	if !errors.Is(answers[1].Err, ErrTooLarge) || answers[2].Err == nil {
		t.Errorf("answers %v and %v, want %v and an error", answers[1].Err, answers[2].Err, ErrTooLarge)
	}
	if answers[0].Err != nil || answers[3].Err != nil || l.Position().Seq != 2 {
		t.Errorf("answers %v and %v after %d commits, want none and 2", answers[0].Err, answers[3].Err, l.Position().Seq)
	}
}

// Rule 11: a commit that is stored but can't be applied isn't called failed; the log stops writing until a replay succeeds, and then the request id tells the outcome.
func TestRule11StoredButNotApplied(t *testing.T) {
	b, m := newMemory(), newRegisters()
	l := open(t, b, m, quick())
	submit(t, l, set("a", "1", "parties/a"))
	broken := errors.New("local disk full")
	var mu sync.Mutex
	failing := true
	m.failApply = func(int64) error {
		mu.Lock()
		defer mu.Unlock()
		if failing {
			return broken
		}
		return nil
	}
	if _, err := l.Submit(t.Context(), set("b", "2", "parties/a")); !errors.Is(err, ErrUnknownOutcome) || !errors.Is(err, broken) {
		t.Errorf("error %v, want %v with the cause", err, ErrUnknownOutcome)
	}
	if _, err := l.Submit(t.Context(), set("c", "3", "parties/a")); !errors.Is(err, ErrReadOnly) {
		t.Errorf("error %v, want %v", err, ErrReadOnly)
	}
	if err := l.ReadOnly(); !errors.Is(err, broken) {
		t.Errorf("ReadOnly %v, want the cause", err)
	}
	checkVerified(t, b, 2)
	mu.Lock()
	failing = false
	mu.Unlock()
	r := submit(t, l, set("b", "2", "parties/a"))
	if r.Seq != 2 || !r.Replayed || l.ReadOnly() != nil {
		t.Errorf("receipt %+v, ReadOnly %v: want a replay of commit 2", r, l.ReadOnly())
	}
}

// Rule 11: a passing failure to apply is overcome by the replay at once, and the answer is the ordinary one.
func TestRule11ReplayOvercomes(t *testing.T) {
	m := newRegisters()
	l := open(t, newMemory(), m, quick())
	fails := 1
	m.failApply = func(int64) error {
		if fails--; fails >= 0 {
			return errors.New("passing")
		}
		return nil
	}
	if r := submit(t, l, set("a", "1", "parties/a")); r.Seq != 1 || m.value("parties/a") != "1" || l.ReadOnly() != nil {
		t.Errorf("receipt %+v, value %q, ReadOnly %v", r, m.value("parties/a"), l.ReadOnly())
	}
}
