package journal

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"platarium/storage"
)

// Rules 4 and 15: whatever is done to the journal behind the program's back is found, and all of it.
func TestRule15VerifyFinds(t *testing.T) {
	b := newMemory()
	l := filled(t, b, newRegisters(), 12)
	head := l.Position()
	rename := func(b *memory, from, to int64) { b.objects[commitKey(to)] = b.objects[commitKey(from)] }
	replace := func(from, to string) func(string) string {
		return func(s string) string {
			if !strings.Contains(s, from) {
				t.Errorf("nothing to edit in %s", s)
			}
			return strings.Replace(s, from, to, 1)
		}
	}
	type found struct {
		kind FindingKind
		seq  int64
	}
	cases := []struct {
		name string
		harm func(b *memory)
		head bool // with the head published earlier
		want []found
	}{
		{"nothing", func(*memory) {}, true, nil},
		{"an edit", func(b *memory) { b.edit(commitKey(4), replace("Register", "Registrar")) }, false, []found{{BrokenLink, 5}}},
		{"two edits", func(b *memory) {
			b.edit(commitKey(4), replace("Register", "Registrar"))
			b.edit(commitKey(8), replace("Register", "Registrar"))
		}, false, []found{{BrokenLink, 5}, {BrokenLink, 9}}},
		{"an edit of the last, without a head", func(b *memory) { b.edit(commitKey(12), replace("Register", "Registrar")) }, false, nil},
		{"an edit of the last", func(b *memory) { b.edit(commitKey(12), replace("Register", "Registrar")) }, true, []found{{Altered, 12}}},
		{"a deletion", func(b *memory) { delete(b.objects, commitKey(6)) }, false, []found{{Gap, 6}}},
		{"deletion of the first", func(b *memory) { delete(b.objects, commitKey(1)) }, false, []found{{Gap, 1}}},
		{"deletions", func(b *memory) {
			delete(b.objects, commitKey(2))
			delete(b.objects, commitKey(3))
			delete(b.objects, commitKey(9))
		}, false, []found{{Gap, 2}, {Gap, 9}}},
		{"a swap", func(b *memory) {
			third := b.objects[commitKey(3)]
			rename(b, 4, 3)
			b.objects[commitKey(4)] = third
		}, false, []found{{Unreadable, 3}, {Unreadable, 4}, {BrokenLink, 5}}},
		{"an insertion", func(b *memory) {
			for seq := int64(12); seq >= 5; seq-- {
				b.objects[commitKey(seq+1)] = []byte(strings.Replace(string(b.objects[commitKey(seq)]), fmt.Sprintf(`"%d"`, seq), fmt.Sprintf(`"%d"`, seq+1), 1))
			}
			b.objects[commitKey(5)] = fmt.Appendf(nil, `{"seq":"5","prev":"%x","time":"2020-01-01T00:00:00Z","schema":1}`, sha256.Sum256(b.objects[commitKey(4)]))
		}, false, append([]found{{OutOfOrder, 5}}, func() (all []found) {
			for seq := int64(6); seq <= 13; seq++ {
				all = append(all, found{BrokenLink, seq})
			}
			return all
		}()...)},
		{"no JSON", func(b *memory) { b.edit(commitKey(6), func(s string) string { return s[:len(s)/2] }) }, false, []found{{Unreadable, 6}, {BrokenLink, 7}}},
		{"a cut tail, without a head", func(b *memory) { delete(b.objects, commitKey(12)) }, false, nil},
		{"a cut tail", func(b *memory) { delete(b.objects, commitKey(11)); delete(b.objects, commitKey(12)) }, true, []found{{Truncated, 11}}},
		{"everything cut", func(b *memory) { clear(b.objects) }, true, []found{{FormatBad, 0}, {Truncated, 1}}},
		{"all written anew", func(b *memory) { rewrite(t, b) }, true, []found{{Altered, 12}}},
		{"all written anew, without a head", func(b *memory) { rewrite(t, b) }, false, nil},
		{"a stray object", func(b *memory) { b.objects[journalPrefix+"notes.txt"] = []byte("x") }, false, []found{{Stray, 0}}},
		{"format", func(b *memory) { b.edit(formatKey, replace("platarium", "something")) }, false, []found{{FormatBad, 0}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			harmed := b.copied()
			c.harm(harmed)
			var o VerifyOptions
			if c.head {
				o.Head = &head
			}
			sum, err := Verify(t.Context(), harmed, o)
			if err != nil {
				t.Fatal(err)
			}
			var got []found
			damage := false
			for _, f := range sum.Findings {
				got = append(got, found{f.Kind, f.Seq})
				damage = damage || f.Kind != Stray
			}
			if !reflect.DeepEqual(got, c.want) {
				t.Errorf("findings %v\nwant %v", sum.Findings, c.want)
			}
			if errors.Is(sum.Err(), ErrBroken) != damage {
				t.Errorf("summary's error is %v", sum.Err())
			}
		})
	}
}

