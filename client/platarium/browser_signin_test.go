package main

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// TestSigningIn tries a wrong key, the right one, and goes out again.
func TestSigningIn(t *testing.T) {
	p := browse(t, "")
	p.goTo("/pictures/nothing-here?x=1")
	p.wait("location.pathname == '/signin'")
	p.accessible()
	p.run(chromedp.SendKeys(chromedp.CSS("#key"), "not-a-key"))
	p.submit("main form")
	p.says("#wrong", "This key isn't known here")
	p.accessible()
	p.run(chromedp.SendKeys(chromedp.CSS("#key"), studio(t).keys["assistant"]))
	p.submit("main form")
	p.wait("location.pathname == '/pictures/nothing-here'") // where the visitor wanted to go
	p.says("main h1", "Nothing there")
	p.accessible()
	p.goTo("/search")
	p.submit("header form")
	p.wait("location.pathname == '/signin'")
	p.goTo("/search")
	p.wait("location.pathname == '/signin'")
}
