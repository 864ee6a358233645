package web_test

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"platarium/server/web"
)

// fakeImporter stands for the bulk import: it drafts a table of what was dropped, and rejects rows with doubts. What it does is as slow as the test wants.
type fakeImporter struct {
	hold chan struct{} // if not nil, an import waits for it, or for being cancelled

	mu     sync.Mutex
	key    string
	saw    []string
	stored int
}

func (f *fakeImporter) Prepare(_ context.Context, job web.ImportJob) (web.ImportTables, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.key = job.Key
	text := "doubts,file,kind,title,scientific_name,view,stage\n"
	err := filepath.WalkDir(job.Folder, func(path string, e os.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			rel, err := filepath.Rel(job.Folder, path)
			if err != nil {
				return err
			}
			f.saw = append(f.saw, filepath.ToSlash(rel))
			text += "no word says what it is," + filepath.ToSlash(rel) + ",plate,A title,,,\n"
		}
		return err
	})
	tables := web.ImportTables{Manifest: filepath.Join(job.Beside, "manifest.csv"), Drafted: true}
	return tables, errors.Join(err, os.WriteFile(tables.Manifest, []byte(text), 0o600))
}

func (f *fakeImporter) Import(ctx context.Context, job web.ImportJob, tables web.ImportTables, dry bool, watch web.ImportWatch) (web.ImportSummary, error) {
	data, err := os.ReadFile(tables.Manifest)
	if err != nil {
		return web.ImportSummary{}, err
	}
	if f.hold != nil && !dry {
		watch.Progress(web.ImportProgress{Stage: "pictures", Rows: 1, AllRows: 4, Sent: 3e6, Fraction: 0.25, Elapsed: 2 * time.Second, Left: 6 * time.Second})
		select {
		case <-f.hold:
		case <-ctx.Done():
			return web.ImportSummary{}, ctx.Err()
		}
	}
	sum := web.ImportSummary{Words: "pictures: looked at\nrejected rows: " + job.Beside + "/rejects.csv"}
	for i, line := range strings.Split(strings.TrimSpace(string(data)), "\n")[1:] {
		row := web.ImportRow{Table: "manifest.csv", Row: i + 2, Outcome: "created", Name: "pictures/dropped"}
		if !strings.HasPrefix(line, ",") {
			row.Outcome, row.Name, row.Reason, row.Rejected = "rejected", "", "column doubts: <b>settle</b>", true
			sum.Rejected++
		} else if !dry {
			f.mu.Lock()
			f.stored++
			f.mu.Unlock()
		}
		watch.Row(row)
	}
	if sum.Rejected > 0 {
		sum.Rejects = []string{filepath.Join(job.Beside, "rejects.csv")}
		err = os.WriteFile(sum.Rejects[0], []byte("reason,file\n"), 0o600)
	}
	return sum, err
}

// standing waits until the page comes to say something.
func (v *visitor) standing(want string) string {
	v.t.Helper()
	for range 500 {
		if a := v.get("/import"); strings.Contains(a.text, want) {
			return a.text
		}
		time.Sleep(5 * time.Millisecond)
	}
	v.t.Fatalf("the page never came to say %q: %s", want, v.get("/import").text)
	return ""
}

func left(t *testing.T, folder string) int {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	return len(entries)
}

