package journal

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"platarium/storage"
)

// filled opens a log on b and commits n changes, among them deletions.
func filled(t testing.TB, b storage.Bucket, m Machine, n int) *Log {
	t.Helper()
	l := open(t, b, m, quick())
	grow(t, l, n)
	return l
}

// grow commits n more changes.
func grow(t testing.TB, l *Log, n int) {
	t.Helper()
	for i := range n {
		o := set(fmt.Sprintf("%d-%d", l.Position().Seq, i), fmt.Sprint(i), fmt.Sprintf("parties/%d", i%7))
		if i%5 == 4 {
			o.kind = "delete"
		}
		submit(t, l, o)
	}
}

// folders tells the folders of complete checkpoints, newest first.
func folders(t testing.TB, b storage.Bucket) (complete []string) {
	t.Helper()
	found, err := listCheckpoints(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range found {
		if c.complete {
			complete = append(complete, c.folder)
		}
	}
	return complete
}

// Rule 12: a start from checkpoint and tail leads to the state that the whole journal leads to.
func TestRule12CheckpointAndTail(t *testing.T) {
	b, m := newMemory(), newRegisters()
	l := filled(t, b, m, 40)
	at, err := l.Checkpoint(t.Context())
	if err != nil || at.Seq != 40 {
		t.Fatalf("checkpoint of commit %d: %v", at.Seq, err)
	}
	grow(t, l, 10)
	restored := newRegisters()
	open(t, b, restored, quick())
	if restored.restores != 1 || len(restored.sums) != 11 { // ten and the one that records the checkpoint
		t.Errorf("%d restores and %d commits applied, want 1 and 11", restored.restores, len(restored.sums))
	}
	bare := b.copied()
	for key := range bare.objects {
		if strings.HasPrefix(key, checkpointPrefix) {
			delete(bare.objects, key)
		}
	}
	replayed := newRegisters()
	open(t, bare, replayed, quick())
	if replayed.restores != 0 || replayed.state() != restored.state() || replayed.state() != m.state() {
		t.Errorf("state by checkpoint\n%s\nby replay\n%s", restored.state(), replayed.state())
	}
	checkVerified(t, b, 51)
}

// Rule 12: the two newest checkpoints stay, remnants of unfinished ones go, and a commit records each manifest's hash.
func TestRule12TwoNewestStay(t *testing.T) {
	b := newMemory()
	l := filled(t, b, newRegisters(), 5)
	unfinished := checkpointFolder(3, "dead") + "/part-000.ndjson.gz"
	if err := b.Put(t.Context(), unfinished, strings.NewReader("x"), 1, nil); err != nil {
		t.Fatal(err)
	}
	var made []string
	for range 4 {
		at, err := l.Checkpoint(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		newest := folders(t, b)[0]
		made = append([]string{newest}, made...)
		mark, err := l.Read(t.Context(), at.Seq+1)
		if err != nil {
			t.Fatal(err)
		}
		_, sum, err := readManifest(t.Context(), b, checkpointInfo{seq: at.Seq, folder: newest})
		if got := mark.Commit.GetCheckpoint(); err != nil || got.GetFolder() != newest || got.GetSeq() != at.Seq || got.GetManifestSha256() != sum.String() {
			t.Errorf("recorded %v, want %s with %v (error %v)", got, newest, sum, err)
		}
		grow(t, l, 3)
	}
	if got := folders(t, b); !slices.Equal(got, made[:2]) {
		t.Errorf("checkpoints %v, want %v", got, made[:2])
	}
	for key := range b.objects {
		if strings.HasPrefix(key, checkpointPrefix) && !strings.HasPrefix(key, made[0]) && !strings.HasPrefix(key, made[1]) {
			t.Errorf("%s is left", key)
		}
	}
}

// Rule 12: a checkpoint is made when the tail outgrows half of the last one, by one of the writers.
func TestRule12AutomaticCheckpoint(t *testing.T) {
	b := newMemory()
	o := quick()
	o.CheckpointMin = 10 * (commitWeight + 1000) // somewhat more than ten small commits
	one, two := open(t, b, newRegisters(), o), open(t, b, newRegisters(), o)
	for i := range 12 {
		submit(t, []*Log{one, two}[i%2], set(fmt.Sprint(i), "1", "parties/a"))
	}
	for deadline := time.Now().Add(10 * time.Second); len(folders(t, b)) == 0; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("no checkpoint was made")
		}
	}
	for _, l := range []*Log{one, two} {
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	}
	if got := folders(t, b); len(got) != 1 {
		t.Errorf("checkpoints %v, want one", got)
	}
}

