package main

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	pb "platarium/proto/platarium/v1"
)

// viewer is the page's viewer, for expressions.
const viewer = "document.querySelector('figure[data-viewer]').viewer"

// clickScan clicks at a place of the scan, wherever it is in the window.
func (p *tab) clickScan(x, y float64) {
	p.t.Helper()
	at := get[[]float64](p, fmt.Sprintf(`(() => { const v = %s, r = v.window.getBoundingClientRect(), w = v.toWindow({x: %v, y: %v}); return [r.left + v.window.clientLeft + w.x, r.top + v.window.clientTop + w.y]; })()`, viewer, x, y))
	p.run(chromedp.MouseClickXY(at[0], at[1]))
}

// bringCloser shows the scan's own pixels around a place, and waits for its tiles.
func (p *tab) bringCloser(x, y float64) {
	p.t.Helper()
	p.wait(viewer + "?.box")
	get[bool](p, fmt.Sprintf("(%s.window.scrollIntoView({block: 'center'}), %[1]s.own(), %[1]s.middle(%v, %v), true)", viewer, x, y))
	p.wait(viewer + ".settled && " + viewer + ".scale === 1")
}

func (s *studioSite) picture(t *testing.T, work string) *pb.Picture {
	t.Helper()
	pic, err := s.owner.Archive.GetPicture(t.Context(), &pb.GetPictureRequest{Name: s.names[work]})
	if err != nil {
		t.Fatal(err)
	}
	return pic
}

// TestPicturePage looks at a plate as staff and as a publisher.
func TestPicturePage(t *testing.T) {
	st := studio(t)
	plate := st.names["P-007"]
	p := browse(t, "assistant")
	p.goTo("/" + plate)
	p.says("h1", "Serranus subligarius")
	for _, want := range []string{"D X,12", "agrees", "HL is", "A pixel is", "Made from it", "Sea basses at a glance", "print.book.fieldguide", "The original", "IIIF manifest"} {
		p.says("main", want)
	}
	if n := get[int](p, "document.querySelectorAll('.timeline .term').length"); n != 2 {
		t.Errorf("the history is drawn with %d bars; want those of 2 grants", n)
	}
	if n := get[int](p, "document.querySelectorAll('.timeline .shut').length"); n != 1 {
		t.Errorf("%d bars are hatched; want the exclusive one", n)
	}
	p.accessible()
	p.wait(viewer + ".scale > 0.2") // the whole picture fits the window
	p.shot("page")
	outline := ".buttons button[aria-pressed]"
	p.wait(viewer + ".box")
	p.click(outline)
	p.wait("document.querySelectorAll('.overlay .part').length == " + fmt.Sprint(len(st.picture(t, "P-007").GetStructures())))
	p.says(".overlay .name", "opercle")
	p.accessible()
	p.click(outline)
	p.wait("document.querySelectorAll('.overlay .part').length == 0")
	visitor := browse(t, "publisher")
	visitor.goTo("/" + plate)
	visitor.says("main", "Licensing history")
	text := visitor.text("main")
	for _, secret := range []string{"Count, measure", "Add to a brief", "The original", "Specimen", "Northmere", "Who changed"} {
		if strings.Contains(text, secret) {
			t.Errorf("a publisher reads %q", secret)
		}
	}
	visitor.accessible()
	visitor.wait(viewer + "?.box")
	for _, hidden := range []string{"/" + plate + "/annotate", "/" + st.names["S-061"], "/pictures/none-such"} {
		visitor.goTo(hidden)
		visitor.says("h1", map[bool]string{true: "No such page", false: "Nothing there"}[strings.HasSuffix(hidden, "annotate")])
	}
}

