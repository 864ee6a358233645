package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// layers says what each part of the program may import of the others. A part is the longest prefix that fits.
var layers = map[string][]string{
	"proto":            {},
	"storage":          {"proto"},
	"indexer/meristic": {},
	"indexer/taxon":    {},
	"indexer/rank":     {"indexer/meristic", "indexer/taxon"},
	"indexer":          {"indexer/meristic", "indexer/taxon", "indexer/rank", "storage/journal", "proto"},
	"server/rights":    {},
	"server/scale":     {},
	"server/plan":      {"server/scale", "indexer/meristic", "indexer/taxon", "indexer/rank"},
	"server/web":       {"server/scale", "indexer/meristic", "indexer/taxon", "proto"}, // pages ask as any client does
	"server/iiif":      {"storage", "proto"},
	"server/rest":      {"proto"},
	"server":           {"server/rights", "server/scale", "server/plan", "server/web", "server/iiif", "server/rest", "indexer", "indexer/meristic", "indexer/taxon", "indexer/rank", "storage", "proto"},
	"client":           {"proto", "indexer/meristic", "indexer/taxon", "indexer/rank", "server/rights", "server/scale"},
	"client/platarium": {"client", "server", "server/web", "storage", "proto"}, // main joins client and server
}

// TestImportOrder keeps imports running one way.
func TestImportOrder(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "platarium/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	dec := json.NewDecoder(bytes.NewReader(out))
	packages := 0
	for {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		packages++
		from := part(p.ImportPath)
		allowed, ok := layers[from]
		if !ok {
			t.Errorf("%s belongs to no part", p.ImportPath)
			continue
		}
		for _, imp := range p.Imports {
			if !strings.HasPrefix(imp, "platarium/") {
				continue
			}
			if to := part(imp); to != from && !slices.Contains(allowed, to) {
				t.Errorf("%s imports %s: %q may import only %q", p.ImportPath, imp, from, allowed)
			}
		}
	}
	if packages < 20 {
		t.Errorf("only %d packages were looked at", packages)
	}
}

// part is the part of the program that a package belongs to.
func part(pkg string) string {
	rest := strings.TrimPrefix(pkg, "platarium/")
	for p := rest; p != ""; {
		if _, ok := layers[p]; ok {
			return p
		}
		i := strings.LastIndexByte(p, '/')
		if i < 0 {
			return ""
		}
		p = p[:i]
	}
	return ""
}
