package iiif

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// apiVersion is 2 or 3: which version of the Image API a request speaks.
type apiVersion int

// Bounds of a result, as info.json tells them (maxWidth, maxHeight, maxArea).
const (
	maxEdge = 10_000
	maxArea = 16_000_000
)

// region is a part of a picture in whole pixels.
type region struct{ x, y, width, height int }

// request is an image request with its words resolved against a picture.
type request struct {
	version apiVersion
	region  region
	whole   bool // the region is the whole picture
	width   int  // of the result before it is turned, pixels
	height  int
	most    bool // the size is the largest that the region has within the bounds
	beyond  bool // the size is the largest that the region can be enlarged to within the bounds
	mirror  bool
	degrees int
	quality string // default, color, gray or bitonal
	format  string // jpg or png
}

// parse reads region, size, rotation and quality.format (Image API 3.0, section 4; 2.1, section 4) for a picture of w by h pixels.
func parse(version apiVersion, w, h int, parts []string) (req request, err error) {
	req.version = version
	if req.region, err = parseRegion(parts[0], w, h); err != nil {
		return req, err
	}
	req.whole = req.region == region{0, 0, w, h}
	if err = req.parseSize(parts[1]); err != nil {
		return req, err
	}
	if err = req.parseRotation(parts[2]); err != nil {
		return req, err
	}
	return req, req.parseQuality(parts[3])
}

func parseRegion(s string, w, h int) (region, error) {
	switch s {
	case "full":
		return region{0, 0, w, h}, nil
	case "square":
		edge := min(w, h)
		return region{(w - edge) / 2, (h - edge) / 2, edge, edge}, nil
	}
	words, percent := strings.CutPrefix(s, "pct:")
	parts := strings.Split(words, ",")
	if len(parts) != 4 {
		return region{}, badRequest("region %q: want full, square, x,y,w,h or pct:x,y,w,h", s)
	}
	var n [4]int
	for i, p := range parts {
		v, err := number(p, percent)
		if err != nil {
			return region{}, badRequest("region %q: %v", s, err)
		}
		if percent {
			v = math.Round(v * float64([]int{w, h}[i%2]) / 100)
			if i >= 2 && v == 0 && strings.Trim(p, "0.") != "" {
				v = 1 // less than a pixel, but something
			}
		}
		n[i] = int(min(v, math.MaxInt32))
	}
	r := region{n[0], n[1], min(n[2], w-n[0]), min(n[3], h-n[1])}
	if r.width <= 0 || r.height <= 0 {
		return region{}, badRequest("region %q holds no pixel of a picture of %d by %d", s, w, h)
	}
	return r, nil
}

// number reads a number without sign and exponent; a whole one unless fraction says otherwise.
func number(s string, fraction bool) (float64, error) {
	dots := 0
	for _, c := range s {
		if c == '.' {
			dots++
		} else if c < '0' || c > '9' {
			return 0, fmt.Errorf("%q isn't a number", s)
		}
	}
	if len(s) == 0 || len(s) > 20 || dots > 1 || dots == len(s) || dots > 0 && !fraction {
		return 0, fmt.Errorf("%q isn't a number that is wanted here", s)
	}
	return strconv.ParseFloat(s, 64)
}

// parseSize finds the size of the result. Version 3 enlarges only what is marked with a caret; version 2 has no mark and enlarges what a size asks for.
func (req *request) parseSize(s string) error {
	words, up := s, req.version == 2
	if rest, ok := strings.CutPrefix(s, "^"); ok && req.version == 3 {
		words, up = rest, true
	}
	r := req.region
	var err error
	switch {
	case words == "max" || words == "full" && req.version == 2:
		req.fit(maxEdge, maxEdge, up && req.version == 3)
	case strings.HasPrefix(words, "pct:"):
		var pct float64
		if pct, err = number(words[len("pct:"):], true); err == nil {
			req.width, req.height = scaled(r.width, pct/100), scaled(r.height, pct/100)
		}
	case strings.HasPrefix(words, "!"):
		var w, h int
		if w, h, err = pair(words[1:]); err == nil && w > 0 && h > 0 {
			// The text of version 3 would give the region at its own size where the box is larger; its validator wants a refusal, as for the other sizes.
			if !up && w > r.width && h > r.height {
				return tooLarge(s, r)
			}
			req.fit(w, h, up)
		}
	default:
		var w, h int
		if w, h, err = pair(words); err == nil {
			req.width, req.height = w, h
			switch {
			case w > 0 && h == 0 && strings.HasSuffix(words, ","):
				req.height = scaled(r.height, float64(w)/float64(r.width))
			case h > 0 && w == 0 && strings.HasPrefix(words, ","):
				req.width = scaled(r.width, float64(h)/float64(r.height))
			}
		}
	}
	switch {
	case err != nil:
		return badRequest("size %q: %v", s, err)
	case req.width <= 0 || req.height <= 0:
		return badRequest("size %q of a region of %d by %d pixels leaves nothing", s, r.width, r.height)
	case !up && (req.width > r.width || req.height > r.height):
		return tooLarge(s, r)
	case req.width > maxEdge || req.height > maxEdge || req.width*req.height > maxArea:
		return badRequest("size %q: %d by %d pixels; at most %d along an edge and %d in all are made", s, req.width, req.height, maxEdge, maxArea)
	}
	req.most, req.beyond = req.isLargest(false), req.isLargest(true)
	return nil
}

