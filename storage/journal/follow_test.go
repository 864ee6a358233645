package journal

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"
)

func TestFollow(t *testing.T) {
	b, m := newMemory(), newRegisters()
	writer, follower := open(t, b, newRegisters(), quick()), open(t, b, m, quick())
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() { ended <- follower.Follow(ctx, time.Millisecond) }()
	for i := range 20 {
		r := submit(t, writer, set(fmt.Sprint(i), fmt.Sprint(i), "parties/a"))
		if err := follower.WaitFor(t.Context(), r.Seq); err != nil {
			t.Fatal(err)
		}
		if got := m.value("parties/a"); got != fmt.Sprint(i) {
			t.Fatalf("follower has %s at commit %d, want %d", got, r.Seq, i)
		}
	}
	cancel()
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Errorf("Follow ended with %v, want %v", err, context.Canceled)
	}
}

func TestWaitFor(t *testing.T) {
	b := newMemory()
	writer, reader := open(t, b, newRegisters(), quick()), open(t, b, newRegisters(), quick())
	submit(t, writer, set("a", "1", "parties/a"))
	if err := reader.WaitFor(t.Context(), 1); err != nil { // nobody follows: it looks itself
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if err := reader.WaitFor(ctx, 2); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("waiting for a commit that doesn't come: %v, want %v", err, context.DeadlineExceeded)
	}
	waited := make(chan error)
	go func() { waited <- reader.WaitFor(t.Context(), 2) }()
	submit(t, writer, set("b", "1", "parties/a"))
	if err := <-waited; err != nil {
		t.Error(err)
	}
}

// lines collects log lines.
type lines struct {
	mu  sync.Mutex
	all []string
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.all = append(l.all, string(p))
	return len(p), nil
}

func (l *lines) with(text string) (n int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, line := range l.all {
		if strings.Contains(line, text) {
			n++
		}
	}
	return n
}

// A follower whose machine can't apply another's commit says so once, doesn't write, and goes on when it can.
func TestFollowerThatCannotApply(t *testing.T) {
	b, m, log := newMemory(), newRegisters(), &lines{}
	o := quick()
	o.Logger = slog.New(slog.NewTextHandler(log, nil))
	writer, follower := open(t, b, newRegisters(), quick()), open(t, b, m, o)
	full := errors.New("local disk full")
	failing, tries := true, 0
	m.failApply = func(int64) error { // called under the machine's lock
		if tries++; failing {
			return full
		}
		return nil
	}
	submit(t, writer, set("a", "1", "parties/a"))
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() { ended <- follower.Follow(ctx, time.Millisecond) }()
	for count := 0; count < 5; time.Sleep(time.Millisecond) {
		m.mu.Lock()
		count = tries
		m.mu.Unlock()
	}
	if err := follower.ReadOnly(); !errors.Is(err, ErrReadOnly) || !errors.Is(err, full) {
		t.Errorf("ReadOnly %v, want %v with the cause", err, ErrReadOnly)
	}
	m.mu.Lock()
	failing = false
	m.mu.Unlock()
	if err := follower.WaitFor(t.Context(), 1); err != nil {
		t.Error(err)
	}
	submit(t, follower, set("b", "2", "parties/a"))
	cancel()
	<-ended
	if n := log.with("can't follow"); n != 1 {
		t.Errorf("logged %d times, want once", n)
	}
}

// Sync notices a chain that was broken after opening, and nothing is written on it.
func TestSyncBrokenChain(t *testing.T) {
	b, m := newMemory(), newRegisters()
	l := filled(t, b, m, 3)
	forged := fmt.Sprintf(`{"seq":"4","prev":"%064d","time":%q,"schema":1}`, 0, l.Position().Time.Format(time.RFC3339Nano))
	if err := b.Create(t.Context(), commitKey(4), []byte(forged)); err != nil {
		t.Fatal(err)
	}
	if _, err := l.Submit(t.Context(), set("x", "1", "parties/a")); !errors.Is(err, ErrReadOnly) || !errors.Is(err, ErrBroken) {
		t.Errorf("Submit: %v, want %v for %v", err, ErrReadOnly, ErrBroken)
	}
	if seq, err := l.Sync(t.Context()); !errors.Is(err, ErrBroken) || seq != 3 {
		t.Errorf("Sync: %d, %v; want 3 and %v", seq, err, ErrBroken)
	}
}

// Rule 3: whichever single call fails, before or after it is done, a client that asks again loses nothing and doubles nothing.
func TestRule03AnyCallFailsOnce(t *testing.T) {
	for _, after := range []bool{false, true} {
		for point := 1; ; point++ {
			b := newMemory()
			line := &faulty{inner: b, t: t}
			calls := 0
			var mu sync.Mutex
			fail := func(string, string) error {
				mu.Lock()
				defer mu.Unlock()
				if calls++; calls == point {
					return errors.New("line cut")
				}
				return nil
			}
			one, two := open(t, line, newRegisters(), quick()), open(t, b, newRegisters(), quick())
			if after {
				line.after = fail
			} else {
				line.before = fail
			}
			for i := range 6 {
				own := fmt.Sprintf("parties/w%d-%d", i%2, i/2)
				request := op{id: own, kind: "add", names: []string{"parties/count", own}, value: own}
				l := []*Log{one, two}[i%2]
				if _, err := l.Submit(t.Context(), request); err != nil {
					submit(t, l, request)
				}
			}
			m := newRegisters()
			open(t, b, m, quick())
			checkCounted(t, m, 2, 3)
			checkVerified(t, b, 6)
			if calls < point {
				break
			}
		}
	}
}
