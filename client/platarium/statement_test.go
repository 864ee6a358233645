package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/client"
	"platarium/client/cli"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights/statement"
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
	want(cli.OK, "sound: the archive has that commit, and it is the last\n", "verify", file)
	old, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	want(cli.OK, "", "update", "pictures/perch-plate", "title=Ruffe after all")
	want(cli.OK, "sound: the archive has that commit; newer commits have come since: 1, the last of them", "verify", file)
	mark, _, err := statement.Check(old)
	if err != nil {
		t.Fatal(err)
	}
	again := file + ".again"
	want(cli.OK, "", "history", "pictures/perch-plate", "--format", "statement", "--at", fmt.Sprint(mark.Sequence), "-o", again)
	if b, err := os.ReadFile(again); err != nil || !bytes.Equal(b, old) {
		t.Errorf("asked for again it reads %s, %v; want %s", b, err, old)
	}
	want(cli.Refused, "there is no such commit yet", "history", "pictures/perch-plate", "--format", "statement", "--at", "1000", "-o", file+".x")
	want(cli.Usage, "--at goes with", "history", "pictures/perch-plate", "--at", "1")
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

// TestAGrantIsPrinted writes one grant as a statement that verifies, and as a PDF.
func TestAGrantIsPrinted(t *testing.T) {
	r := licensingDesk(t)
	do(t, r, cli.OK, "grant", "create", "--id", "book", "--party", "parties/reed-press", "--work", "pictures/perch-plate", "--media", "print.book", "--territory", "DE", "--from", "2026-01-01", "--signed", "2025-12-01")
	dir := t.TempDir()
	file, pdf := filepath.Join(dir, "book.json"), filepath.Join(dir, "book.pdf")
	do(t, r, cli.OK, "grant", "statement", "grants/book", "--format", "statement", "-o", file)
	if out, _ := do(t, r, cli.OK, "verify", file); !strings.Contains(out, "whole: grants/book as of commit") || !strings.Contains(out, "sound: ") {
		t.Errorf("verify says %s", out)
	}
	do(t, r, cli.OK, "grant", "statement", "grants/book", "-o", pdf)
	if b, err := os.ReadFile(pdf); err != nil || !bytes.HasPrefix(b, []byte("%PDF-")) {
		t.Errorf("the PDF begins %.20q, %v", b, err)
	}
	do(t, r, cli.Usage, "grant", "statement", "grants/book", "--format", "doc")
	do(t, r, cli.Missing, "grant", "statement", "grants/nowhere")
}

// TestAPartysHistoryIsPrinted writes the history of an organisation as a statement that verifies and reads the same of an earlier commit, and as a PDF.
func TestAPartysHistoryIsPrinted(t *testing.T) {
	r := licensingDesk(t)
	do(t, r, cli.OK, "grant", "create", "--id", "book", "--party", "parties/reed-press", "--work", "pictures/perch-plate", "--media", "print.book", "--territory", "DE", "--from", "2026-01-01", "--signed", "2025-12-01")
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	do(t, r, cli.OK, "history", "--party", "parties/reed-press", "--format", "statement", "-o", in("reed.json"))
	if out, _ := do(t, r, cli.OK, "verify", in("reed.json"), "--offline"); !strings.Contains(out, "whole: parties/reed-press as of commit") {
		t.Errorf("verify says %s", out)
	}
	old, err := os.ReadFile(in("reed.json"))
	if err != nil {
		t.Fatal(err)
	}
	mark, _, err := statement.Check(old)
	if err != nil {
		t.Fatal(err)
	}
	do(t, r, cli.OK, "history", "--party", "parties/reed-press", "--format", "pdf", "-o", in("reed.pdf"))
	do(t, r, cli.OK, "update", "pictures/perch-plate", "title=Ruffe after all")
	at := fmt.Sprint(mark.Sequence)
	do(t, r, cli.OK, "history", "--party", "parties/reed-press", "--format", "statement", "--at", at, "-o", in("again.json"))
	if out, _ := do(t, r, cli.OK, "verify", in("again.json")); !strings.Contains(out, "sound: the archive has that commit; newer commits have come since: 1") {
		t.Errorf("verify says %s", out)
	}
	do(t, r, cli.OK, "history", "--party", "parties/reed-press", "--format", "pdf", "--at", at, "-o", in("again.pdf"))
	for _, kind := range []string{".json", ".pdf"} {
		was, err := os.ReadFile(in("reed" + kind))
		if err != nil {
			t.Fatal(err)
		}
		if is, err := os.ReadFile(in("again" + kind)); err != nil || !bytes.Equal(is, was) {
			t.Errorf("%s: asked for again it has %d bytes, %v; want the same %d", kind, len(is), err, len(was))
		}
		if want := map[string]string{".json": "{", ".pdf": "%PDF-"}[kind]; !bytes.HasPrefix(was, []byte(want)) {
			t.Errorf("%s begins %.20q", kind, was)
		}
	}
	do(t, r, cli.Usage, "history", "--party", "parties/reed-press", "--at", at)
	do(t, r, cli.Usage, "history", "--party", "parties/reed-press", "--format", "doc")
	do(t, r, cli.Usage, "history", "pictures/perch-plate", "--party", "parties/reed-press", "--format", "pdf")
	do(t, r, cli.Missing, "history", "--party", "parties/nowhere", "--format", "pdf")
}

// TestAHistoryIsPrinted sets the history of a picture with a file as a PDF that shows its thumbnail, the same bytes each time.
func TestAHistoryIsPrinted(t *testing.T) {
	r := start(t, newConfig(t))
	b := scan(t, 1)
	sum, size, err := client.Sum(t.Context(), bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.owner.Upload(t.Context(), bytes.NewReader(b), sum, size, "perch.png", nil); err != nil {
		t.Fatal(err)
	}
	pic := &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "Perch", Original: &pb.Original{Sha256: sum}}
	if _, err := r.owner.Archive.CreatePicture(t.Context(), &pb.CreatePictureRequest{PictureId: "perch-plate", Picture: pic}); err != nil {
		t.Fatal(err)
	}
	waitDerived(t, r)
	dir := t.TempDir()
	var files [2][]byte
	for i, name := range []string{"a.pdf", "b.pdf"} {
		file := filepath.Join(dir, name)
		if code, out, errOut := ran(t, t.Context(), r, "history", "pictures/perch-plate", "--format", "pdf", "-o", file); code != cli.OK {
			t.Fatalf("code %d, %q, %q", code, out, errOut)
		}
		if files[i], err = os.ReadFile(file); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.HasPrefix(files[0], []byte("%PDF-")) || !bytes.Contains(files[0], []byte("/Subtype /Image")) || !bytes.Equal(files[0], files[1]) {
		t.Errorf("%d and %d bytes; want the same PDF with an image", len(files[0]), len(files[1]))
	}
	if code, _, errOut := ran(t, t.Context(), r, "history", "pictures/perch-plate", "pictures/other", "--format", "pdf"); code != cli.Usage {
		t.Errorf("two pictures in one PDF: code %d, %q", code, errOut)
	}
}