// TestBringingInByPlainForms drops, settles, imports and closes without JavaScript.
func TestBringingInByPlainForms(t *testing.T) {
	f := &fakeImporter{}
	h := open(t, f)
	v := h.visit(t, "assistant")
	if a := v.drop(v.token, dropped{"scans/one.tif", "1"}, dropped{"scans/zwei ü.tif", "2"}); a.code != http.StatusSeeOther {
		t.Fatalf("dropping was answered %d: %s", a.code, a.text)
	}
	page := v.standing("As drafted")
	if strings.Contains(page, h.spool) || strings.Contains(page, "<b>settle</b>") || !strings.Contains(page, "&lt;b&gt;settle") {
		t.Errorf("the page reads %s", page)
	}
	if got := strings.Join(f.saw, "|"); got != "scans/one.tif|scans/zwei ü.tif" || f.key != h.keys["assistant"] {
		t.Errorf("the importer saw %s with the key %q", got, f.key)
	}
	if a := v.drop(v.token, dropped{"three.tif", "3"}); a.code != http.StatusConflict {
		t.Errorf("a second drop meanwhile was answered %d", a.code)
	}
	if a := v.get("/import/files/rejects.csv"); a.code != http.StatusOK || a.text != "reason,file\n" {
		t.Errorf("the rejects are %d %q", a.code, a.text)
	}
	for _, other := range []string{"/import/files/..%2fmanifest.csv", "/import/files/one.tif", "/import/files/owner.key"} {
		if a := v.get(other); a.code != http.StatusNotFound {
			t.Errorf("%s is answered %d", other, a.code)
		}
	}
	if a := h.visit(t, "owner").get("/import"); strings.Contains(a.text, "As drafted") {
		t.Error("another visitor sees what was dropped")
	}
	v.post("/import/step", url.Values{"do": {"settle"}, "right1": {"yes"}, "title1": {"=Settled"}})
	if page = v.standing(`value="=Settled"`); strings.Count(page, `id="right`) != 2 { // one row, and all
		t.Errorf("one row is still doubtful: %s", page)
	}
	v.post("/import/step", url.Values{"do": {"run"}})
	v.standing("Brought in")
	if f.stored != 1 {
		t.Errorf("%d rows went in", f.stored)
	}
	v.post("/import/step", url.Values{"do": {"close"}})
	if n := left(t, h.spool); n != 0 {
		t.Errorf("%d things are left of it", n)
	}
}

// TestDropsThatAreRefused tries paths that lead out, doubles, a missing token and nothing at all: each leaves nothing behind.
func TestDropsThatAreRefused(t *testing.T) {
	h := open(t, &fakeImporter{})
	v := h.visit(t, "assistant")
	for _, tt := range []struct {
		name  string
		token string
		files []dropped
		code  int
	}{
		{"no token", "", []dropped{{"a.tif", "1"}}, http.StatusForbidden},
		{"another token", strings.Repeat("0", 64), []dropped{{"a.tif", "1"}}, http.StatusForbidden},
		{"no files", v.token, nil, http.StatusBadRequest},
		{"a way up", v.token, []dropped{{"../a.tif", "1"}}, http.StatusBadRequest},
		{"a way up in the midst", v.token, []dropped{{"x/../../a.tif", "1"}}, http.StatusBadRequest},
		{"a way up with the other slash", v.token, []dropped{{`x\..\..\a.tif`, "1"}}, http.StatusBadRequest},
		{"a way from the root", v.token, []dropped{{"/etc/a.tif", "1"}}, http.StatusBadRequest},
		{"a drive", v.token, []dropped{{`C:\a.tif`, "1"}}, http.StatusBadRequest},
		{"a stream beside a file", v.token, []dropped{{"a.tif:b", "1"}}, http.StatusBadRequest},
		{"a NUL", v.token, []dropped{{"a\x00.tif", "1"}}, http.StatusBadRequest},
		{"a file twice", v.token, []dropped{{"a.tif", "1"}, {"a.tif", "2"}}, http.StatusBadRequest},
		{"a file that is a folder as well", v.token, []dropped{{"a", "1"}, {"a/b.tif", "2"}}, http.StatusBadRequest},
		{"too deep", v.token, []dropped{{strings.Repeat("a/", 30) + "b.tif", "2"}}, http.StatusBadRequest},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if a := v.drop(tt.token, tt.files...); a.code != tt.code {
				t.Errorf("answered %d: %s", a.code, a.text)
			}
			if n := left(t, h.spool); n != 0 {
				t.Errorf("%d things are left behind", n)
			}
		})
	}
}

// TestGivingUp breaks an import off while it runs: it ends, and nothing of it is left.
func TestGivingUp(t *testing.T) {
	f := &fakeImporter{hold: make(chan struct{})}
	h := open(t, f)
	v := h.visit(t, "assistant")
	v.drop(v.token, dropped{"one.tif", "1"})
	v.standing("As drafted")
	v.post("/import/step", url.Values{"do": {"run"}})
	v.standing("Pictures: 1 of 4 rows, 1.5 MB a second, about 6s left.")
	if a := v.post("/import/step", url.Values{"do": {"run"}}); a.code != http.StatusConflict {
		t.Errorf("a second run meanwhile was answered %d", a.code)
	}
	v.post("/import/step", url.Values{"do": {"give up"}})
	if f.stored != 0 || left(t, h.spool) != 0 || !strings.Contains(v.get("/import").text, `id="bring"`) {
		t.Error("something is left of what was given up")
	}
}
