package iiif

import (
	"bufio"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"platarium/storage/imaging"
)

const (
	// Tiles have gone through JPEG once: a second time should add next to nothing.
	jpegQuality = 95
	// mostSource bounds the pixels of tiles laid together for one result. A reduction in both directions needs at most four times the result's.
	mostSource = 4 * maxArea
)

// image answers an image request.
func (v *visit) image(ctx context.Context, version apiVersion, id, service string, parts []string) error {
	s, err := v.subjectOf(ctx, id)
	if err != nil {
		return err
	}
	req, err := parse(version, s.width, s.height, parts)
	if err != nil {
		return err
	}
	canonical := req.canonical(s.gray)
	etag := fmt.Sprintf(`W/"%.32s-%s"`, s.mark, canonical)
	h := v.w.Header()
	link(h, service+"/"+strings.ReplaceAll(canonical, "^", "%5E"), `rel="canonical"`) // addresses hold no ^ (RFC 3986)
	link(h, profileURI(version), `rel="profile"`)
	h.Set("ETag", etag)
	if matches(v.r.Header.Get("If-None-Match"), etag) {
		v.w.WriteHeader(http.StatusNotModified)
		return nil
	}
	if s.full {
		return v.fromOriginal(ctx, s, req)
	}
	m, err := v.preview(ctx, s.pic, s.small)
	if err != nil {
		return err
	}
	return v.render(ctx, req, flatSource{m})
}

// matches says whether an If-None-Match header names a tag. Weak comparison, as RFC 9110 has it for this header.
func matches(header, etag string) bool {
	if strings.TrimSpace(header) == "*" {
		return true
	}
	return strings.Contains(header, strings.TrimPrefix(etag, "W/"))
}

// fromOriginal answers from tiles. While there are none, small images of the whole are made from the preview: lists of pictures need no pyramids.
func (v *visit) fromOriginal(ctx context.Context, s *subject, req request) error {
	if req.whole && !v.conf.Tiles.has(s.sum) {
		small, err := v.largestPreview(ctx, s.pic)
		if err == nil && int(small.GetWidth()) >= req.width && int(small.GetHeight()) >= req.height {
			m, err := v.preview(ctx, s.pic, small)
			if err != nil {
				return err
			}
			whole := m.Bounds()
			req.region = region{0, 0, whole.Dx(), whole.Dy()}
			return v.render(ctx, req, flatSource{m})
		}
	}
	p, err := v.conf.Tiles.get(ctx, s.sum, v.original(s.pic.GetName()))
	if err != nil {
		return err
	}
	defer p.release()
	if p.Width != s.width || p.Height != s.height {
		return fmt.Errorf("tiles of %d by %d pixels for a picture of %d by %d", p.Width, p.Height, s.width, s.height)
	}
	if file, ok := p.tile(req); ok {
		return v.sendTile(file)
	}
	return v.render(ctx, req, p)
}

// tile finds the file that is the answer already: viewers mostly ask for just that.
func (p *pyramid) tile(req request) (string, bool) {
	plain := req.quality == "default" || req.quality == "color" || req.quality == "gray" && p.Gray
	if req.format != "jpg" || !plain || req.mirror || req.degrees != 0 {
		return "", false
	}
	r := req.region
	for level := range p.Levels {
		span := p.Tile << level
		if r.x%span != 0 || r.y%span != 0 || r.width != min(span, p.Width-r.x) || r.height != min(span, p.Height-r.y) {
			continue
		}
		if req.width == halvedUp(r.width, level) && req.height == halvedUp(r.height, level) {
			return filepath.Join(p.dir, p.TileFile(level, r.x/span, r.y/span)), true
		}
	}
	return "", false
}

func halvedUp(n, times int) int { return (n + 1<<times - 1) >> times }

func (v *visit) sendTile(file string) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close() //nolint:errcheck // only read
	v.w.Header().Set("Content-Type", imaging.JPEG)
	_, _ = io.Copy(v.w, f) // a caller that is gone needs no answer
	return nil
}

// source gives pixels of a picture.
type source interface {
	// part gives pixels that hold a region at no less than the given scales if it can, with the region's place in them.
	part(ctx context.Context, r region, across, down float64) (m image.Image, x, y, w, h float64, err error)
	// cost is how many pixels part will hold.
	cost(r region, across, down float64) int64
}

// flatSource is a picture held whole.
type flatSource struct{ m image.Image }

func (f flatSource) part(_ context.Context, r region, _, _ float64) (image.Image, float64, float64, float64, float64, error) {
	return f.m, float64(r.x), float64(r.y), float64(r.width), float64(r.height), nil
}

func (f flatSource) cost(region, float64, float64) int64 {
	return int64(f.m.Bounds().Dx()) * int64(f.m.Bounds().Dy())
}

