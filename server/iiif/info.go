package iiif

import (
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"
)

// info answers info.json, and has the tiles made that will be asked for next.
func (v *visit) info(ctx context.Context, version apiVersion, id, service string) error {
	s, err := v.subjectOf(ctx, id)
	if err != nil {
		return err
	}
	if s.full && !v.conf.Tiles.has(s.sum) {
		// What can't be decoded has no image service; previews have found that out.
		if _, err := v.largestPreview(ctx, s.pic); err != nil {
			return err
		}
		_ = v.conf.Tiles.begin(ctx, s.sum, v.original(s.pic.GetName())) // the requests that follow wait for it
	}
	body := s.info3(service)
	if version == 2 {
		body = s.info2(service)
	}
	link(v.w.Header(), profileURI(version), `rel="profile"`)
	return v.sendJSON(body, fmt.Sprintf("http://iiif.io/api/image/%d/context.json", version), version)
}

// link adds to the Link header. All links stand on one line: there are clients that read the first of several, or the last.
func link(h http.Header, uri, parameters string) {
	text := "<" + uri + ">;" + parameters
	if before := h.Get("Link"); before != "" {
		text = before + ", " + text
	}
	h.Set("Link", text)
}

// tileEdge is the edge of tiles that are at hand.
const tileEdge = 512

func (s *subject) sizes() []map[string]int {
	var out []map[string]int
	factors := scales(s.width, s.height, tileEdge)
	for i := len(factors) - 1; i >= 0; i-- {
		w, h := (s.width+factors[i]-1)/factors[i], (s.height+factors[i]-1)/factors[i]
		if w <= maxEdge && h <= maxEdge && w*h <= maxArea {
			out = append(out, map[string]int{"width": w, "height": h})
		}
	}
	return out
}

func (s *subject) tiles() []map[string]any {
	return []map[string]any{{"width": tileEdge, "scaleFactors": scales(s.width, s.height, tileEdge)}}
}

func (s *subject) qualities() []string {
	if s.gray {
		return []string{"gray", "bitonal"}
	}
	return []string{"color", "gray", "bitonal"}
}

// info3 is info.json of Image API 3.0, section 5.
func (s *subject) info3(service string) map[string]any {
	body := map[string]any{
		"@context": "http://iiif.io/api/image/3/context.json", "id": service, "type": "ImageService3", "protocol": "http://iiif.io/api/image", "profile": "level2",
		"width": s.width, "height": s.height, "maxWidth": maxEdge, "maxHeight": maxEdge, "maxArea": maxArea, "sizes": s.sizes(), "tiles": s.tiles(),
		"preferredFormats": []string{"jpg"}, "extraQualities": s.qualities(), // the profile has jpg and png already
		"extraFeatures": []string{"canonicalLinkHeader", "mirroring", "profileLinkHeader", "sizeUpscaling"},
	}
	if uri := rightsURI(s.pic.GetRightsStatement()); uri != "" {
		body["rights"] = uri
	}
	return body
}

// info2 is info.json of Image API 2.1, section 5.
func (s *subject) info2(service string) map[string]any {
	body := map[string]any{
		"@context": "http://iiif.io/api/image/2/context.json", "@id": service, "protocol": "http://iiif.io/api/image", "width": s.width, "height": s.height, "sizes": s.sizes(), "tiles": s.tiles(),
		"profile": []any{profileURI(2), map[string]any{
			"formats": []string{"jpg", "png"}, "qualities": append([]string{"default"}, s.qualities()...), "maxWidth": maxEdge, "maxHeight": maxEdge, "maxArea": maxArea,
			"supports": []string{"canonicalLinkHeader", "mirroring", "profileLinkHeader", "regionSquare", "sizeAboveFull"},
		}},
	}
	if uri := rightsURI(s.pic.GetRightsStatement()); uri != "" {
		body["license"] = uri
	}
	return body
}

// sendJSON answers as JSON-LD to those who ask for it, else as plain JSON with a link to its context. Who says nothing of what they accept get JSON-LD by the standards'
// third versions (Image API 3.0, section 5.1; Presentation API 3.0, section 6.3), plain JSON by the second (Image API 2.1, section 5.1).
func (v *visit) sendJSON(body any, context string, version apiVersion) error {
	b, err := json.Marshal(body)
	if err != nil {
		return err
	}
	h := v.w.Header()
	accepted := strings.Join(v.r.Header.Values("Accept"), ",")
	if strings.Contains(accepted, "application/ld+json") || accepted == "" && version == 3 {
		h.Set("Content-Type", `application/ld+json;profile="`+context+`"`)
	} else {
		h.Set("Content-Type", "application/json")
		link(h, context, `rel="http://www.w3.org/ns/json-ld#context";type="application/ld+json"`)
	}
	zipped := len(b) >= leastZipped && takesGzip(v.r)
	if zipped {
		h.Set("Content-Encoding", "gzip")
	}
	v.w.WriteHeader(http.StatusOK)
	if !zipped {
		_, _ = v.w.Write(b) // a caller that is gone needs no answer
		return nil
	}
	z := gzip.NewWriter(v.w)
	_, _ = z.Write(b)
	_ = z.Close()
	return nil
}

// leastZipped is the least size of a document in bytes that is sent compressed (Presentation API 3.0, section 6.3, wants that): smaller ones fill one packet anyway.
const leastZipped = 1400

func takesGzip(r *http.Request) bool {
	for coding := range strings.SplitSeq(strings.Join(r.Header.Values("Accept-Encoding"), ","), ",") {
		name, weight, _ := strings.Cut(coding, ";")
		if strings.EqualFold(strings.TrimSpace(name), "gzip") {
			q, err := strconv.ParseFloat(strings.TrimPrefix(strings.TrimSpace(weight), "q="), 64)
			return err != nil || q > 0
		}
	}
	return false
}

// rightsURI gives a rights statement in the form that IIIF wants: http, as both registries' own identifiers have it there, without the page names that people copy from the address bar.
// Empty for what is of neither registry.
func rightsURI(uri string) string {
	rest := strings.TrimPrefix(strings.TrimPrefix(strings.TrimSpace(uri), "https://"), "http://")
	rest = strings.TrimPrefix(rest, "www.")
	host, path, ok := strings.Cut(rest, "/")
	parts := strings.Split(strings.Trim(path, "/"), "/")
	if !ok {
		return ""
	}
	switch strings.ToLower(host) {
	case "creativecommons.org":
		for len(parts) > 3 && (strings.HasPrefix(parts[len(parts)-1], "deed") || strings.HasPrefix(parts[len(parts)-1], "legalcode")) {
			parts = parts[:len(parts)-1]
		}
		if len(parts) < 3 || parts[0] != "licenses" && parts[0] != "publicdomain" {
			return ""
		}
	case "rightsstatements.org":
		if len(parts) != 3 || parts[0] != "vocab" && parts[0] != "page" {
			return ""
		}
		parts[0] = "vocab"
	default:
		return ""
	}
	return "http://" + strings.ToLower(host) + "/" + strings.Join(parts, "/") + "/"
}
