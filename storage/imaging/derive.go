package imaging

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"image/png"
	"os"
)

// Preview is one small picture made from an original, oriented and laid on white.
type Preview struct {
	// Name is unique among the previews of one original and fit for an object key: "preview-1600.jpg".
	Name          string `json:"name"`
	Width, Height int    // pixels
	MediaType     string // JPEG for tone and color, PNG for line art
	Bytes         []byte
}

// Derived is all that is made from one original.
type Derived struct {
	// Previews are in falling order of size.
	Previews []Preview
	// PHash is the perceptual hash of the oriented picture; see Distance.
	PHash uint64
	// Decoder names the program that decoded the original, with its version.
	Decoder string
	// Warnings say what a viewer of the previews should know: approximate colors, further pages, doubtful headers.
	Warnings []string
}

// previewEdges are the longer edges of the previews in pixels, largest first; each is made from the one before.
var previewEdges = [...]int{1600, 320}

const previewQuality = 85 // of JPEG previews

// derive makes the previews of the file at path, with scratch files in dir. It runs in the child process.
func derive(ctx context.Context, path, dir string, lim Limits, vips vipsPrograms) (Derived, error) {
	f, h, useVips, err := openPicture(ctx, path, lim, vips)
	if err != nil {
		return Derived{}, err
	}
	defer f.Close() //nolint:errcheck // only read
	d := Derived{Warnings: h.Warnings}
	if h.Pages > 1 {
		d.Warnings = append(d.Warnings, fmt.Sprintf("the file has %d pages; the preview shows the first", h.Pages))
	}
	width, height := fit(int(h.Width), int(h.Height), previewEdges[0])
	var small image.Image
	if useVips {
		small, err = vips.reduce(ctx, path, dir, h, width, height, &d)
	} else {
		small, err = goReduce(ctx, f, h, width, height, &d)
	}
	if err != nil {
		return Derived{}, err
	}
	return d, d.finish(ctx, orient(small, h.Orientation), h)
}

// openPicture opens a file, reads its header and chooses the decoder. The caller closes the file.
func openPicture(ctx context.Context, path string, lim Limits, vips vipsPrograms) (f *os.File, h Header, useVips bool, err error) {
	if f, err = os.Open(path); err != nil {
		return nil, h, false, err
	}
	defer func() {
		if err != nil {
			_ = f.Close() // only read
		}
	}()
	st, err := f.Stat()
	if err != nil {
		return nil, h, false, err
	}
	if h, err = Probe(ctx, f, st.Size()); err != nil {
		return nil, h, false, err
	}
	useVips, refusal := choose(h, lim, vips.found())
	if refusal != nil {
		return nil, h, false, refusal
	}
	return f, h, useVips, nil
}

// finish makes all previews and the hash from the largest preview.
func (d *Derived) finish(ctx context.Context, m image.Image, h Header) error {
	for _, edge := range previewEdges {
		b := m.Bounds()
		var err error
		if w, hh := fit(b.Dx(), b.Dy(), edge); w != b.Dx() || hh != b.Dy() {
			if m, err = reduce(ctx, rasterOf(m, true), w, hh); err != nil {
				return err
			}
		}
		p, err := encode(m, edge, lineArt(h, m))
		if err != nil {
			return err
		}
		d.Previews = append(d.Previews, p)
	}
	hash, err := perceptualHash(m)
	d.PHash = hash
	return err
}

// lineArt says whether the picture has one bit of tone: its preview becomes gray PNG, in which fine lines stay clean. Line art scanned in gray
// can't be told from a drawing in tones by its header, and becomes JPEG.
func lineArt(h Header, m image.Image) bool {
	_, gray := m.(*image.Gray)
	return gray && (h.Model == Bilevel || h.Model == Palette && h.BitsPerSample == 1)
}

func encode(m image.Image, edge int, line bool) (Preview, error) {
	p := Preview{Width: m.Bounds().Dx(), Height: m.Bounds().Dy(), MediaType: JPEG}
	var buf bytes.Buffer
	var err error
	if line {
		p.MediaType = PNG
		err = png.Encode(&buf, m)
	} else {
		err = jpeg.Encode(&buf, m, &jpeg.Options{Quality: previewQuality})
	}
	if err != nil {
		return Preview{}, fmt.Errorf("encode preview of %d pixels: %w", edge, err)
	}
	p.Name = fmt.Sprintf("preview-%d%s", edge, Extension(p.MediaType))
	p.Bytes = buf.Bytes()
	return p, nil
}

// grayIfGray drops the color channels of a picture that has none, as decoders give for gray scans with a color profile.
func grayIfGray(m image.Image) image.Image {
	c, ok := m.(*image.RGBA)
	if !ok {
		return m
	}
	for p := c.Pix; len(p) >= 4; p = p[4:] {
		if p[0] != p[1] || p[1] != p[2] {
			return m
		}
	}
	g := image.NewGray(c.Bounds())
	draw.Draw(g, g.Bounds(), c, c.Bounds().Min, draw.Src)
	return g
}