// Rule 12: a checkpoint of many parts is read as it was written.
func TestRule12ManyParts(t *testing.T) {
	b, m := newMemory(), newRegisters()
	l := open(t, b, m, quick())
	l.partBytes = 2000
	for i := range 3 {
		submit(t, l, set(fmt.Sprint(i), strings.Repeat("x", l.partBytes/2), fmt.Sprintf("parties/%d", i)))
	}
	if _, err := l.Checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	manifest, _, err := readManifest(t.Context(), b, checkpointInfo{seq: 3, folder: folders(t, b)[0]})
	if err != nil || len(manifest.GetParts()) != 2 {
		t.Fatalf("%d parts (error %v), want 2", len(manifest.GetParts()), err)
	}
	restored := newRegisters()
	open(t, b, restored, quick())
	if restored.restores != 1 || !maps.Equal(restored.values, m.values) {
		t.Errorf("%d restores to %d registers, want 1 to %d", restored.restores, len(restored.values), len(m.values))
	}
}

// A damaged checkpoint is passed over, for an older one or the journal; the state is the same.
func TestRule12DamagedCheckpoint(t *testing.T) {
	b, m := newMemory(), newRegisters()
	l := filled(t, b, m, 10)
	for range 2 {
		if _, err := l.Checkpoint(t.Context()); err != nil {
			t.Fatal(err)
		}
		grow(t, l, 10)
	}
	both := folders(t, b)
	flip := func(b *memory, folder string) {
		b.edit(folder+"/part-000.ndjson.gz", func(s string) string { return s[:len(s)-9] + "!" + s[len(s)-8:] })
	}
	cases := []struct {
		name  string
		spoil func(b *memory)
		bad   int
	}{
		{"newest part", func(b *memory) { flip(b, both[0]) }, 1},
		{"both", func(b *memory) { flip(b, both[0]); flip(b, both[1]) }, 2},
		{"part missing", func(b *memory) { delete(b.objects, both[0]+"/part-000.ndjson.gz") }, 1},
		{"manifest no JSON", func(b *memory) { b.edit(both[0]+"/"+manifestName, func(string) string { return "{" }) }, 1},
		{"manifest of other commit", func(b *memory) {
			b.edit(both[0]+"/"+manifestName, func(s string) string { return strings.Replace(s, `"head"`, `"heed"`, 1) })
		}, 2}, // its head and its hash
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			spoilt := b.copied()
			c.spoil(spoilt)
			sum, err := Verify(t.Context(), spoilt, VerifyOptions{})
			if err != nil || len(sum.Findings) != c.bad {
				t.Errorf("findings %v (error %v), want %d", sum.Findings, err, c.bad)
			}
			for _, f := range sum.Findings {
				if f.Kind != CheckpointBad || !errors.Is(f, ErrBroken) {
					t.Errorf("finding %v, want kind %v", f, CheckpointBad)
				}
			}
			restored := newRegisters()
			open(t, spoilt, restored, quick())
			if restored.state() != m.state() {
				t.Error("state differs")
			}
		})
	}
}

