package sheet

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"

	"golang.org/x/sync/errgroup"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/imaging"
)

// Bounds of the crops in a PDF: finer than 600 ppi shows in no print, and so many pixels suffice for a poster.
const (
	sheetPPI    = 600
	sheetPixels = 40e6
	sheetJPEG   = 90 // quality
	atOnce      = 2  // pictures cut at the same time
)

// wanted is a cut of a piece: more than one piece may want the same.
type wanted struct {
	cut    imaging.Cut
	pieces []*piece
	name   string
}

// batch is all that is wanted of one picture.
type batch struct {
	picture *pb.Picture
	wants   []wanted
}

// batches groups pieces by picture, in their order, so that each original is read once. Pieces without pixels are passed over.
func batches(all []*piece, cut func(*piece) imaging.Cut) []*batch {
	var out []*batch
	of := map[string]*batch{}
	for _, p := range all {
		if p.part == (box{}) {
			continue
		}
		pic := p.candidate.GetPicture()
		b := of[pic.GetName()]
		if b == nil {
			b = &batch{picture: pic}
			of[pic.GetName()] = b
			out = append(out, b)
		}
		b.want(cut(p), p)
	}
	return out
}

func (b *batch) want(c imaging.Cut, p *piece) {
	for i := range b.wants {
		if b.wants[i].cut == c {
			b.wants[i].pieces = append(b.wants[i].pieces, p)
			return
		}
	}
	b.wants = append(b.wants, wanted{cut: c, pieces: []*piece{p}})
}

// cutAll makes all batches into files in dir and tells the pieces where they are, or why there are none.
func cutAll(ctx context.Context, cutter Cutter, dir string, all []*batch) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(atOnce)
	for n, b := range all {
		g.Go(func() error { return b.cut(ctx, cutter, dir, n) })
	}
	return g.Wait()
}

func (b *batch) cut(ctx context.Context, cutter Cutter, dir string, n int) error {
	cuts := make([]imaging.Cut, len(b.wants))
	for i := range b.wants {
		cuts[i] = b.wants[i].cut
		b.wants[i].name = filepath.Join(dir, fmt.Sprintf("cut-%d-%d%s", n, i, imaging.Extension(cuts[i].MediaType)))
	}
	var open *os.File
	closed := func() error {
		if open == nil {
			return nil
		}
		err := open.Close()
		open = nil
		return err
	}
	_, err := cutter.Cuts(ctx, b.picture, cuts, func(i int) (io.Writer, error) {
		if err := closed(); err != nil {
			return nil, err
		}
		f, err := os.Create(b.wants[i].name)
		if err != nil {
			return nil, err
		}
		open = f
		return f, nil
	})
	err = errors.Join(err, closed())
	var fault *imaging.Fault
	switch {
	case errors.As(err, &fault) && ctx.Err() == nil:
		b.tell(func(w wanted, p *piece) { p.lack = "its file can't be read here: " + fault.Wrong + "; " + fault.Right })
	case err != nil:
		return fmt.Errorf("cut %s: %w", b.picture.GetName(), err)
	default:
		b.tell(func(w wanted, p *piece) { p.file, p.kind = w.name, kindOf(w.cut.MediaType) })
	}
	return nil
}

func (b *batch) tell(what func(wanted, *piece)) {
	for _, w := range b.wants {
		for _, p := range w.pieces {
			what(w, p)
		}
	}
}

func kindOf(mediaType string) string {
	if mediaType == imaging.JPEG {
		return "jpg"
	}
	return "png"
}

// sheetCut is a piece shown at mm of paper to a pixel: at most 600 ppi, never more pixels than there are. Line art stays free of the blur that JPEG lays around lines.
func sheetCut(p *piece, mm float64) imaging.Cut {
	shrink := min(1, mm/mmPerInch*sheetPPI)
	if pixels := float64(p.part.width) * float64(p.part.height) * shrink * shrink; pixels > sheetPixels {
		shrink *= math.Sqrt(sheetPixels / pixels)
	}
	c := imaging.Cut{
		X: p.part.x, Y: p.part.y, Width: p.part.width, Height: p.part.height,
		OutWidth: shrunk(p.part.width, shrink), OutHeight: shrunk(p.part.height, shrink),
		Mirror: p.candidate.GetMirror(), Depth: 8, MediaType: imaging.JPEG, Quality: sheetJPEG, PPI: sheetPPI,
	}
	if p.candidate.GetPicture().GetOriginal().GetColorModel() == "bilevel" {
		c.MediaType, c.Quality = imaging.PNG, 0
	}
	return c
}

func shrunk(n int, by float64) int { return max(1, int(math.Round(float64(n)*by))) }
