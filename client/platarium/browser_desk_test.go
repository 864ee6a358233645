package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"platarium/client/demo"
	pb "platarium/proto/platarium/v1"
)

// TestPagesOfTheDesk looks at every page of briefs, licences and bringing in as an accessibility checker does, and that none is wider than a phone.
func TestPagesOfTheDesk(t *testing.T) {
	t.Parallel()
	picture := strings.TrimPrefix(studio(t).names["P-007"], "pictures/")
	for _, of := range []struct {
		role  string
		pages []string
	}{
		{"assistant", []string{
			"/briefs", "/briefs/new", "/briefs/b-02", "/briefs/b-02/edit", "/briefs/b-08", "/briefs/b-02/plan", "/choose?picture=" + picture,
			"/licences?days=3660", "/grants", "/grants/field-guide", "/grants/new", "/grants/field-guide/amend", "/uses/new?grant=field-guide", "/uses/first-guide", "/parties", "/parties/quillfin", "/parties/quillfin/history",
			"/available?media=print.book&territories=GB&works=" + picture, "/available?media=print.bok&territories=GB&works=" + picture, "/import",
		}},
		{"publisher", []string{"/licences", "/grants", "/grants/field-guide", "/available?media=print.book&territories=GB&works=" + picture}},
	} {
		t.Run(of.role, func(t *testing.T) {
			t.Parallel()
			p := browse(t, of.role)
			for _, page := range of.pages {
				p.goTo(page)
				p.accessible()
				p.size(360, 800)
				if wide := get[int](p, "document.documentElement.scrollWidth"); wide > 360 {
					t.Errorf("%s is %d pixels wide on a phone of 360", page, wide)
				}
				if broken := get[string](p, "Promise.all([...document.images].map(i => { i.loading = 'eager'; return i.decode().then(() => '', () => i.src); })).then(l => l.join(' ').trim())"); broken != "" {
					t.Errorf("%s shows pictures that aren't to be had: %s", page, broken)
				}
				if hidden := get[string](p, "[...document.querySelectorAll('main label')].filter(l => !l.closest('details, [hidden]') && l.offsetParent === null).map(l => l.innerText).join(', ')"); hidden != "" {
					t.Errorf("%s hides on a phone: %s", page, hidden)
				}
				if os.Getenv("SHOTS") != "" { // to be looked at
					name := strings.Trim(strings.NewReplacer("/", "-", "?", "-").Replace(page), "-")
					name = name[:min(len(name), 24)]
					p.shot(name + "-phone")
					p.size(1280, 900)
					p.shot(name + "-light")
					p.media("screen", "dark")
					p.shot(name + "-dark")
					p.media("print", "light")
					p.shot(name + "-print")
					p.media("screen", "light")
				}
				p.size(1280, 900)
			}
		})
	}
}

// TestChoosingOnThePlan leaves out the picture that a plan uses for a structure, and takes that back.
func TestChoosingOnThePlan(t *testing.T) {
	t.Parallel()
	p := browse(t, "assistant")
	p.goTo("/briefs/b-02/plan")
	p.wait("document.querySelector('.composite svg image')")
	taken := get[string](p, "document.querySelector('#part-opercle').closest('section').querySelector('.taken h3 + p').innerText")
	p.click("#part-opercle ~ .candidates .taken button[value='leave out']")
	p.says("#part-opercle ~ .leftout", "Left out by hand")
	if now := get[string](p, "document.querySelector('#part-opercle').closest('section').querySelector('.taken h3 + p')?.innerText ?? ''"); now == taken {
		t.Errorf("still used after it was left out: %s", now)
	}
	b, err := studio(t).owner.Commission.GetBrief(t.Context(), &pb.GetBriefRequest{Name: "briefs/b-02"})
	if err != nil || len(b.GetChoices()) != 1 || !b.GetChoices()[0].GetLeftOut() {
		t.Errorf("the brief says %v, %v", b.GetChoices(), err)
	}
	p.click("#part-opercle ~ .leftout button[value='undo']")
	p.wait("[...document.querySelectorAll('#part-opercle ~ .candidates .taken h3 + p')].some(e => e.innerText == " + inScript(taken) + ")")
}

