package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sync"

	"github.com/chromedp/chromedp"
)

// axe is the source of axe-core, which checks pages for accessibility.
var axe = sync.OnceValues(func() (string, error) {
	file := os.Getenv("PLATARIUM_AXE")
	if file == "" {
		cache, err := os.UserCacheDir()
		if err != nil {
			return "", err
		}
		file = filepath.Join(cache, "platarium", "axe", "node_modules", "axe-core", "axe.min.js")
	}
	b, err := os.ReadFile(file)
	if err != nil {
		return "", fmt.Errorf("axe-core is missing: .ci/test installs it, or name axe.min.js in PLATARIUM_AXE: %w", err)
	}
	return string(b), nil
})

// violation is a rule of accessibility that a page breaks.
type violation struct {
	ID, Help string
	Nodes    []struct {
		HTML           string
		FailureSummary string
	}
}

// accessible fails for every rule of WCAG 2.2, levels A and AA, that the page breaks in light or in dark.
func (p *tab) accessible() {
	p.t.Helper()
	source, err := axe()
	if err != nil {
		p.t.Fatal(err)
	}
	if !get[bool](p, "!!window.axe") {
		p.run(chromedp.Steps(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
			_, err := chromedp.Evaluate[bool](source+"\n;true")(ctx, t)
			return chromedp.Void{}, err
		}))
	}
	for _, scheme := range []string{"light", "dark"} {
		p.media("screen", scheme)
		found := get[[]violation](p, `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], resultTypes: ["violations"]}).then(r => r.violations.map(v => ({ID: v.id, Help: v.help, Nodes: v.nodes.map(n => ({HTML: n.html, FailureSummary: n.failureSummary}))})))`)
		for _, v := range found {
			for _, n := range v.Nodes {
				p.t.Errorf("%s, %s: %s: %s\n%s\n%s", get[string](p, "location.pathname"), scheme, v.ID, v.Help, n.HTML, n.FailureSummary)
			}
		}
	}
	p.media("screen", "light")
}