func tooLarge(s string, r region) error {
	return badRequest("size %q is larger than the region of %d by %d pixels: mark it with ^ to have it enlarged", s, r.width, r.height)
}

// fit takes the largest size of the region's proportions within the box and the bounds, and no larger than the region unless up.
func (req *request) fit(w, h int, up bool) {
	r := req.region
	scale := min(float64(w)/float64(r.width), float64(h)/float64(r.height), math.Sqrt(maxArea/(float64(r.width)*float64(r.height))),
		maxEdge/float64(r.width), maxEdge/float64(r.height))
	if !up {
		scale = min(scale, 1)
	}
	req.width, req.height = scaled(r.width, scale), scaled(r.height, scale)
	for req.width*req.height > maxArea { // by rounding up both
		req.width--
	}
}

// isLargest says whether the size is the largest of the region's proportions within the bounds.
func (req *request) isLargest(up bool) bool {
	largest := request{region: req.region}
	largest.fit(maxEdge, maxEdge, up)
	return req.width == largest.width && req.height == largest.height
}

// scaled is n times scale in whole pixels, at least one, and bounded so that products of two stay sound.
func scaled(n int, scale float64) int {
	if scale == 0 {
		return 0
	}
	return int(max(1, min(math.Round(float64(n)*scale), math.MaxInt32)))
}

// pair reads w,h of which one may be left out: it is 0 then.
func pair(s string) (w, h int, err error) {
	left, right, ok := strings.Cut(s, ",")
	if !ok || left == "" && right == "" {
		return 0, 0, fmt.Errorf("want max, w, or ,h or w,h or !w,h or pct:n")
	}
	for i, part := range []string{left, right} {
		if part == "" {
			continue
		}
		v, err := number(part, false)
		if err != nil {
			return 0, 0, err
		}
		if v == 0 {
			return 0, 0, fmt.Errorf("%q is no size", part)
		}
		*[]*int{&w, &h}[i] = int(min(v, math.MaxInt32))
	}
	return w, h, nil
}

// parseRotation reads a turn. Only quarters are made; Image API 3.0, section 4.3, answers others as it does errors.
func (req *request) parseRotation(s string) error {
	words, mirror := strings.CutPrefix(s, "!")
	v, err := number(words, true)
	if err != nil || v > 360 {
		return badRequest("rotation %q: want 0 to 360, with ! before it for a mirror image", s)
	}
	req.mirror, req.degrees = mirror, int(v)%360
	if v != math.Trunc(v) || req.degrees%90 != 0 {
		return badRequest("rotation %q: only turns by 0, 90, 180 and 270 degrees are made", s)
	}
	return nil
}

func (req *request) parseQuality(s string) error {
	quality, format, ok := strings.Cut(s, ".")
	if !ok {
		return badRequest("%q: want quality.format, such as default.jpg", s)
	}
	switch quality {
	case "default", "color", "gray", "bitonal":
		req.quality = quality
	default:
		return badRequest("quality %q: want default, color, gray or bitonal", quality)
	}
	switch format {
	case "jpg", "png":
		req.format = format
		return nil
	default:
		return badRequest("format %q: want jpg or png", format) // also for the standard's others (Image API 3.0, section 4.5)
	}
}

// canonical is the request in the form that the standard prefers (Image API 3.0, section 4.8; 2.1, section 4.7).
func (req *request) canonical(gray bool) string {
	r := req.region
	part := "full"
	if !req.whole {
		part = fmt.Sprintf("%d,%d,%d,%d", r.x, r.y, r.width, r.height)
	}
	size := fmt.Sprintf("%d,%d", req.width, req.height)
	switch {
	case req.version == 3 && req.most:
		size = "max"
	case req.version == 3 && req.beyond:
		size = "^max"
	case req.version == 3 && (req.width > r.width || req.height > r.height):
		size = "^" + size
	case req.version == 2 && req.width == r.width && req.height == r.height:
		size = "full"
	case req.version == 2 && req.height == scaled(r.height, float64(req.width)/float64(r.width)):
		size = fmt.Sprintf("%d,", req.width)
	}
	rotation := strconv.Itoa(req.degrees)
	if req.mirror {
		rotation = "!" + rotation
	}
	quality := req.quality
	if quality == "color" || quality == "gray" && gray {
		quality = "default"
	}
	return fmt.Sprintf("%s/%s/%s/%s.%s", part, size, rotation, quality, req.format)
}
