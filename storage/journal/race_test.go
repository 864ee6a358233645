package journal

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"

	"platarium/storage"
	"platarium/storage/dir"
)

// writerVar makes the test binary a writer: its value is the writer's number, the number of commits and the bucket's folder, parted by colons.
const writerVar = "PLATARIUM_TEST_WRITER"

func TestMain(m *testing.M) {
	if spec, set := os.LookupEnv(writerVar); set {
		if err := runWriter(spec); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// runWriter counts one register up and sets one of its own with each commit.
func runWriter(spec string) (err error) {
	parts := strings.SplitN(spec, ":", 3)
	commits, err := strconv.Atoi(parts[1])
	if err != nil {
		return err
	}
	bucket, err := dir.Open(parts[2])
	if err != nil {
		return err
	}
	l, err := Open(context.Background(), bucket, newRegisters(), Options{CheckpointMin: -1})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	for i := range commits {
		own := fmt.Sprintf("parties/w%s-%d", parts[0], i)
		if _, err := l.Submit(context.Background(), op{id: own, kind: "add", names: []string{"parties/count", own}, value: own}); err != nil {
			return err
		}
	}
	return nil
}

// Rule 1, between processes: every number is given once, no change is lost or doubled.
func TestRule01FourProcessesOneFolder(t *testing.T) {
	const writers, each = 4, 500
	folder := t.TempDir()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			cmd := exec.CommandContext(t.Context(), self)
			cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%d:%d:%s", writerVar, w, each, folder))
			var out bytes.Buffer
			cmd.Stdout, cmd.Stderr = &out, &out
			if err := cmd.Run(); err != nil {
				t.Errorf("writer %d: %v\n%s", w, err, out.Bytes())
			}
		})
	}
	wg.Wait()
	bucket, err := dir.Open(folder)
	if err != nil {
		t.Fatal(err)
	}
	m := newRegisters()
	l := open(t, bucket, m, quick())
	if l.Position().Seq != writers*each {
		t.Errorf("%d commits, want %d", l.Position().Seq, writers*each)
	}
	checkCounted(t, m, writers, each)
	checkVerified(t, bucket, writers*each)
}

// checkCounted checks that each writer's registers are set, each by one commit, and that all were counted.
func checkCounted(t *testing.T, m *registers, writers, each int) {
	t.Helper()
	if got, want := m.value("parties/count"), strconv.Itoa(writers*each); got != want {
		t.Errorf("counted %s, want %s", got, want)
	}
	for w := range writers {
		for i := range each {
			own := fmt.Sprintf("parties/w%d-%d", w, i)
			if m.value(own) != own || len(m.history[own]) != 1 {
				t.Errorf("%s is %q after %d commits, want itself after 1", own, m.value(own), len(m.history[own]))
			}
		}
	}
}

// checkVerified checks that Verify finds so many commits and nothing wrong.
func checkVerified(t *testing.T, b storage.Bucket, commits int64) {
	t.Helper()
	sum, err := Verify(t.Context(), b, VerifyOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(sum.Findings) > 0 || sum.Commits != commits || sum.Head.Seq != commits {
		t.Errorf("verified %d commits up to %d, want %d; findings: %v", sum.Commits, sum.Head.Seq, commits, sum.Findings)
	}
}

// Rules 1 and 3 over a line that delays, loses replies and delivers late: no loss, no doubling.
func TestRule03WeakLine(t *testing.T) {
	const logs, each, workers = 4, 60, 3
	inner := newMemory()
	line := weakLine(t, inner)
	var wg sync.WaitGroup
	for w := range logs {
		l := open(t, line, newRegisters(), quick())
		for k := range workers {
			wg.Go(func() {
				for i := k; i < each; i += workers {
					own := fmt.Sprintf("parties/w%d-%d", w, i)
					submitUntilKnown(t, l, op{id: own, kind: "add", names: []string{"parties/count", own}, value: own})
				}
			})
		}
	}
	wg.Wait()
	line.sent.Wait()
	m := newRegisters()
	l := open(t, inner, m, quick())
	checkCounted(t, m, logs, each)
	checkVerified(t, inner, l.Position().Seq)
}

// submitUntilKnown does what a client does: it asks again under the same request id while the outcome is unknown.
func submitUntilKnown(t *testing.T, l *Log, o op) (Receipt, error) {
	for {
		r, err := l.Submit(t.Context(), o)
		switch {
		case errors.Is(err, ErrUnknownOutcome):
			continue
		case err != nil && !errors.Is(err, errMismatch):
			t.Errorf("submit %v: %v", o, err)
		}
		return r, err
	}
}