// TestOwnPixels zooms to the scan's own pixels and compares what is on the screen with the original's tile.
func TestOwnPixels(t *testing.T) {
	st := studio(t)
	o := st.picture(t, "P-007").GetOriginal()
	p := browse(t, "assistant")
	p.goTo("/" + st.names["P-007"])
	x, y := float64(o.GetWidth())*0.2, float64(o.GetHeight())*0.45
	p.bringCloser(x, y)
	p.says(".zoom", "100 % of the scan")
	tiles := get[int](p, viewer+".tiles.size")
	if tiles == 0 {
		t.Fatal("no tile was asked for")
	}
	// Every pixel of the window's middle is that of the image service's own cut, which JPEG blurs by a little.
	worst := get[float64](p, fmt.Sprintf(`(async () => {
		const v = %s, n = 64, x = Math.round(%v), y = Math.round(%v);
		const image = new Image();
		image.src = v.base + "/" + x + "," + y + "," + n + "," + n + "/max/0/default.png";
		await image.decode();
		const own = new OffscreenCanvas(n, n).getContext("2d");
		own.drawImage(image, 0, 0);
		const w = v.toWindow({x, y}), want = own.getImageData(0, 0, n, n).data, got = v.canvas.getContext("2d").getImageData(w.x, w.y, n, n).data;
		let sum = 0;
		for (let i = 0; i < want.length; i++) sum += Math.abs(want[i] - got[i]);
		return sum / want.length;
	})()`, viewer, x, y))
	if worst > 8 { // of 255: a shift by one pixel in line art gives far more
		t.Errorf("the window differs from the scan's own pixels by %.1f on the average", worst)
	}
	p.run(chromedp.Focus(chromedp.CSS(".window")), chromedp.KeyEvent("-"))
	p.wait(viewer + ".scale < 1")
	p.run(chromedp.KeyEvent("0"))
	p.wait(viewer + ".fitted")
	p.run(chromedp.KeyEvent("1"))
	p.wait(viewer + ".scale === 1")
	before := get[float64](p, viewer+".x")
	mouse := get[[]float64](p, "(r => [r.left + 300, r.top + 200])("+viewer+".window.getBoundingClientRect())")
	p.run(chromedp.MouseEvent(input.DispatchMouseEventTypeMousePressed, mouse[0], mouse[1], chromedp.ButtonLeft), chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, mouse[0]+60, mouse[1], chromedp.ButtonLeft),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, mouse[0]+60, mouse[1], chromedp.ButtonLeft))
	if moved := get[float64](p, viewer+".x") - before; math.Abs(moved-60) > 0.5 {
		t.Errorf("dragging by 60 pixels moved the picture by %v", moved)
	}
}

