package imaging

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestInfo(t *testing.T) {
	d := Derived{
		Previews: []Preview{{Name: "preview-1600.jpg", Width: 1600, Height: 1131, MediaType: JPEG, Bytes: []byte("jpeg")}},
		PHash:    0xf00000000000000f, Decoder: "libvips 8.14.1", Warnings: []string{"colors are approximate"},
	}
	refused := fault(ErrTooBig, "raise the limit", "60000 by 60000 pixels")
	for name, made := range map[string]struct {
		d   Derived
		err error
	}{"info-v1.json": {d, nil}, "info-v1-failure.json": {Derived{}, refused}} {
		info, err := NewInfo(made.d, made.err)
		if err != nil {
			t.Fatal(err)
		}
		// The snapshot of this version is what later versions must still read.
		stored, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			t.Fatal(err)
		}
		old, err := ParseInfo(stored)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(old, info); d != "" {
			t.Errorf("%s (-stored +made):\n%s", name, d)
		}
		if h, ok := old.Hash(); ok != (made.err == nil) || h != made.d.PHash {
			t.Errorf("%s: hash %x, %v", name, h, ok)
		}
	}
	if _, err := NewInfo(Derived{}, io.ErrClosedPipe); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("an error of the machine became a record: %v", err)
	}
	newer, err := json.Marshal(Info{Version: infoVersion + 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range [][]byte{newer, []byte("{}"), []byte("no")} {
		if _, err := ParseInfo(bad); err == nil {
			t.Errorf("%s passes", bad)
		}
	}
}

func TestReasonsRoundTrip(t *testing.T) {
	for _, r := range reasons {
		f := fault(r.kind, "right", "wrong")
		got := newFailure(f).fault()
		if !errors.Is(got, r.kind) || got.Wrong != "wrong" || got.Right != "right" {
			t.Errorf("%s came back as %v", r.name, got)
		}
	}
}
