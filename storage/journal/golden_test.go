package journal

import (
	"flag"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"platarium/storage/dir"
)

// snapshot is a bucket as version 1 of the layout has it: six commits and a checkpoint of the third.
var snapshot = filepath.Join("..", "..", "testdata", "bucket-v1")

var update = flag.Bool("update", false, "write the snapshot of the current bucket version anew")

// snapshotHead is the last commit of the snapshot.
const snapshotHead = "6 b6c3fcebc984b6c0fc73ecbff3f1dc02af0624520d2129b10b1993ac4de44730 2031-03-01T09:07:00Z"

// writeSnapshot makes the snapshot, which has to be done once for each version of the layout.
func writeSnapshot(t *testing.T) {
	t.Helper()
	if err := os.RemoveAll(snapshot); err != nil {
		t.Fatal(err)
	}
	b, err := dir.Open(snapshot)
	if err != nil {
		t.Fatal(err)
	}
	o := quick()
	now := time.Date(2031, 3, 1, 9, 0, 0, 0, time.UTC)
	o.Clock = func() time.Time { now = now.Add(time.Minute); return now }
	o.Rand = rand.NewChaCha8([32]byte{1})
	l := open(t, b, newRegisters(), o)
	for _, request := range []op{
		set("req-1", "met at the Northwick show", "parties/engraver", "parties/museum"),
		set("req-2", "lends skins and skeletons", "parties/museum"),
		{id: "req-3", kind: "delete", names: []string{"parties/engraver"}},
	} {
		submit(t, l, request)
	}
	if _, err := l.Checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	submit(t, l, op{kind: "sweep", value: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"})
	submit(t, l, set("req-4", "prints the monograph", "parties/printer"))
	t.Log("head:", l.Position())
	// Stored bytes must survive a checkout on any system.
	if err := os.WriteFile(filepath.Join(snapshot, ".gitattributes"), []byte("* -text\n"), 0o644); err != nil {
		t.Fatal(err)
	}
}

// A bucket of version 1 is read, whether by its checkpoint or from its first commit on, and is whole.
func TestReadsBucketOfVersion1(t *testing.T) {
	if *update {
		writeSnapshot(t)
	}
	want, err := ParsePosition(snapshotHead)
	if err != nil {
		t.Fatal(err)
	}
	for _, withCheckpoint := range []bool{true, false} {
		folder := t.TempDir()
		if err := os.CopyFS(folder, os.DirFS(snapshot)); err != nil {
			t.Fatal(err)
		}
		if !withCheckpoint {
			if err := os.RemoveAll(filepath.Join(folder, "checkpoints")); err != nil {
				t.Fatal(err)
			}
		}
		b, err := dir.Open(folder)
		if err != nil {
			t.Fatal(err)
		}
		sum, err := Verify(t.Context(), b, VerifyOptions{Head: &want})
		if err != nil || len(sum.Findings) > 0 {
			t.Errorf("findings %v (error %v)", sum.Findings, err)
		}
		m := newRegisters()
		l := open(t, b, m, quick())
		if l.Position() != want || (m.restores == 1) != withCheckpoint {
			t.Errorf("at %v after %d restores, want %v", l.Position(), m.restores, want)
		}
		if m.value("parties/museum") != "lends skins and skeletons" || m.value("parties/engraver") != "" || m.value("parties/printer") != "prints the monograph" {
			t.Errorf("registers %v", m.values)
		}
		if m.tombs["parties/engraver"].GetSeq() != 3 || m.answered["req-2"].GetSeq() != 2 || len(m.history["parties/museum"]) != 2 {
			t.Errorf("tombstones %v, answered %v, history %v", m.tombs, m.answered, m.history)
		}
	}
}
