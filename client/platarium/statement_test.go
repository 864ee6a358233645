package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/client/cli"
	pb "platarium/proto/platarium/v1"
)

// TestAStatementIsWrittenAndVerified writes a statement to a file, verifies it with and without the server, and then spoils it.
func TestAStatementIsWrittenAndVerified(t *testing.T) {
	r := start(t, newConfig(t))
	if _, err := r.owner.Archive.CreatePicture(t.Context(), &pb.CreatePictureRequest{PictureId: "perch-plate", Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "Perch"}}); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "perch.json")
	want := func(code int, text string, args ...string) {
		t.Helper()
		got, out, errOut := ran(t, t.Context(), r, args...)
		if got != code || !strings.Contains(out+errOut, text) {
			t.Errorf("%v: code %d, %q, %q; want %d and %q", args, got, out, errOut, code, text)
		}
	}
	want(cli.OK, "", "history", "pictures/perch-plate", "--format", "statement", "-o", file)
	want(cli.OK, "whole: pictures/perch-plate", "verify", file, "--offline")
	want(cli.OK, "the archive has that commit", "verify", file)
	code, _, errOut := ran(t, t.Context(), r, "history", "pictures/perch-plate", "--format", "statement", "-o", file)
	if code == cli.OK || !strings.Contains(errOut, "is there already") {
		t.Errorf("a file was written over: %d, %q", code, errOut)
	}
	other := start(t, newConfig(t))
	if code, _, errOut := ran(t, t.Context(), other, "verify", file); code != cli.Problems || !strings.Contains(errOut, "is of archive") {
		t.Errorf("another archive took it for its own: %d, %q", code, errOut)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, bytes.Replace(b, []byte("Perch"), []byte("Ruffe"), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	want(cli.Problems, "own digest", "verify", file, "--offline")
}
