package iiif

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
)

// validatorID is the identifier that the standard's validator asks for by convention.
const validatorID = "67352ccc-d1b0-11e1-89ae-279075081939"

// The assertions of the standard's validator at level 2, on a picture of squares as it has one: sizes, and that each square is where it should be.
func testImagesOfSquares(t *testing.T, h *house) {
	for _, tt := range []struct {
		what, request string
		w, h          int
		// at says which square is seen in the middle of the result's part in column x and row y of n by n.
		n  int
		at func(x, y int) (int, int)
	}{
		{"whole", "full/max/0/default.jpg", 1000, 1000, 10, same},
		{"region of pixels", "300,200,200,100/max/0/default.png", 200, 100, 1, func(int, int) (int, int) { return -1, -1 }},
		{"one square", "713,413,74,74/max/0/default.jpg", 74, 74, 1, func(int, int) (int, int) { return 7, 4 }},
		{"region in percent", "pct:20,30,10,10/max/0/default.jpg", 100, 100, 1, func(int, int) (int, int) { return 2, 3 }},
		{"region over the edge", "900,900,500,500/max/0/default.jpg", 100, 100, 1, func(int, int) (int, int) { return 9, 9 }},
		{"square", "square/max/0/default.jpg", 1000, 1000, 10, same},
		{"w,", "full/500,/0/default.jpg", 500, 500, 10, same},
		{",h", "full/,333/0/default.jpg", 333, 333, 10, same},
		{"pct", "full/pct:50/0/default.jpg", 500, 500, 10, same},
		{"small pct", "full/pct:25/0/default.png", 250, 250, 10, same}, // in JPEG, squares of 25 pixels run into each other by halved color resolution
		{"w,h", "full/640,400/0/default.png", 640, 400, 10, same},
		{"!w,h", "full/!600,400/0/default.jpg", 400, 400, 10, same},
		{"^max", "100,150,100,1/^max/0/default.jpg", 10000, 100, 1, func(int, int) (int, int) { return 1, 1 }},
		{"^w,h", "500,500,500,500/^750,600/0/default.jpg", 750, 600, 5, func(x, y int) (int, int) { return x + 5, y + 5 }},
		{"^!w,h", "500,0,500,500/^!750,600/0/default.jpg", 600, 600, 5, func(x, y int) (int, int) { return x + 5, y }},
		{"^pct", "500,500,500,500/^pct:120/0/default.jpg", 600, 600, 5, func(x, y int) (int, int) { return x + 5, y + 5 }},
		{"region at a size", "400,600,100,100/57,57/0/default.jpg", 57, 57, 1, func(int, int) (int, int) { return 4, 6 }},
		{"turn by 90", "full/500,/90/default.jpg", 500, 500, 10, func(x, y int) (int, int) { return y, 9 - x }},
		{"turn by 180", "full/500,/180/default.jpg", 500, 500, 10, func(x, y int) (int, int) { return 9 - x, 9 - y }},
		{"turn by 270", "full/500,/270/default.jpg", 500, 500, 10, func(x, y int) (int, int) { return 9 - y, x }},
		{"mirror", "full/500,/!0/default.jpg", 500, 500, 10, func(x, y int) (int, int) { return 9 - x, y }},
		{"mirror, turn", "full/500,/!180/default.png", 500, 500, 10, func(x, y int) (int, int) { return x, 9 - y }},
		{"color", "full/600,/0/color.jpg", 600, 600, 10, same},
	} {
		m := h.picture(t, "desk", "/iiif/3/"+validatorID+"/"+tt.request)
		if m.Bounds().Dx() != tt.w || m.Bounds().Dy() != tt.h {
			t.Errorf("%s: %v, want %d by %d", tt.what, m.Bounds(), tt.w, tt.h)
			continue
		}
		for y := range tt.n {
			for x := range tt.n {
				sx, sy := tt.at(x, y)
				if sx < 0 {
					continue
				}
				if px, py := (2*x+1)*tt.w/(2*tt.n), (2*y+1)*tt.h/(2*tt.n); !near(m, px, py, squareColor(sx, sy)) {
					t.Errorf("%s: at %d,%d %v, want square %d,%d: %v", tt.what, px, py, color.RGBAModel.Convert(m.At(px, py)), sx, sy, squareColor(sx, sy))
				}
			}
		}
	}
	for _, q := range []string{"gray", "bitonal"} {
		m := h.picture(t, "desk", "/iiif/3/"+validatorID+"/full/400,/0/"+q+".png")
		tones := map[color.Color]int{}
		for y := range 400 {
			for x := range 400 {
				r, g, b, _ := m.At(x, y).RGBA()
				if r != g || g != b || q == "bitonal" && r != 0 && r != 0xffff {
					t.Fatalf("%s: %v at %d,%d", q, m.At(x, y), x, y)
				}
				tones[m.At(x, y)]++
			}
		}
		if len(tones) < 2 || q == "bitonal" && len(tones) != 2 {
			t.Errorf("%s: %d tones", q, len(tones))
		}
	}
	if a := h.get(t, "desk", "/iiif/3/"+strings.ReplaceAll(validatorID, "-", "%2D")+"/full/max/0/default.jpg"); a.status != http.StatusOK {
		t.Errorf("escaped identifier: %d", a.status)
	}
}

