package journal

import (
	"bytes"
	"compress/gzip"
	"errors"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// A commit that decodes is the one asked for, and comes back the same after being encoded; any other is ErrBroken.
func FuzzDecodeCommit(f *testing.F) {
	b := newMemory()
	filled(f, b, newRegisters(), 5)
	for seq := int64(1); seq <= 5; seq++ {
		f.Add(seq, b.objects[commitKey(seq)])
	}
	f.Add(int64(7), []byte(`{"seq":"7","time":"2031-01-01T00:00:00Z","schema":9,"novelty":{"a":[1,2]}}`))
	f.Add(int64(7), []byte(`{"seq":7,"seq":8}`))
	f.Add(int64(1), []byte(`{"seq":"1","time":"9999-99-01T00:00:00Z"}`))
	f.Add(int64(1), []byte(`[]`))
	f.Fuzz(func(t *testing.T, seq int64, data []byte) {
		c, err := decodeCommit(seq, data, 1)
		if err != nil {
			if !errors.Is(err, ErrBroken) || c != nil {
				t.Fatalf("commit %v, error %v: want none and %v", c, err, ErrBroken)
			}
			return
		}
		if c.Commit.GetSeq() != seq || c.Size != len(data) {
			t.Fatalf("commit %d of %d bytes, want %d of %d", c.Commit.GetSeq(), c.Size, seq, len(data))
		}
		var encoded [][]byte
		for _, tx := range c.Commit.GetTransactions() {
			raw, err := protojson.Marshal(tx)
			if err != nil {
				t.Fatal(err)
			}
			encoded = append(encoded, raw)
		}
		head := proto.CloneOf(c.Commit)
		head.Transactions = nil
		if seq == 0 {
			return // never written
		}
		again, err := encodeCommit(head, encoded)
		if err != nil {
			t.Fatal(err)
		}
		back, err := decodeCommit(seq, again, 1)
		if err != nil || !proto.Equal(back.Commit, c.Commit) {
			t.Fatalf("came back as %v (error %v)\nwas %v", back, err, c.Commit)
		}
	})
}

// Lines that decode come back the same, and count all their bytes.
func FuzzDecodeLines(f *testing.F) {
	f.Add([]byte(`{"record":{"name":"parties/a","party":{"notes":"x"}}}` + "\n" + `{"tombstone":{"name":"parties/b","seq":"3"}}` + "\n"))
	f.Add([]byte(`{"originals":{"sha256":["ab"]}}`))
	f.Add([]byte("\n\n"))
	f.Add([]byte("{"))
	f.Fuzz(func(t *testing.T, text []byte) {
		var packed bytes.Buffer
		zip := gzip.NewWriter(&packed)
		if _, err := zip.Write(text); err != nil {
			t.Fatal(err)
		}
		if err := zip.Close(); err != nil {
			t.Fatal(err)
		}
		lines, size, err := decodeLines(packed.Bytes(), false)
		if err != nil {
			return
		}
		if carriage := int64(bytes.Count(text, []byte("\r\n"))); size+carriage < int64(len(text)) {
			t.Fatalf("%d bytes of %d counted", size, len(text))
		}
		for _, l := range lines {
			raw, err := protojson.Marshal(l)
			if err != nil {
				t.Fatal(err)
			}
			back := new(pb.CheckpointLine)
			if err := protojson.Unmarshal(raw, back); err != nil || !proto.Equal(back, l) {
				t.Fatalf("came back as %v (error %v), was %v", back, err, l)
			}
		}
	})
}

// Bytes that aren't gzip, or are cut, are an error and nothing worse.
func FuzzDecodeLinesRaw(f *testing.F) {
	var packed bytes.Buffer
	zip := gzip.NewWriter(&packed)
	if _, err := zip.Write([]byte("{}\n")); err != nil {
		f.Fatal(err)
	}
	if err := zip.Close(); err != nil {
		f.Fatal(err)
	}
	f.Add(packed.Bytes())
	f.Add(packed.Bytes()[:12])
	f.Add([]byte("plain"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if lines, _, err := decodeLines(data, true); err != nil && lines != nil && len(lines) == 0 {
			t.Fatal("empty lines beside an error")
		}
	})
}

// A key that parses is the key of its number; a position that parses comes back the same.
func FuzzParse(f *testing.F) {
	f.Add(commitKey(42))
	f.Add("journal/00000000000000000000.json")
	f.Add(checkpointFolder(7, "ab") + "/manifest.json")
	f.Add("1 0000000000000000000000000000000000000000000000000000000000000000 2031-01-01T00:00:00.5+01:00")
	f.Fuzz(func(t *testing.T, text string) {
		if seq, ok := parseCommitKey(text); ok && (seq < 1 || commitKey(seq) != text) {
			t.Errorf("%q parsed as commit %d", text, seq)
		}
		if seq, folder, file, ok := parseCheckpointKey(text); ok && (seq < 0 || folder+"/"+file != text) {
			t.Errorf("%q parsed as commit %d, folder %q, file %q", text, seq, folder, file)
		}
		if p, err := ParsePosition(text); err == nil {
			if back, err := ParsePosition(p.String()); err != nil || back != p {
				t.Errorf("%q parsed as %v, then as %v (error %v)", text, p, back, err)
			}
		}
	})
}
