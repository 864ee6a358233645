package main

import (
	"strings"
	"testing"

	"platarium/client/cli"
)

// TestTheStudiosOwnUses by the command line: recorded without a party, told in the history, in the way of exclusivity and of nothing else, and judged against what was promised.
func TestTheStudiosOwnUses(t *testing.T) {
	r := licensingDesk(t)
	scope := func(picture string) []string {
		return []string{"--work", "pictures/" + picture, "--media", "digital.web", "--territory", "WORLD", "--from", "2026-01-01"}
	}
	record := func(picture string, more ...string) []string {
		return append(append([]string{"use", "--own", "--title", "The studio's own pages"}, scope(picture)...), more...)
	}
	if out, _ := do(t, r, cli.OK, record("perch-plate", "--id", "own-pages")...); out != "uses/own-pages\nlicensed\n  the studio's own work\n" {
		t.Errorf("recorded as %q", out)
	}
	if out, _ := do(t, r, cli.OK, "history", "pictures/perch-plate"); !strings.Contains(out, "2026-01-01, the studio: use\n") || !strings.Contains(out, "The studio's own pages") {
		t.Errorf("history says:\n%s", out)
	}
	ask := func(picture string, more ...string) string {
		out, _ := do(t, r, cli.OK, append(append([]string{"available"}, scope(picture)...), more...)...)
		return out
	}
	if out := ask("perch-plate", "--exclusivity", "exclusive"); !strings.HasPrefix(out, "no\n") || !strings.Contains(out, "uses/own-pages: the studio uses it itself") {
		t.Errorf("exclusivity beside an own use: %s", out)
	}
	for _, kind := range []string{"non exclusive", "sole"} {
		if out := ask("perch-plate", "--exclusivity", kind); !strings.HasPrefix(out, "yes\n") {
			t.Errorf("%s beside an own use: %s", kind, out)
		}
	}
	do(t, r, cli.OK, append([]string{"grant", "create", "--party", "parties/reed-press", "--id", "pages", "--exclusivity", "exclusive", "--signed", "2025-12-01"}, scope("pike-plate")...)...)
	if out, _ := do(t, r, cli.OK, record("pike-plate")...); !strings.Contains(out, "not licensed\n") || !strings.Contains(out, "grants/pages") {
		t.Errorf("an own use against a promise: %s", out)
	}
	if out, _ := do(t, r, cli.OK, "alarms"); !strings.Contains(out, "The studio's own pages") {
		t.Errorf("alarms say:\n%s", out)
	}
	if _, said := do(t, r, cli.Refused, record("perch-plate", "--party", "parties/reed-press")...); !strings.Contains(said, "user: ") {
		t.Errorf("an own use by somebody else: %s", said)
	}
}