func same(x, y int) (int, int) { return x, y }

func testImageRefusals(t *testing.T, h *house) {
	for _, tt := range []struct {
		path string
		want int
	}{
		{"full/full/0/default.jpg", 400}, {"full/1100,1100/0/default.jpg", 400}, {"full/,1100/0/default.jpg", 400}, {"full/1100,/0/default.jpg", 400}, {"full/pct:200/0/default.jpg", 400},
		{"full/!2000,3000/0/default.jpg", 400}, {"full/^20000,1/0/default.jpg", 400}, {"full/^9000,9000/0/default.jpg", 400}, {"full/0,0/0/default.jpg", 400}, {"full/0,/0/default.jpg", 400}, {"full/,/0/default.jpg", 400},
		{"full/Xy9[\\Z/0/default.jpg", 400}, {"1000,0,10,10/max/0/default.jpg", 400}, {"0,0,0,10/max/0/default.jpg", 400}, {"-1,0,10,10/max/0/default.jpg", 400}, {"0,0,10/max/0/default.jpg", 400}, {"1.5,0,10,10/max/0/default.jpg", 400},
		{"pct:100,0,10,10/max/0/default.jpg", 400}, {"pct:1e1,0,10,10/max/0/default.jpg", 400}, {"kVb@/max/0/default.jpg", 400}, {"full/max/361/default.jpg", 400}, {"full/max/-90/default.jpg", 400}, {"full/max/a/default.jpg", 400},
		{"full/max/45/default.jpg", 400}, {"full/max/22.5/default.jpg", 400}, {"full/max/0/native.jpg", 400}, {"full/max/0/default.xyz", 400}, {"full/max/0/default.tif", 400}, {"full/max/0/default.webp", 400}, {"full/max/0/default", 400}, {"full/max/0", 404},
		{"full/max/0/default.jpg/more", 404}, {"info.xml", 404},
	} {
		if a := h.get(t, "desk", "/iiif/3/"+validatorID+"/"+tt.path); a.status != tt.want || a.header.Get("Link") != "" {
			t.Errorf("%s: %d with link %q, want %d: %s", tt.path, a.status, a.header.Get("Link"), tt.want, a.body)
		}
	}
	for path, want := range map[string]int{
		"/iiif/3/no-such-picture/full/max/0/default.jpg": 404, "/iiif/3/a/b/full/max/0/default.jpg": 404, "/iiif/3/[frob]/full/max/0/default.jpg": 404, "/iiif/3/a%2Fb/info.json": 404,
		"/iiif/3/..%2F..%2Fkeys/info.json": 404, "/iiif/4/" + validatorID + "/info.json": 404, "/iiif/": 404, "/iiif/pictures/nothing-there/manifest": 404,
	} {
		if a := h.get(t, "desk", path); a.status != want {
			t.Errorf("%s: %d, want %d", path, a.status, want)
		}
	}
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, h.web.URL+"/iiif/3/"+validatorID+"/info.json", nil)
	check(t, err)
	if a := do(t, req); a.status != http.StatusMethodNotAllowed {
		t.Errorf("POST: %d", a.status)
	}
}

// plasma is a picture with broad tones and edges, of any size.
func plasma(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			fx, fy := float64(x)/float64(w), float64(y)/float64(h)
			v := func(a float64) uint8 { return uint8(127 + 100*math.Sin(a)) }
			m.SetRGBA(x, y, color.RGBA{v(9*fx + 2*fy), v(7 * fy), v(11 * fx * fy), 255})
		}
	}
	return m
}

