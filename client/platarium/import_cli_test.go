package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/client/cli"
	"platarium/client/manifest"
)

// ran carries out a command line against a server.
func ran(t *testing.T, ctx context.Context, r *running, args ...string) (code int, out, errOut string) {
	t.Helper()
	t.Setenv("PLATARIUM_KEY", r.secret)
	var o, e bytes.Buffer
	code = cli.Run(ctx, append([]string{"--server", r.address}, args...), strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

// TestImportCommand: what import says to people and to scripts, and with which exit codes.
func TestImportCommand(t *testing.T) {
	r := start(t, newConfig(t))
	dir := t.TempDir()
	write(t, dir, map[string][]byte{
		"a.png": scan(t, 1), "good.csv": lines("file,kind,title", "a.png,plate,Perch"), "bad.csv": lines("file,kind,title", "a.png,plate,Perch", "missing.png,plate,Pike", ",plate,Roach"),
		"unusable.csv": lines("file,title", "a.png,Perch"),
	})
	path := func(name string) string { return filepath.Join(dir, name) }
	for _, c := range []struct {
		name     string
		args     []string
		code     int
		out, err string
	}{
		{"dry run", []string{"import", path("good.csv"), "--dry-run"}, cli.OK, "pictures: 1 row, 1 would be created or updated\nnothing was stored\n", ""},
		{"first", []string{"import", path("good.csv")}, cli.OK, "pictures: 1 row, 1 created\nfiles: 1 sent (", ""},
		{"again", []string{"import", path("good.csv")}, cli.OK, "pictures: 1 row, 1 unchanged\nfiles: 0 sent (0 bytes), 1 in the archive already\n", ""},
		{"bad", []string{"import", path("bad.csv")}, cli.Rejected, "bad.csv, row 3, column file: found \"missing.png\", which isn't there\npictures: 3 rows, 1 created, 1 unchanged, 1 rejected\n", ""},
		{"unusable", []string{"import", path("unusable.csv")}, cli.Usage, "", "column kind is missing"},
		{"not there", []string{"import", path("none.csv")}, cli.Usage, "", "it isn't there"},
		{"no manifest", []string{"import"}, cli.Usage, "", "want: platarium import MANIFEST"},
		{"ask without a terminal", []string{"import", path("good.csv"), "--ask"}, cli.Usage, "", "--ask needs a terminal"},
		{"wrong numbers", []string{"import", path("good.csv"), "--jobs", "0"}, cli.Usage, "", "found --accept-near 0 and --jobs 0"},
		{"check", []string{"manifest", "check", path("bad.csv")}, cli.Rejected, "pictures: 3 rows, 2 sound, 1 rejected\n", ""},
		{"columns", []string{"manifest", "columns"}, cli.OK, "scientific_name", ""},
		{"specimen columns", []string{"manifest", "columns", "--specimens"}, cli.OK, "NAME_mm", ""},
		{"draft", []string{"manifest", "draft", dir}, cli.OK, "", "left out: bad.csv is a text or a table"},
		{"draft again", []string{"manifest", "draft", dir}, cli.Usage, "", "manifest.csv is there already"},
		{"draft to standard output", []string{"manifest", "draft", dir, "--offline", "-o", "-"}, cli.OK, "doubts,file,kind,title", "1 picture; "},
		{"draft of nothing", []string{"manifest", "draft", path("a.png")}, cli.Usage, "", "want a folder of scans"},
	} {
		code, out, errOut := ran(t, t.Context(), r, c.args...)
		if code != c.code || !strings.Contains(out, c.out) || !strings.Contains(errOut, c.err) {
			t.Errorf("%s: code %d; want %d\n out: %s\nwant: %s\n err: %s\nwant: %s", c.name, code, c.code, out, c.out, errOut, c.err)
		}
	}
	if _, err := os.Stat(path("bad.csv.rejects.csv")); err != nil {
		t.Errorf("rejects: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if code, out, _ := ran(t, ctx, r, "import", path("good.csv")); code != cli.Interrupted || !strings.Contains(out, "1 not reached") {
		t.Errorf("cancelled: code %d, %s; want %d and the sum", code, out, cli.Interrupted)
	}
	r.secret = "none.AAAA"
	if code, _, errOut := ran(t, t.Context(), r, "import", path("good.csv")); code != cli.Denied {
		t.Errorf("wrong key: code %d, %s; want %d", code, errOut, cli.Denied)
	}
}

// TestImportJSON: one object a row, then the sum, and nothing else.
func TestImportJSON(t *testing.T) {
	r := start(t, newConfig(t))
	dir := t.TempDir()
	write(t, dir, map[string][]byte{"plates.csv": lines("kind,title", "plate,Perch", "plat,Pike")})
	code, out, errOut := ran(t, t.Context(), r, "import", filepath.Join(dir, "plates.csv"), "--json")
	all := strings.Split(strings.TrimSpace(out), "\n")
	if code != cli.Rejected || errOut != "" || len(all) != 3 {
		t.Fatalf("code %d, %q, %q", code, out, errOut)
	}
	outcomes := map[int]manifest.Outcome{}
	for _, line := range all[:2] {
		var row manifest.RowResult
		if err := json.Unmarshal([]byte(line), &row); err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		outcomes[row.Row] = row.Outcome
	}
	var last struct{ Summary manifest.Summary }
	if err := json.Unmarshal([]byte(all[2]), &last); err != nil {
		t.Fatalf("%s: %v", all[2], err)
	}
	if outcomes[2] != manifest.Created || outcomes[3] != manifest.Rejected || last.Summary.Pictures.Created != 1 || last.Summary.RejectsFile == "" {
		t.Errorf("rows %v, summary %+v", outcomes, last)
	}
}