// TestABriefIsWritten fills in the form of a brief, with the usual checklist and one mistake.
func TestABriefIsWritten(t *testing.T) {
	t.Parallel()
	p := browse(t, "assistant")
	p.goTo("/briefs/new")
	for field, text := range map[string]string{"#title": "Wreckfish of the deep", "#taxon": "Serranus cabrilla", "#printed": "a span", "#media": "print.book", "#territories": "GB"} {
		p.run(chromedp.SendKeys(chromedp.CSS(field), text))
	}
	p.click("button[value=checklist]")
	p.wait("[...document.querySelectorAll('input[name=structure]')].some(i => i.value == 'opercle')")
	p.click("main button[value=keep]:not(.first)")
	p.says("#printed-wrong", "want millimeters")
	if v := get[string](p, "document.querySelector('#title').value"); v != "Wreckfish of the deep" {
		t.Errorf("the title typed became %q", v)
	}
	p.accessible()
	p.run(chromedp.SetValue(chromedp.CSS("#printed"), "180"))
	p.click("main button[value=keep]:not(.first)")
	p.says("main h1", "Wreckfish of the deep")
	p.says(".told", "printed 180 mm TL")
}

// TestAvailabilityIsAnswered asks a publisher's question, and sees nobody named.
func TestAvailabilityIsAnswered(t *testing.T) {
	t.Parallel()
	p := browse(t, "publisher")
	p.goTo("/available")
	for field, text := range map[string]string{"#works": studio(t).names["P-007"], "#media": "print.book", "#territories": "GB", "#from": "2027", "#to": "2028"} {
		p.run(chromedp.SendKeys(chromedp.CSS(field), text))
	}
	p.submit("main form")
	p.wait("document.querySelector('.answer')")
	if text := p.text("main"); strings.Contains(text, "Northmere") || !strings.Contains(text, "the signed agreement governs") {
		t.Errorf("answered %s", text)
	}
	for _, staff := range []string{"/briefs", "/parties", "/import", "/grants/new"} {
		if get[int](p, "document.querySelectorAll('a[href=\""+staff+"\"]').length") > 0 {
			t.Errorf("a publisher is shown the way to %s", staff)
		}
		p.goTo(staff)
		if text := p.text("main h1"); text != "No such page" && text != "Not open to this key" {
			t.Errorf("%s shows a publisher %q", staff, text)
		}
		p.goTo("/available")
	}
}

// TestBringingIn drops a scan without a manifest, settles what was doubtful, and finds the picture in the archive.
func TestBringingIn(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if _, err := demo.WriteScans(t.Context(), dir, demo.ScanOptions{PPIFactor: 0.2, Keep: func(w demo.Work) bool { return w.Key == "P-001" }}); err != nil {
		t.Fatal(err)
	}
	var scan string
	if err := filepath.Walk(filepath.Join(dir, "plates"), func(path string, info os.FileInfo, err error) error {
		if err == nil && info.Mode().IsRegular() {
			scan = path
		}
		return err
	}); err != nil || scan == "" {
		t.Fatal(scan, err)
	}
	p := browse(t, "assistant")
	p.goTo("/import")
	p.run(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{scan}))
	p.submit("#bring")
	p.says("main h2", "As drafted")
	p.accessible()
	if os.Getenv("SHOTS") != "" {
		p.shot("drafted")
	}
	get[bool](p, "(document.querySelector('#rightall').checked = true, document.querySelector('[name=species1]').value = 'Serranus cabrilla', document.querySelector('[name=title1]').value = 'Dropped on the page', true)")
	p.click("button[value=settle]")
	p.wait("document.querySelector('[name=title1]')?.defaultValue == 'Dropped on the page'") // it is looked through again
	p.says("main", "1 would be created")
	p.click("button[value=run]")
	p.says("main h2", "Brought in")
	p.says("main", "1 created")
	p.accessible()
	name := get[string](p, "document.querySelector('main td a').getAttribute('href')")
	got, err := studio(t).owner.Archive.GetPicture(t.Context(), &pb.GetPictureRequest{Name: strings.TrimPrefix(name, "/")})
	if err != nil || got.GetTitle() != "Dropped on the page" || got.GetOriginal().GetSha256() == "" {
		t.Errorf("in the archive: %v, %v", got, err)
	}
	p.click("button[value=close]")
	p.wait("document.querySelector('#bring')")
}