// The tiles that info.json announces, laid together as a viewer does, are the picture at each scale.
func testTilesMakeTheWhole(t *testing.T, h *house) {
	const w, hh = 1301, 523
	full := plasma(w, hh)
	h.hang(t, "tiled-plate", full, &pbPicture{})
	info := h.json(t, "desk", "/iiif/3/tiled-plate/info.json")
	tile := info["tiles"].([]any)[0].(map[string]any)
	edge := int(tile["width"].(float64))
	for _, f := range tile["scaleFactors"].([]any) {
		factor := int(f.(float64))
		lw, lh := (w+factor-1)/factor, (hh+factor-1)/factor
		whole := image.NewRGBA(image.Rect(0, 0, lw, lh))
		for y := 0; y < hh; y += edge * factor {
			for x := 0; x < w; x += edge * factor {
				rw, rh := min(edge*factor, w-x), min(edge*factor, hh-y)
				m := h.picture(t, "desk", fmt.Sprintf("/iiif/3/tiled-plate/%d,%d,%d,%d/%d,%d/0/default.jpg", x, y, rw, rh, (rw+factor-1)/factor, (rh+factor-1)/factor))
				at := image.Pt(x/factor, y/factor)
				draw.Draw(whole, m.Bounds().Add(at), m, m.Bounds().Min, draw.Src)
			}
		}
		for y := 3; y < lh-3; y += 17 {
			for x := 3; x < lw-3; x += 17 {
				want := full.RGBAAt(min(x*factor+factor/2, w-1), min(y*factor+factor/2, hh-1))
				if !near(whole, x, y, want) {
					t.Fatalf("scale 1/%d: at %d,%d %v, want about %v", factor, x, y, whole.At(x, y), want)
				}
			}
		}
		// What isn't a tile is made of several: a part across their edges agrees with them.
		part := h.picture(t, "desk", fmt.Sprintf("/iiif/3/tiled-plate/%d,%d,%d,%d/%d,%d/0/default.png", 400, 300, 240, 220, 240/factor, 220/factor))
		for _, p := range []image.Point{{10, 10}, {part.Bounds().Dx() / 2, part.Bounds().Dy() / 2}} {
			if want := full.RGBAAt(400+p.X*factor+factor/2, 300+p.Y*factor+factor/2); !near(part, p.X, p.Y, want) {
				t.Errorf("scale 1/%d: part at %v is %v, want about %v", factor, p, part.At(p.X, p.Y), want)
			}
		}
	}
}

func testInfo(t *testing.T, h *house) {
	path := "/iiif/3/" + validatorID
	a := h.get(t, "desk", path)
	if a.status != http.StatusSeeOther || a.header.Get("Location") != h.web.URL+path+"/info.json" {
		t.Errorf("base: %d to %q", a.status, a.header.Get("Location"))
	}
	info := h.json(t, "desk", path+"/info.json")
	for field, want := range map[string]any{
		"@context": "http://iiif.io/api/image/3/context.json", "id": h.web.URL + path, "type": "ImageService3", "protocol": "http://iiif.io/api/image", "profile": "level2", "width": 1000.0, "height": 1000.0,
		"rights": "http://creativecommons.org/licenses/by/4.0/",
	} {
		if info[field] != want {
			t.Errorf("%s is %v, want %v", field, info[field], want)
		}
	}
	if got := fmt.Sprint(info["sizes"], info["tiles"]); got != "[map[height:500 width:500] map[height:1000 width:1000]] [map[scaleFactors:[1 2] width:512]]" {
		t.Errorf("sizes and tiles: %s", got)
	}
	for _, s := range info["sizes"].([]any) { // each can be had
		size := s.(map[string]any)
		m := h.picture(t, "desk", fmt.Sprintf("%s/full/%v,%v/0/default.jpg", path, size["width"], size["height"]))
		if float64(m.Bounds().Dx()) != size["width"] {
			t.Errorf("size %v: %v", size, m.Bounds())
		}
	}
	old := h.json(t, "desk", "/iiif/2/"+validatorID+"/info.json")
	profile := old["profile"].([]any)
	if old["@id"] != h.web.URL+"/iiif/2/"+validatorID || old["@context"] != "http://iiif.io/api/image/2/context.json" || profile[0] != "http://iiif.io/api/image/2/level2.json" || old["license"] != info["rights"] {
		t.Errorf("version 2: %v", old)
	}
	if m := h.picture(t, "desk", "/iiif/2/"+validatorID+"/full/full/0/default.jpg"); m.Bounds().Dx() != 1000 {
		t.Errorf("version 2, full: %v", m.Bounds())
	}
	if m := h.picture(t, "desk", "/iiif/2/"+validatorID+"/full/,1200/0/default.jpg"); m.Bounds().Dx() != 1200 {
		t.Errorf("version 2, enlarged: %v", m.Bounds())
	}
	if info["extraFormats"] != nil { // for those that the profile hasn't (section 5.7)
		t.Errorf("extra formats: %v", info["extraFormats"])
	}
}