// TestCountingAFin counts the spines of a dorsal fin by clicks, by keys and by mending, and finds the count saved.
func TestCountingAFin(t *testing.T) {
	st := studio(t)
	const work = "S-053" // no other test looks at its marks
	before := st.picture(t, work)
	o := before.GetOriginal()
	p := browse(t, "assistant")
	p.goTo("/" + before.GetName() + "/annotate")
	p.wait(viewer + "?.box && !document.querySelector('.hand').hidden")
	p.accessible()
	p.run(chromedp.SetValue(chromedp.CSS("#fin"), "second dorsal fin"))
	get[bool](p, "(document.querySelector('#fin').dispatchEvent(new Event('change', {bubbles: true})), true)")
	x0, y0 := math.Round(float64(o.GetWidth())*0.4), math.Round(float64(o.GetHeight())*0.3)
	p.bringCloser(x0+60, y0)
	var want [][2]float64
	for i := range 5 {
		x, y := x0+float64(30*i), y0+float64(3*i)
		want = append(want, [2]float64{x, y})
		p.clickScan(x, y)
	}
	p.says("#tally", "second dorsal fin: 5 spines, 0 rays")
	p.click("#undo")
	p.says("#tally", "4 spines")
	p.clickScan(want[4][0], want[4][1])
	// One that was forgotten, between the second and the third.
	p.clickScan(want[1][0], want[1][1])
	p.clickScan(want[1][0]+14, want[1][1]+2)
	want = append(want[:2:2], append([][2]float64{{want[1][0] + 14, want[1][1] + 2}}, want[2:]...)...)
	p.says("#tally", "6 spines")
	// The fourth is moved by keys, a pixel of the scan at a time.
	get[bool](p, "(document.querySelectorAll('#marks button')[3].click(), true)")
	p.wait("document.activeElement.closest('.mark')")
	for range 3 {
		p.run(chromedp.KeyEvent(kb.ArrowRight))
	}
	want[3][0] += 3
	p.says("#new-formula", "D2 VI")
	p.accessible()
	p.shot("marks")
	p.click("button[value=save]")
	p.says("[role=status]", "Saved")
	after := st.picture(t, work)
	bases := map[string]*pb.Landmark{}
	for _, m := range after.GetLandmarks() {
		bases[m.GetLandmark()] = m
	}
	for i, at := range want {
		m := bases[fmt.Sprintf("second dorsal fin spine base %d", i+1)]
		if m == nil {
			t.Fatalf("base %d isn't stored", i+1)
		}
		dx, dy := m.GetX()*float64(o.GetWidth())-at[0], m.GetY()*float64(o.GetHeight())-at[1]
		if math.Abs(dx) > 0.5 || math.Abs(dy) > 0.5 {
			t.Errorf("base %d was clicked at %v and stands %.2f, %.2f pixels off", i+1, at, dx, dy)
		}
	}
	if f := after.GetCounts().GetFormula(); !strings.Contains(f, "D2 VI") {
		t.Errorf("the formula is %q; want the six spines in it", f)
	}
	for _, m := range before.GetLandmarks() {
		if got := bases[m.GetLandmark()]; got.GetX() != m.GetX() || got.GetY() != m.GetY() {
			t.Errorf("%s was not touched, and moved from %v to %v", m.GetLandmark(), m, got)
		}
	}
	p.goTo("/" + before.GetName())
	p.says("main", "D2 VI")
}

// TestMarkingByKeys places a landmark without a mouse, and draws a structure and a scale.
func TestMarkingByKeys(t *testing.T) {
	st := studio(t)
	const work = "S-019"
	pic := st.picture(t, work)
	p := browse(t, "owner")
	p.goTo("/" + pic.GetName() + "/annotate")
	p.wait(viewer + "?.box && !document.querySelector('.hand').hidden")
	p.click("input[value=landmark]")
	get[bool](p, "(document.querySelector('#landmark').value = 'tip of the barbel', true)")
	x, y := float64(pic.GetOriginal().GetWidth())/2, float64(pic.GetOriginal().GetHeight())/2
	p.bringCloser(x, y)
	p.run(chromedp.Focus(chromedp.CSS(".window")), chromedp.KeyEvent("\r"))
	p.says("#said", "tip of the barbel stands at")
	p.click("input[value=part]")
	get[bool](p, "(document.querySelector('#part').value = 'barbel', true)")
	corner := get[[]float64](p, fmt.Sprintf(`(() => { const v = %s, r = v.window.getBoundingClientRect(), w = v.toWindow({x: %v, y: %v}); return [r.left + 1 + w.x, r.top + 1 + w.y]; })()`, viewer, x, y))
	p.run(chromedp.DragAndDropXY(corner[0], corner[1], corner[0]+80, corner[1]+40))
	p.says("#said", "barbel is outlined")
	p.click("button[value=save]")
	p.says("[role=status]", "Saved")
	after := st.picture(t, work)
	found := false
	for _, m := range after.GetLandmarks() {
		if m.GetLandmark() == "tip of the barbel" {
			found = math.Abs(m.GetX()*2*x-x) <= 0.5 && math.Abs(m.GetY()*2*y-y) <= 0.5
		}
	}
	if !found {
		t.Errorf("the landmark isn't where Enter set it: %v", after.GetLandmarks())
	}
	last := after.GetStructures()[len(after.GetStructures())-1]
	r := last.GetRegion()
	if last.GetStructure() != "barbel" || math.Abs(r.GetWidth()*2*x-80) > 1 || math.Abs(r.GetHeight()*2*y-40) > 1 {
		t.Errorf("the structure drawn is %v; want 80 by 40 pixels", last)
	}
}

