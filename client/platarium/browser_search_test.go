package main

import (
	"io"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestSearching asks the search page as a commission does, narrows the finds down, and opens one.
func TestSearching(t *testing.T) {
	st := studio(t)
	p := browse(t, "assistant")
	p.accessible()
	p.run(chromedp.SendKeys(chromedp.CSS("#near"), "Serranus subligarius"), chromedp.SendKeys(chromedp.CSS("#counts"), "D X,12"), chromedp.SendKeys(chromedp.CSS("#structures"), "opercle"),
		chromedp.SendKeys(chromedp.CSS("#printed"), "120"))
	p.submit("form.wish")
	p.says(".find:first-child h2", "Serranus subligarius")
	p.says(".find:first-child .reasons", "same species")
	p.says(".find:first-child .caption", "pixels per inch in print")
	p.accessible()
	all := get[int](p, "document.querySelectorAll('.find').length")
	p.click(".narrowing summary")
	get[bool](p, "([...document.querySelectorAll('.narrowing a')].find(a => a.textContent == 'plate').click(), true)")
	p.wait("document.querySelectorAll('.find').length < " + strconv.Itoa(all))
	p.says(".chips", "plate")
	if near := get[string](p, "document.querySelector('#near').value"); near != "Serranus subligarius" {
		t.Errorf("the form forgot what is to be drawn: %q", near)
	}
	p.accessible()
	p.click(".find:first-child h2 a")
	p.wait("location.pathname == '/" + st.names["P-007"] + "'")
	p.goTo("/search?q=no-such-word-anywhere")
	p.says("main", "Nothing fits")
	p.goTo("/search?counts=((")
	p.wait("document.querySelector('.wrong, .remark, .tally')")
	p.accessible()
}

// TestPagesInPrintAndOnPhones: nothing is wider than the paper or the screen.
func TestPagesInPrintAndOnPhones(t *testing.T) {
	st := studio(t)
	p := browse(t, "owner")
	plate := "/" + st.names["P-007"]
	specimen := "/" + st.picture(t, "P-007").GetSpecimen()
	for _, path := range []string{"/search", plate, plate + "/annotate", plate + "/record", specimen} {
		for _, look := range []struct {
			medium string
			width  int64
		}{{"screen", 360}, {"screen", 2560}, {"print", 718}} {
			p.size(look.width, 900)
			p.media(look.medium, "light")
			p.goTo(path)
			if over := get[int](p, "document.documentElement.scrollWidth - innerWidth"); over > 0 {
				t.Errorf("%s on %s of %d pixels is too wide by %d", path, look.medium, look.width, over)
			}
		}
		p.size(360, 740)
		p.accessible()
	}
}

// TestWithoutScripts reads the pages as a browser without JavaScript does.
func TestWithoutScripts(t *testing.T) {
	st := studio(t)
	c := plainVisitor(t, st.pages, st.keys["assistant"])
	for path, wants := range map[string][]string{
		"/search?near=Serranus+subligarius&counts=D+X,12": {"<i>Serranus</i> <i>subligarius</i>", "same species", "/file/"},
		"/" + st.names["P-007"]:                           {"preview-1600", "D X,12", "print.book.fieldguide", "dorsal fin: complete", "Made from it"},
		"/" + st.names["P-007"] + "/annotate":             {"snout tip:", "dorsal fin; complete;", "Save the marks"},
		"/" + st.names["P-007"] + "/record":               {"the record was made"},
		"/" + st.picture(t, "P-007").GetSpecimen():        {"STC 0415", "formalin", "hazardous"},
	} {
		res, err := c.Get(st.pages + path)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		if err := res.Body.Close(); err != nil {
			t.Fatal(err)
		}
		for _, want := range wants {
			if res.StatusCode != http.StatusOK || !strings.Contains(string(b), want) {
				t.Errorf("%s was answered %s and doesn't say %q", path, res.Status, want)
			}
		}
	}
}