// level chooses the smallest level that still has the wanted scale, and what of it holds the region. Where a result is squeezed in one direction so much that this would be too many pixels, a smaller one serves.
func (p *pyramid) level(r region, across, down float64) (level int, box image.Rectangle) {
	for level = p.Levels - 1; level > 0; level-- {
		if scale := 1 / float64(int(1)<<level); scale >= across && scale >= down {
			break
		}
	}
	const margin = 2 // pixels around it that filters weigh
	for ; ; level++ {
		w, h := p.Size(level)
		box = image.Rect(r.x>>level-margin, r.y>>level-margin, halvedUp(r.x+r.width, level)+margin, halvedUp(r.y+r.height, level)+margin).Intersect(image.Rect(0, 0, w, h))
		if level == p.Levels-1 || int64(box.Dx())*int64(box.Dy()) <= mostSource {
			return level, box
		}
	}
}

func (p *pyramid) cost(r region, across, down float64) int64 {
	_, box := p.level(r, across, down)
	return int64(box.Dx()) * int64(box.Dy())
}

// part lays tiles together.
func (p *pyramid) part(ctx context.Context, r region, across, down float64) (image.Image, float64, float64, float64, float64, error) {
	level, box := p.level(r, across, down)
	out := draw.Image(image.NewRGBA(image.Rect(0, 0, box.Dx(), box.Dy())))
	if p.Gray {
		out = image.NewGray(out.Bounds())
	}
	for row := box.Min.Y / p.Tile; row*p.Tile < box.Max.Y; row++ {
		for column := box.Min.X / p.Tile; column*p.Tile < box.Max.X; column++ {
			if err := ctx.Err(); err != nil {
				return nil, 0, 0, 0, 0, err
			}
			tile, err := readTile(filepath.Join(p.dir, p.TileFile(level, column, row)))
			if err != nil {
				return nil, 0, 0, 0, 0, err
			}
			at := image.Pt(column*p.Tile-box.Min.X, row*p.Tile-box.Min.Y)
			draw.Draw(out, tile.Bounds().Add(at), tile, tile.Bounds().Min, draw.Src)
		}
	}
	scale := float64(int(1) << level)
	return out, float64(r.x)/scale - float64(box.Min.X), float64(r.y)/scale - float64(box.Min.Y), float64(r.width) / scale, float64(r.height) / scale, nil
}

func readTile(path string) (image.Image, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	m, err := jpeg.Decode(bufio.NewReader(f))
	if err != nil {
		return nil, fmt.Errorf("read tile %s: %w", path, err)
	}
	return m, nil
}

// render makes the result and sends it.
func (v *visit) render(ctx context.Context, req request, from source) error {
	r := req.region
	across, down := float64(req.width)/float64(r.width), float64(req.height)/float64(r.height)
	cost := min(from.cost(r, across, down)+int64(req.width)*int64(req.height), pixelsAtOnce)
	if err := v.pixels.Acquire(ctx, cost); err != nil {
		return err
	}
	defer v.pixels.Release(cost)
	m, x, y, w, h, err := from.part(ctx, r, across, down)
	if err != nil {
		return err
	}
	if m, err = imaging.Sample(ctx, m, x, y, w, h, req.width, req.height); err != nil {
		return err
	}
	m = imaging.Turn(m, req.mirror, req.degrees)
	switch req.quality {
	case "gray":
		m = imaging.Lightness(m)
	case "bitonal":
		m = bitonal(imaging.Lightness(m))
	}
	return v.send(m, req.format)
}

// bitonal makes light pixels white and others black.
func bitonal(m image.Image) image.Image {
	out := image.NewPaletted(m.Bounds(), color.Palette{color.Black, color.White})
	gray, ok := m.(*image.Gray)
	if !ok {
		return m
	}
	for i, y := range gray.Pix {
		out.Pix[i] = y >> 7
	}
	return out
}

func (v *visit) send(m image.Image, format string) error {
	h := v.w.Header()
	if format == "png" {
		h.Set("Content-Type", imaging.PNG)
		_ = (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(v.w, m) // a caller that is gone needs no answer
		return nil
	}
	h.Set("Content-Type", imaging.JPEG)
	if p, ok := m.(*image.Paletted); ok { // of two tones
		gray := image.NewGray(p.Bounds())
		draw.Draw(gray, gray.Bounds(), p, image.Point{}, draw.Src)
		m = gray
	}
	_ = jpeg.Encode(v.w, m, &jpeg.Options{Quality: jpegQuality})
	return nil
}

func profileURI(version apiVersion) string {
	return fmt.Sprintf("http://iiif.io/api/image/%d/level2.json", version)
}

// scales are the halvings of a picture down to one tile.
func scales(w, h, tile int) []int {
	out := []int{1}
	for n := 1; halvedUp(max(w, h), int(math.Log2(float64(n)))) > tile; {
		n *= 2
		out = append(out, n)
	}
	return out
}
