package journal

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"platarium/storage"
)

// quick are options with short pauses and no checkpoints but those asked for.
func quick() Options {
	return Options{Jitter: time.Millisecond, CheckpointMin: -1}
}

func open(t testing.TB, b storage.Bucket, m Machine, o Options) *Log {
	t.Helper()
	l, err := Open(t.Context(), b, m, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	})
	return l
}

func submit(t testing.TB, l *Log, o op) Receipt {
	t.Helper()
	r, err := l.Submit(t.Context(), o)
	if err != nil {
		t.Fatalf("submit %v: %v", o, err)
	}
	return r
}

// set is a request that sets registers, with an id of its own.
func set(id, value string, names ...string) op {
	return op{id: id, kind: "set", names: names, value: value}
}

func TestSubmitAppliesBeforeItAnswers(t *testing.T) {
	b, m := newMemory(), newRegisters()
	l := open(t, b, m, quick())
	for i := 1; i <= 3; i++ {
		value := fmt.Sprint(i)
		r := submit(t, l, set("r"+value, value, "parties/a"))
		if r.Seq != int64(i) || r.Replayed || len(r.Transaction.GetChanges()) != 1 {
			t.Errorf("receipt %+v, want commit %d", r, i)
		}
		if got := m.value("parties/a"); got != value {
			t.Errorf("after commit %d the register has %q, want %q", i, got, value)
		}
	}
	again := newRegisters()
	open(t, b, again, quick())
	if got, want := again.state(), m.state(); got != want {
		t.Errorf("replayed state differs:\n%s\nwant\n%s", got, want)
	}
}

func TestReplayIsAnsweredAsTheFirstTime(t *testing.T) {
	l := open(t, newMemory(), newRegisters(), quick())
	first := submit(t, l, set("same", "1", "parties/a"))
	submit(t, l, set("other", "2", "parties/a"))
	second := submit(t, l, set("same", "1", "parties/a"))
	if second.Seq != first.Seq || !second.Time.Equal(first.Time) || !second.Replayed {
		t.Errorf("replay answered %+v, the first time %+v", second, first)
	}
}

func TestTwinsInOneBatch(t *testing.T) {
	b := newMemory()
	l := open(t, b, newRegisters(), quick())
	release, err := l.take(t.Context()) // so that all wait for one commit
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	receipts := make([]Receipt, 5)
	for i := range receipts {
		wg.Go(func() { receipts[i] = submit(t, l, set("twin", "1", "parties/a")) })
	}
	waitForQueue(t, l, len(receipts))
	release()
	wg.Wait()
	replayed := 0
	for _, r := range receipts {
		if r.Seq != 1 {
			t.Errorf("receipt %+v, want commit 1", r)
		}
		if r.Replayed {
			replayed++
		}
	}
	if replayed != len(receipts)-1 || l.Position().Seq != 1 {
		t.Errorf("%d replays and %d commits, want %d and 1", replayed, l.Position().Seq, len(receipts)-1)
	}
}

// waitForQueue waits until n submissions stand in line.
func waitForQueue(t testing.TB, l *Log, n int) {
	t.Helper()
	for deadline := time.Now().Add(10 * time.Second); ; time.Sleep(time.Millisecond) {
		l.mu.Lock()
		waiting := len(l.waiting)
		l.mu.Unlock()
		if waiting == n {
			return
		}
		if time.Now().After(deadline) {
			t.Fatalf("%d submissions wait, want %d", waiting, n)
		}
	}
}

func TestPlanErrorReachesItsSubmitterAlone(t *testing.T) {
	l := open(t, newMemory(), newRegisters(), quick())
	_, err := l.Submit(t.Context(), op{id: "x", kind: "cas", names: []string{"parties/a"}, want: "not there"})
	if !errors.Is(err, errMismatch) {
		t.Errorf("error %v, want %v", err, errMismatch)
	}
	if l.Position().Seq != 0 {
		t.Error("a refused request was committed")
	}
}

func TestCloseAnswersWhoWaits(t *testing.T) {
	l := open(t, newMemory(), newRegisters(), quick())
	release, err := l.take(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	got := make(chan error)
	go func() {
		_, err := l.Submit(context.WithoutCancel(t.Context()), set("x", "1", "parties/a"))
		got <- err
	}()
	waitForQueue(t, l, 1)
	closed := make(chan error)
	go func() { closed <- l.Close() }()
	if err := <-got; !errors.Is(err, ErrClosed) {
		t.Errorf("error %v, want %v", err, ErrClosed)
	}
	release()
	if err := <-closed; err != nil {
		t.Error(err)
	}
	if _, err := l.Submit(t.Context(), set("y", "1", "parties/a")); !errors.Is(err, ErrClosed) {
		t.Errorf("error after Close %v, want %v", err, ErrClosed)
	}
}
