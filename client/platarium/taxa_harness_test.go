package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/client/cli"
)

var updateTaxa = flag.Bool("update", false, "write golden files anew")

// session is a person at a terminal: what is typed and what comes back, for a golden file.
type session struct {
	t    *testing.T
	r    *running
	text bytes.Buffer
}

func newSession(t *testing.T, r *running) *session {
	t.Helper()
	t.Setenv("PLATARIUM_KEY", "")
	return &session{t: t, r: r}
}

// run carries out one command line and writes down what it said and its exit code, unless that is 0.
func (s *session) run(words ...string) string {
	s.t.Helper()
	return s.typed("", words...)
}

// typed runs a command with something on its standard input.
func (s *session) typed(input string, words ...string) string {
	s.t.Helper()
	var out, errOut bytes.Buffer
	full := append([]string{"--server", s.r.address, "--key-file", s.r.conf.KeyFile}, words...)
	code := cli.Run(s.t.Context(), full, strings.NewReader(input), &out, &errOut)
	fmt.Fprintf(&s.text, "$ platarium %s\n%s", quoted(words), out.String())
	for line := range strings.Lines(errOut.String()) {
		fmt.Fprintf(&s.text, "! %s", line)
	}
	if code != cli.OK {
		fmt.Fprintf(&s.text, "exit code %d\n", code)
	}
	s.text.WriteByte('\n')
	return out.String()
}

func quoted(words []string) string {
	out := make([]string, len(words))
	for i, w := range words {
		if out[i] = w; strings.ContainsAny(w, " ;,") || w == "" {
			out[i] = `"` + w + `"`
		}
	}
	return strings.Join(out, " ")
}

// golden compares the session with a file below testdata/taxa.
func (s *session) golden(name string) {
	s.t.Helper()
	path := filepath.Join("testdata", "taxa", name+".txt")
	if *updateTaxa {
		if err := os.WriteFile(path, s.text.Bytes(), 0o644); err != nil {
			s.t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		s.t.Fatalf("%v; write it with -update", err)
	}
	if !bytes.Equal(s.text.Bytes(), want) {
		s.t.Errorf("%s differs:\n--- got\n%s\n--- want\n%s", path, s.text.Bytes(), want)
	}
}

// taxaTable writes a file for one test; columns are parted by | in the rows given.
func taxaTable(t *testing.T, name string, rows ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	text := strings.ReplaceAll(strings.Join(rows, "\n")+"\n", "|", "\t")
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}
