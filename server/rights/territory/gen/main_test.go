package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// TestTableIsUpToDate fails when table_gen.go is not what the lists give; go generate writes it anew.
func TestTableIsUpToDate(t *testing.T) {
	out := filepath.Join(t.TempDir(), "table_gen.go")
	if err := run("/usr/share/iso-codes/json", out); err != nil {
		t.Fatalf("install the package iso-codes: %v", err)
	}
	fresh, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := os.ReadFile(filepath.Join("..", "table_gen.go"))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(fresh, kept) {
		t.Error("table_gen.go is out of date: run go generate ./server/rights/territory")
	}
}