// A manifest exchanged after the journal recorded it isn't believed, though it fits its parts.
func TestRule12ExchangedManifest(t *testing.T) {
	b := newMemory()
	l := filled(t, b, newRegisters(), 10)
	if _, err := l.Checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	b.edit(folders(t, b)[0]+"/"+manifestName, func(s string) string { return s + " " })
	if _, err := Open(t.Context(), b, newRegisters(), quick()); !errors.Is(err, ErrBroken) {
		t.Errorf("error %v, want %v", err, ErrBroken)
	}
}

// Each call of a checkpoint may fail, before or after it is done: opening leads to the same state all the same.
func TestRule12CrashPoints(t *testing.T) {
	for _, after := range []bool{false, true} {
		for point := 1; ; point++ {
			b, m := newMemory(), newRegisters()
			line := &faulty{inner: b, t: t}
			l := filled(t, line, m, 6)
			if _, err := l.Checkpoint(t.Context()); err != nil {
				t.Fatal(err)
			}
			calls := 0
			crash := func(string, string) error {
				if calls++; calls >= point { // from here on nothing works any more
					return errors.New("line cut")
				}
				return nil
			}
			if after {
				line.after = crash
			} else {
				line.before = crash
			}
			grown := func() error {
				for i := range 3 {
					if _, err := l.Submit(t.Context(), set(fmt.Sprintf("late-%d", i), "1", "parties/z")); err != nil {
						return err
					}
				}
				_, err := l.Checkpoint(t.Context())
				return err
			}()
			if err := l.Close(); err != nil {
				t.Error(err)
			}
			restored, replayed := newRegisters(), newRegisters()
			end := open(t, b, restored, quick()).Position()
			bare := b.copied()
			maps.DeleteFunc(bare.objects, func(key string, _ []byte) bool { return strings.HasPrefix(key, checkpointPrefix) })
			open(t, bare, replayed, quick())
			if restored.state() != replayed.state() {
				t.Errorf("crash at call %d (after it: %t): states differ", point, after)
			}
			checkVerified(t, b, end.Seq)
			if grown == nil {
				break
			}
		}
	}
}

// A checkpoint that is whole but of another state than the journal's is found.
func TestRule12WrongState(t *testing.T) {
	b, m := newMemory(), newRegisters()
	l := filled(t, b, m, 10)
	m.mu.Lock()
	m.values["parties/0"] += "drifted"
	m.mu.Unlock()
	if _, err := l.Checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	sum, err := Verify(t.Context(), b, VerifyOptions{})
	if err != nil || len(sum.Findings) != 1 || sum.Findings[0].Kind != CheckpointBad || sum.Findings[0].Seq != 10 {
		t.Errorf("findings %v (error %v), want one of kind %v", sum.Findings, err, CheckpointBad)
	}
}

// A truncated journal isn't written on from, when a checkpoint shows that there was more.
func TestOpenRefusesTruncated(t *testing.T) {
	b := newMemory()
	l := filled(t, b, newRegisters(), 10)
	if _, err := l.Checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	for seq := int64(8); seq <= 11; seq++ {
		delete(b.objects, commitKey(seq))
	}
	if _, err := Open(t.Context(), b, newRegisters(), quick()); !errors.Is(err, ErrBroken) {
		t.Errorf("error %v, want %v", err, ErrBroken)
	}
}

// A journal with a gap isn't written on from.
func TestOpenRefusesGap(t *testing.T) {
	b := newMemory()
	filled(t, b, newRegisters(), 10)
	delete(b.objects, commitKey(7))
	if _, err := Open(t.Context(), b, newRegisters(), quick()); !errors.Is(err, ErrBroken) {
		t.Errorf("error %v, want %v", err, ErrBroken)
	}
}

// Memory copies what it is given, so that a test can't be fooled by shared bytes.
func TestMemoryCopies(t *testing.T) {
	b, data := newMemory(), []byte("abc")
	if err := b.Create(context.Background(), "a", data); err != nil {
		t.Fatal(err)
	}
	data[0] = 'x'
	if !bytes.Equal(b.objects["a"], []byte("abc")) {
		t.Error("memory shares bytes with its caller")
	}
}
