package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// The browser that tests drive is one for all of them, as is the server with the invented studio behind it (browser_studio_test.go). Each test has a context of its own in the browser, with its
// own cookies.

// browserPatience bounds every wait for the browser: a slow machine with the race detector needs much of it.
const browserPatience = 30 * time.Second

// closing is what TestMain ends when all tests are over.
var closing struct {
	sync.Mutex
	do []func()
}

func atEnd(f func()) {
	closing.Lock()
	defer closing.Unlock()
	closing.do = append(closing.do, f)
}

func closeAll() {
	closing.Lock()
	defer closing.Unlock()
	for i := len(closing.do) - 1; i >= 0; i-- {
		closing.do[i]()
	}
	closing.do = nil
}

// browser starts the browser.
var browser = sync.OnceValues(func() (context.Context, error) {
	path := os.Getenv("CHROMIUM")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil && path == "" {
			path = found
		}
	}
	if path == "" {
		return nil, errors.New("no browser found: install chromium (.ci/test does), or name one in CHROMIUM")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.DisableGPU)
	if os.Geteuid() == 0 {
		opts = append(opts, chromedp.NoSandbox) // the sandbox refuses to work for root
	}
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, stop := chromedp.NewContext(alloc)
	atEnd(func() { stop(); stopAlloc() })
	if err := chromedp.Do(ctx); err != nil {
		return nil, fmt.Errorf("start %s: %w", path, err)
	}
	return ctx, nil
})

// tab is a page of the browser in the hands of one test.
type tab struct {
	t    *testing.T
	ctx  context.Context //nolint:containedctx // a tab of chromedp is its context
	at   string          // address of the pages
	errs struct {
		sync.Mutex
		said []string // by the page: exceptions, and what the content security policy refused
	}
}

// browse opens a tab signed in with the key of a role ("owner", "assistant", "publisher"), or with none for "". A test that fails leaves a picture of its page.
func browse(t *testing.T, role string) *tab {
	t.Helper()
	b, err := browser()
	if err != nil {
		t.Fatal(err)
	}
	st := studio(t)
	ctx, stop := chromedp.NewContext(b, chromedp.WithNewBrowserContext())
	p := &tab{t: t, ctx: ctx, at: st.pages}
	messages := chromedp.Console(ctx)
	read := make(chan struct{})
	go func() {
		defer close(read)
		for m, err := range messages {
			if err != nil {
				return
			}
			if m.IsException() || m.Source == "security" {
				p.errs.Lock()
				p.errs.said = append(p.errs.said, m.String())
				p.errs.Unlock()
			}
		}
	}()
	t.Cleanup(func() {
		p.errs.Lock()
		for _, s := range p.errs.said {
			t.Errorf("the page complains: %s", s)
		}
		p.errs.Unlock()
		if t.Failed() {
			p.shot("failed")
		}
		stop()
		<-read
	})
	p.size(1280, 900)
	if role != "" {
		p.signIn(st.keys[role])
	}
	return p
}

// signIn signs in by the form, without a browser's help, and takes the cookie over.
func (p *tab) signIn(key string) {
	p.t.Helper()
	p.goTo("/signin")
	p.run(chromedp.SendKeys(chromedp.CSS("#key"), key))
	p.submit("main form")
	p.wait("location.pathname == '/search'")
}

// run does things in the tab, within patience.
func (p *tab) run(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, browserPatience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		p.t.Fatal(err)
	}
}

// goTo loads a page.
func (p *tab) goTo(path string) {
	p.t.Helper()
	p.run(chromedp.Navigate(p.at + path))
}

// click clicks the middle of the first element that fits a selector.
func (p *tab) click(selector string) {
	p.t.Helper()
	p.run(chromedp.Click(chromedp.CSS(selector)))
}

// submit sends a form as its first button does.
func (p *tab) submit(selector string) {
	p.t.Helper()
	p.click(selector + " button:not([type=button])")
}

// get evaluates an expression in the page.
func get[T any](p *tab, expression string) T {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, browserPatience)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		p.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// wait waits until an expression is true in the page, also over the load of another one.
func (p *tab) wait(expression string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, browserPatience)
	defer cancel()
	for {
		yes, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("document.readyState != 'loading' && !!("+expression+")"))
		if yes && err == nil {
			return
		}
		select {
		case <-ctx.Done():
			p.t.Fatalf("waited in vain for %s at %s (last: %v)", expression, p.at, err)
		case <-time.After(40 * time.Millisecond):
		}
	}
}

// text is what is to be read within the first element that fits a selector; the empty string if there is none.
func (p *tab) text(selector string) string {
	p.t.Helper()
	return get[string](p, "document.querySelector("+inScript(selector)+")?.innerText ?? ''")
}

// says fails unless an element comes to hold a text.
func (p *tab) says(selector, want string) {
	p.t.Helper()
	p.wait("[...document.querySelectorAll(" + inScript(selector) + ")].some(e => (e.innerText ?? e.textContent).includes(" + inScript(want) + "))")
}

// inScript is a string as JavaScript reads it.
func inScript(s string) string {
	b, _ := json.Marshal(s) // a string never fails
	return string(b)
}

// size makes the window so many pixels wide and high.
func (p *tab) size(width, height int64) {
	p.t.Helper()
	p.run(chromedp.EmulateViewport(width, height))
}

// media shows the page as on a medium ("screen" or "print") and in a color scheme ("light" or "dark").
func (p *tab) media(medium, scheme string) {
	p.t.Helper()
	params := emulation.SetEmulatedMediaParams{Media: medium, Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}}}
	if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, params); err != nil {
		p.t.Fatal(err)
	}
}

// shots is where pictures of pages go.
var shots = sync.OnceValues(func() (string, error) {
	if dir := os.Getenv("SHOTS"); dir != "" {
		return dir, os.MkdirAll(dir, 0o755)
	}
	return os.MkdirTemp("", "platarium-pages-")
})

// shot keeps a picture of the whole page, and logs where.
func (p *tab) shot(name string) {
	p.t.Helper()
	dir, err := shots()
	if err != nil {
		p.t.Error(err)
		return
	}
	ctx, cancel := context.WithTimeout(p.ctx, browserPatience)
	defer cancel()
	b, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		p.t.Logf("no picture of the page: %v", err)
		return
	}
	file := filepath.Join(dir, strings.ReplaceAll(p.t.Name(), "/", "-")+"-"+name+".png")
	if err := os.WriteFile(file, b, 0o600); err != nil {
		p.t.Error(err)
		return
	}
	p.t.Logf("the page as it stood: %s", file)
}