// TestMarkingOverTheEndOfASession: whoever is signed out while marking signs in again elsewhere, and saves what is on the page.
func TestMarkingOverTheEndOfASession(t *testing.T) {
	st := studio(t)
	const work = "S-058"
	pic := st.picture(t, work)
	p := browse(t, "assistant")
	p.goTo("/" + pic.GetName() + "/annotate")
	p.wait(viewer + "?.box && !document.querySelector('.hand').hidden")
	p.click("input[value=landmark]")
	get[bool](p, "(document.querySelector('#landmark').value = 'over the end', true)")
	x, y := float64(pic.GetOriginal().GetWidth())/2, float64(pic.GetOriginal().GetHeight())/2
	p.bringCloser(x, y)
	p.clickScan(x, y)
	get[int](p, "fetch('/signout', {method: 'POST', headers: {'X-Platarium-Token': document.body.dataset.token}}).then(r => r.status)")
	p.click("button[value=save]")
	p.says("#said", "sign in again in another tab")
	get[int](p, "fetch('/signin', {method: 'POST', body: new URLSearchParams({key: "+inScript(st.keys["assistant"])+"})}).then(r => r.status)")
	p.click("button[value=save]")
	p.says("[role=status]", "Saved")
	marks := st.picture(t, work).GetLandmarks()
	if len(marks) != len(pic.GetLandmarks())+1 || marks[len(marks)-1].GetLandmark() != "over the end" {
		t.Errorf("stored are %v", marks)
	}
}

// TestMarkingTogether lets two people mark one picture: the one who comes second loses nothing.
func TestMarkingTogether(t *testing.T) {
	st := studio(t)
	const work = "P-010"
	pic := st.picture(t, work)
	p := browse(t, "assistant")
	p.goTo("/" + pic.GetName() + "/annotate")
	p.wait(viewer + "?.box && !document.querySelector('.hand').hidden")
	pic.Landmarks = append(pic.Landmarks, &pb.Landmark{Landmark: "from the other desk", X: 0.25, Y: 0.5})
	updatePicture(t.Context(), t, st, pic, "landmarks")
	p.click("input[value=landmark]")
	get[bool](p, "(document.querySelector('#landmark').value = 'from this desk', true)")
	p.bringCloser(float64(pic.GetOriginal().GetWidth())/2, float64(pic.GetOriginal().GetHeight())/2)
	p.clickScan(float64(pic.GetOriginal().GetWidth())/2, float64(pic.GetOriginal().GetHeight())/2)
	p.click("button[value=save]")
	p.says(".stale", "Somebody else changed this picture")
	if text := get[string](p, "document.querySelector('#landmarks').value"); !strings.Contains(text, "from this desk") {
		t.Error("the marks of this desk are gone from the page")
	}
	p.accessible()
	p.click("button[value=merge]")
	p.says("[role=status]", "Saved")
	names := map[string]bool{}
	for _, m := range st.picture(t, work).GetLandmarks() {
		names[m.GetLandmark()] = true
	}
	if !names["from this desk"] || !names["from the other desk"] || len(names) != len(pic.GetLandmarks())+1 {
		t.Errorf("after both saved there are %v", names)
	}
}

func updatePicture(ctx context.Context, t *testing.T, st *studioSite, pic *pb.Picture, field string) {
	t.Helper()
	if _, err := st.owner.Archive.UpdatePicture(ctx, &pb.UpdatePictureRequest{Picture: pic, UpdateMask: maskOf(field)}); err != nil {
		t.Fatal(err)
	}
}