// rewrite makes another journal of the same length, whole in itself.
func rewrite(t *testing.T, b *memory) {
	other := newMemory()
	filled(t, other, newRegisters(), 12)
	clear(b.objects)
	for key, data := range other.objects {
		b.objects[key] = data
	}
}

func TestVerifyCountsAndShowsRound(t *testing.T) {
	b := newMemory()
	l := filled(t, b, newRegisters(), 12)
	if _, err := l.Checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	var seen, told int64
	sum, err := Verify(t.Context(), b, VerifyOptions{
		Visit:  func(c *Stored) error { seen += c.Commit.GetSeq(); return nil },
		Report: func(p Progress) { told = p.Lines },
	})
	if err != nil || sum.Err() != nil {
		t.Fatal(err, sum.Err())
	}
	if sum.Commits != 13 || sum.Transactions != 12 || sum.Changes != 12 || sum.Head != l.Position() || sum.Checkpoints != 1 || sum.Unrecorded != 0 || sum.ArchiveID != l.ArchiveID() {
		t.Errorf("summary %+v", sum)
	}
	if seen != 13*14/2 || told == 0 {
		t.Errorf("visited commits adding up to %d, reported %d lines", seen, told)
	}
	stop := errors.New("stop")
	if _, err := Verify(t.Context(), b, VerifyOptions{Visit: func(*Stored) error { return stop }}); !errors.Is(err, stop) {
		t.Errorf("error %v, want the visitor's", err)
	}
}

// A store that fails isn't a finding.
func TestVerifyStoreFails(t *testing.T) {
	b := newMemory()
	filled(t, b, newRegisters(), 3)
	cut := errors.New("line cut")
	line := &faulty{inner: b, t: t, before: func(call, key string) error {
		if key == commitKey(2) {
			return cut
		}
		return nil
	}}
	if sum, err := Verify(t.Context(), line, VerifyOptions{}); !errors.Is(err, cut) || len(sum.Findings) > 0 {
		t.Errorf("error %v, findings %v: want %v and none", err, sum.Findings, cut)
	}
}

func TestOpenFormat(t *testing.T) {
	cases := []struct {
		name    string
		objects map[string]string
		want    error
	}{
		{"empty bucket", nil, nil},
		{"newer layout", map[string]string{formatKey: `{"what":"platarium archive","version":2,"archiveId":"x"}`}, ErrFormat},
		{"something else", map[string]string{formatKey: `{"what":"a diary","version":1,"archiveId":"x"}`}, ErrFormat},
		{"no JSON", map[string]string{formatKey: `diary`}, ErrFormat},
		{"without id", map[string]string{formatKey: `{"what":"platarium archive","version":1}`}, ErrFormat},
		{"journal without format", map[string]string{commitKey(1): `{}`}, ErrFormat},
		{"with a field unknown yet", map[string]string{formatKey: `{"what":"platarium archive","version":1,"archiveId":"x","y":1}`}, nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			b := newMemory()
			for key, data := range c.objects {
				b.objects[key] = []byte(data)
			}
			l, err := Open(t.Context(), b, newRegisters(), quick())
			if !errors.Is(err, c.want) || (err == nil) != (c.want == nil) {
				t.Fatalf("error %v, want %v", err, c.want)
			}
			if err == nil {
				t.Cleanup(func() { _ = l.Close() }) // gives no error
			}
		})
	}
}

// Whoever loses the race to make a bucket an archive takes the winner's id.
func TestOpenTwiceAtOnce(t *testing.T) {
	b := newMemory()
	line := &faulty{inner: b, t: t}
	var first *Log
	line.before = func(call, key string) error {
		if call == "create" && first == nil {
			first = open(t, b, newRegisters(), quick())
		}
		return nil
	}
	second := open(t, line, newRegisters(), quick())
	if first == nil || first.ArchiveID() != second.ArchiveID() {
		t.Error("two logs have different archive ids")
	}
}

func TestPosition(t *testing.T) {
	l := filled(t, newMemory(), newRegisters(), 2)
	p := l.Position()
	if got, err := ParsePosition(p.String() + "\n"); err != nil || got != p {
		t.Errorf("parsed %v (error %v), want %v", got, err, p)
	}
	for _, bad := range []string{"", "1", "1 ab 2031-01-01T00:00:00Z", "-1 " + storage.Digest{}.String() + " 2031-01-01T00:00:00Z", "1 " + storage.Digest{}.String() + " today"} {
		if got, err := ParsePosition(bad); err == nil {
			t.Errorf("%q parsed as %v, want an error", bad, got)
		}
	}
}