// Media types by Image API 3.0, section 5.1, Presentation API 3.0, section 6.3, and Image API 2.1, section 5.1: JSON-LD to who asks for it and, by the third versions, to who says nothing.
func testMediaTypes(t *testing.T, h *house) {
	for path, context := range map[string]string{
		"/iiif/3/" + validatorID + "/info.json": "image/3", "/iiif/pictures/" + validatorID + "/manifest": "presentation/3", "/iiif/2/" + validatorID + "/info.json": "image/2",
	} {
		context = "http://iiif.io/api/" + context + "/context.json"
		linked := `application/ld+json;profile="` + context + `"`
		unasked := linked
		if strings.HasPrefix(path, "/iiif/2/") {
			unasked = "application/json"
		}
		for accept, want := range map[string]string{
			"": unasked, "application/ld+json": linked, "text/html;q=0.5, " + linked: linked, "application/json": "application/json", "text/html,application/xml;q=0.9,*/*;q=0.8": "application/json",
		} {
			var headers []string
			if accept != "" {
				headers = []string{"Accept", accept}
			}
			a := h.get(t, "desk", path, headers...)
			if got := a.header.Get("Content-Type"); got != want {
				t.Errorf("%s to one who accepts %q: %q, want %q", path, accept, got, want)
			}
			if named := strings.Contains(a.header.Get("Link"), "<"+context+`>;rel="http://www.w3.org/ns/json-ld#context"`); named != (want == "application/json") {
				t.Errorf("%s to one who accepts %q: link %q", path, accept, a.header.Get("Link"))
			}
			if links := a.header.Values("Link"); len(links) > 1 {
				t.Errorf("%s: links on several lines: %q", path, links)
			}
		}
	}
}

func testHeaders(t *testing.T, h *house) {
	path := "/iiif/3/" + validatorID
	for request, canonical := range map[string]string{
		"full/max/0/default.jpg": "full/max/0/default.jpg", "pct:0,0,100,100/1000,/360/color.jpg": "full/max/0/default.jpg", "square/!500,600/!90.0/gray.png": "full/500,500/!90/gray.png",
		"0,0,100,100/^200,/0/default.jpg": "0,0,100,100/%5E200,200/0/default.jpg", "950,950,100,100/max/0/default.jpg": "950,950,50,50/max/0/default.jpg",
		"0,0,100,100/^!9000,4000/0/default.jpg": "0,0,100,100/%5Emax/0/default.jpg",
	} {
		a := h.get(t, "desk", path+"/"+request, "Origin", "http://viewer.example")
		if lines := a.header.Values("Link"); len(lines) != 1 { // readers that look at one line only find each
			t.Errorf("%s: links on %d lines", request, len(lines))
		}
		links := strings.Split(a.header.Get("Link"), ", ")
		if want := "<" + h.web.URL + path + "/" + canonical + `>;rel="canonical"`; !slices.Contains(links, want) {
			t.Errorf("%s: links %q, want %s", request, links, want)
		}
		if !slices.Contains(links, `<http://iiif.io/api/image/3/level2.json>;rel="profile"`) || a.header.Get("Access-Control-Allow-Origin") != "*" {
			t.Errorf("%s: %v", request, a.header)
		}
		again := h.get(t, "desk", path+"/"+request, "If-None-Match", a.header.Get("ETag"))
		if again.status != http.StatusNotModified || len(again.body) > 0 || a.header.Get("ETag") == "" {
			t.Errorf("%s: asked again with %q: %d", request, a.header.Get("ETag"), again.status)
		}
	}
	if other := h.get(t, "desk", path+"/full/9,/0/default.jpg", "If-None-Match", `"another"`); other.status != http.StatusOK {
		t.Errorf("with another tag: %d", other.status)
	}
	req, err := http.NewRequestWithContext(t.Context(), http.MethodOptions, h.web.URL+path+"/info.json", nil)
	check(t, err)
	if a := do(t, req); a.status != http.StatusNoContent || !strings.Contains(a.header.Get("Access-Control-Allow-Headers"), "Authorization") {
		t.Errorf("preflight: %d %v", a.status, a.header)
	}
}
